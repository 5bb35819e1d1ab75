"""One worker process against two, by dask and by Spark: `engines.py dask [LOGS]`, `engines.py spark [LOGS]`, or both
without a word.

Each task analyses on one thread, so that what is measured is the engine. A first run that is not counted starts the
workers.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import cycle, islice
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

import pourline

PARTS = 8


def parts_of(logs: int) -> list[pa.Table]:
    """Bundled brews in parts of equal numbers of logs."""
    tables = []
    for number, name in enumerate(islice(cycle(pourline.datasets.names()), logs)):
        log = pourline.datasets.load(name)
        columns = {"time_s": log.time_s, "water_g": log.water_g, "beverage_g": log.beverage_g}
        tables.append(pa.table({"log": [f"log {number:04}"] * len(log)} | columns))
    return [pa.concat_tables(tables[first::PARTS]) for first in range(PARTS)]


def timed(run: Callable[[], int]) -> float:
    run()
    begun = time.perf_counter()
    rows = run()
    took_s = time.perf_counter() - begun
    print(f"    {rows} rows in {took_s:.1f} s", flush=True)
    return took_s


def by_dask(parts: list[pa.Table], workers: int) -> float:
    import dask
    from distributed import Client, LocalCluster

    from pourline import on_dask

    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        client.wait_for_workers(workers)
        held = client.scatter(parts)

        def run() -> int:
            tables = dask.compute(*on_dask.analyze_table([dask.delayed(part) for part in held]))
            return sum(len(table) for table in tables)

        return timed(run)


def by_spark(parts: list[pa.Table], workers: int) -> float:
    from pyspark.sql import SparkSession

    from pourline import on_spark

    os.environ["PYSPARK_PYTHON"] = sys.executable
    made = SparkSession.builder.master(f"local[{workers}]").config("spark.sql.shuffle.partitions", str(PARTS))
    made = made.config("spark.sql.adaptive.enabled", "false").config("spark.ui.enabled", "false")
    spark = made.config("spark.ui.showConsoleProgress", "false").getOrCreate()
    with tempfile.TemporaryDirectory() as folder:
        for number, part in enumerate(parts):
            pq.write_table(part, Path(folder) / f"part-{number}.parquet")
        frame = spark.read.parquet(folder)
        took_s = timed(lambda: len(on_spark.analyze_table(frame).toArrow()))
    spark.stop()
    return took_s


def main(engines: list[str], logs: int) -> None:
    parts = parts_of(logs)
    print(f"{logs} bundled brews in {PARTS} parts on {os.cpu_count()} cores; load before: {os.getloadavg()[0]:.1f}")
    for engine in engines:
        print(f"  {engine}, one worker and two")
        one_s, two_s = ({"dask": by_dask, "spark": by_spark}[engine](parts, workers) for workers in (1, 2))
        print(f"  {engine}: two workers are {one_s / two_s:.2f} times as fast as one")


if __name__ == "__main__":
    words = sys.argv[1:]
    count = int(words.pop()) if words and words[-1].isdigit() else 96
    main(words or ["dask", "spark"], count)
