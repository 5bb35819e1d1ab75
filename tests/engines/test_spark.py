"""Spark: two cores give the rows that one machine gives, to the last bit, and a Python worker killed in mid-run loses
nothing.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pyarrow as pa
import pytest
from pyspark.sql import DataFrame, SparkSession

import pourline
from pourline import on_spark

Rows = list[dict[str, object]]
Sort = Callable[[pa.Table], Rows]
# What an engine warns of is its own.
pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def spark() -> Iterator[SparkSession]:
    os.environ["PYSPARK_PYTHON"] = sys.executable
    os.environ["PYTHONPATH"] = str(Path(pourline.__file__).parents[1])
    # Four tries of each task: without the second number a local Spark gives up at the first.
    made = (
        SparkSession.builder.master("local[2,4]")
        .config("spark.sql.shuffle.partitions", "6")
        .config("spark.sql.adaptive.enabled", "false")
        .config("spark.ui.enabled", "false")
        .config("spark.driver.bindAddress", "127.0.0.1")
        .config("spark.driver.host", "127.0.0.1")
        .getOrCreate()
    )
    yield made
    made.stop()


@pytest.fixture(scope="module")
def frame(spark: SparkSession, long: pa.Table, tmp_path_factory: pytest.TempPathFactory) -> DataFrame:
    path = str(tmp_path_factory.mktemp("logs") / "logs.parquet")
    shuffled = long.to_pandas().sample(frac=1, random_state=3)
    shuffled.to_parquet(path, index=False)
    return spark.read.parquet(path)


def test_rows_in_any_order_give_what_one_machine_gives(frame: DataFrame, here: Rows, in_order: Sort) -> None:
    rows = on_spark.analyze_table(frame, meta=["kettle"])
    assert rows.columns == list(here[0])
    assert in_order(rows.toArrow()) == here


def worked_s(one: psutil.Process) -> float:
    """The processor time of a process that runs Python for Spark (a child of its daemon); 0 of any other, and of one
    that has just ended.
    """
    try:
        daemon = one.parent()
        runs = daemon is not None and all("pyspark.daemon" in " ".join(process.cmdline()) for process in (one, daemon))
        return sum(one.cpu_times()[:2]) if runs else 0.0
    except psutil.Error:
        return 0.0


def test_a_python_worker_that_is_killed_loses_nothing(frame: DataFrame, here: Rows, in_order: Sort) -> None:
    killed: list[int] = []
    # Spark reuses its workers between jobs.
    before_s = {process.pid: worked_s(process) for process in psutil.Process().children(recursive=True)}

    def kill_one() -> None:
        until = time.monotonic() + 60
        while time.monotonic() < until and not killed:
            for process in psutil.Process().children(recursive=True):
                # It has begun to work: what it has done until then is lost with it.
                if worked_s(process) > before_s.get(process.pid, 0.3) + 0.1:
                    process.kill()
                    killed.append(process.pid)
                    return
            time.sleep(0.02)

    killer = threading.Thread(target=kill_one)
    killer.start()
    rows = on_spark.analyze_table(frame, meta=["kettle"])
    found = in_order(rows.toArrow())
    killer.join()
    assert killed, "no worker was killed"
    assert found == here
