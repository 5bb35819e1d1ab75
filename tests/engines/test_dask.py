"""dask: two worker processes give the rows that one machine gives, to the last bit, and one of them killed loses
nothing.
"""

from __future__ import annotations

import itertools
import os
import signal
import time
from collections.abc import Callable, Iterator

import dask
import pandas as pd
import pyarrow as pa
import pytest
from dask.dataframe import from_pandas
from distributed import Client, LocalCluster

import pourline
from pourline import on_dask

Rows = list[dict[str, object]]
Sort = Callable[[pa.Table], Rows]
# A worker that restarts warns in threads of dask, in which an error would prevent the restart.
pytestmark = pytest.mark.filterwarnings("default")


@pytest.fixture(scope="module")
def client() -> Iterator[Client]:
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
        Client(cluster) as made,
    ):
        made.wait_for_workers(2)
        yield made


def rows_of(frame: pd.DataFrame) -> pa.Table:
    return pa.Table.from_pandas(frame, preserve_index=False)


def test_a_frame_whose_logs_lie_torn_over_partitions_gives_the_same_rows(
    client: Client, long: pa.Table, here: Rows, in_order: Sort
) -> None:
    frame = from_pandas(long.to_pandas().sample(frac=1, random_state=3), npartitions=6)
    rows = on_dask.analyze_table(frame, meta=["kettle"])
    assert in_order(rows_of(rows.compute())) == here
    assert list(rows.columns) == list(here[0])


def test_tables_to_come_give_the_same_rows(client: Client, long: pa.Table, here: Rows, in_order: Sort) -> None:
    cuts = [0, 300 * 20, 300 * 35, len(long)]
    parts = [dask.delayed(long.slice)(first, last - first) for first, last in itertools.pairwise(cuts)]
    tables = dask.compute(*on_dask.analyze_table(parts, meta=["kettle"]))
    assert in_order(pa.concat_tables(tables)) == here


def test_a_worker_that_is_killed_loses_nothing(client: Client, long: pa.Table, here: Rows, in_order: Sort) -> None:
    cuts = list(range(0, len(long), 300 * 5))
    parts = [dask.delayed(long.slice)(first, 300 * 5) for first in cuts]
    before = set(client.run(os.getpid).values())
    futures = client.compute(on_dask.analyze_table(parts, meta=["kettle"]))
    while not any(future.done() for future in futures):
        time.sleep(0.05)
    os.kill(min(before), signal.SIGKILL)
    tables = client.gather(futures)
    assert in_order(pa.concat_tables(tables)) == here
    client.wait_for_workers(2)
    assert set(client.run(os.getpid).values()) != before


def test_options_reach_the_workers(client: Client, long: pa.Table) -> None:
    options = pourline.Options(condition={"scale_lag_s": 0.25})
    some = long.slice(0, 600)
    (rows,) = dask.compute(*on_dask.analyze_table([dask.delayed(some)], options))
    assert rows.equals(pa.table(pourline.analyze_table(some, options)))


def test_what_is_no_source_is_refused() -> None:
    with pytest.raises(pourline.PourlineError, match="a dask DataFrame or an iterable"):
        on_dask.analyze_table(3)
