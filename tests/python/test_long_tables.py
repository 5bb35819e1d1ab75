"""One long table of many logs: cut at changes of the id, and the same rows as one by one, batch by batch."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import pourline
from pourline._io.arrow import _Gathered

NAMES = ["fernspout-ada-01", "broadlip-ada-09", "thimblebeak-bo-21"]


def of_log(log: pourline.Log, log_id: object, **further: object) -> pa.Table:
    columns: dict[str, Any] = {"log": [log_id] * len(log), "time_s": log.time_s, "water_g": log.water_g}
    columns |= {name: [value] * len(log) for name, value in further.items()}
    return pa.table(columns | {"beverage_g": log.beverage_g})


@pytest.fixture(scope="module")
def logs() -> dict[str, pourline.Log]:
    whole = {name: pourline.datasets.load(name) for name in NAMES}
    return {n: pourline.Log(log.time_s, log.water_g, log.beverage_g, name=n, dose_g=15) for n, log in whole.items()}


@pytest.fixture(scope="module")
def brews(logs: dict[str, pourline.Log]) -> list[pourline.Brew]:
    return [pourline.analyze(log) for log in logs.values()]


@pytest.fixture(scope="module")
def long(logs: dict[str, pourline.Log]) -> pa.Table:
    return pa.concat_tables([of_log(log, name, dose_g=15.0) for name, log in logs.items()])


def expected(brews: list[pourline.Brew]) -> pa.Table:
    return pa.concat_tables([pa.table(brew.table(all=True)) for brew in brews])


@pytest.mark.parametrize("rows_in_a_batch", [97, 1000, 10**6])
@pytest.mark.parametrize("threads", [1, 3])
def test_a_row_a_pour_is_what_each_brew_gives_to_the_last_bit(
    long: pa.Table, brews: list[pourline.Brew], rows_in_a_batch: int, threads: int
) -> None:
    source = pa.Table.from_batches(long.to_batches(rows_in_a_batch))
    found = pa.table(pourline.analyze_table(source, meta=["dose_g"], threads=threads))
    assert found.drop_columns(["log", "error"]).equals(expected(brews))
    assert found["log"].to_pylist() == [n for n, brew in zip(NAMES, brews, strict=True) for _ in brew.pours]
    assert found["error"].null_count == len(found)
    assert found.schema.field("mass_g").metadata == {b"unit": b"g"}


def test_a_row_a_brew_is_that_of_gather(long: pa.Table, brews: list[pourline.Brew]) -> None:
    found = pa.table(pourline.analyze_table(long, rows="brew", meta=["dose_g"]))
    assert found.drop_columns(["log", "error"]).equals(pa.table(pourline.gather(brews).table()))


def test_a_log_that_fails_or_has_no_pour_has_one_row_that_says_why(logs: dict[str, pourline.Log]) -> None:
    good = logs[NAMES[0]]
    still = pourline.Log([i / 10 for i in range(99)], [0.0] * 99, [0.0] * 99)
    parts = [of_log(still, 1), of_log(good, 2), of_log(good, 3).slice(0, 2), of_log(good, 4)]
    found = pa.table(pourline.analyze_table(pa.concat_tables(parts)))
    assert found["log"].type == pa.int64()
    assert found["pour"].to_pylist() == [None, 1, 2, 3, 4, None, 1, 2, 3, 4]
    errors = dict(zip(found["log"].to_pylist(), found["error"].to_pylist(), strict=True))
    assert errors == {
        1: "undefined: no pour was found", 2: None, 3: "too_short: 2 samples, and at least 3 are needed: was the recording or the file cut off?", 4: None,
    }  # fmt: skip
    assert pa.table(pourline.analyze_table(of_log(good, 3).slice(0, 2), rows="brew"))["water_g"].to_pylist() == [None]


def test_columns_and_units_follow_the_rules_of_read(logs: dict[str, pourline.Log], brews: list[pourline.Brew]) -> None:
    log = logs[NAMES[0]]
    table = pa.table({"brew": [7] * len(log), "t": log.time_s * 1000, "reading": log.water_g})
    found = pa.table(pourline.analyze_table(table, by="brew", time="t", water="reading", time_unit="ms", mass_unit="g"))
    alone = pourline.analyze(pourline.Log(log.time_s * 1000 / 1000, log.water_g))
    assert found["mass_g"].to_pylist() == alone.table()["mass_g"].tolist()
    assert found.column_names[:3] == ["brew", "pour", "start_s"]
    unstated = pa.table(pourline.analyze_table(table, by="brew", time="t", water="reading"))
    assert unstated["error"].to_pylist()[0].startswith("argument: time_unit: ")


def test_metadata_stand_in_columns_that_do_not_change(logs: dict[str, pourline.Log]) -> None:
    log = logs[NAMES[0]]
    table = pa.concat_tables(
        [
            of_log(log, "a", kettle="Broadlip", barn="north", tds_pct=1.4),
            of_log(log, "b", kettle=None, barn="south", tds_pct=None),
        ],
        promote_options="default",
    )
    found = pa.table(pourline.analyze_table(table, rows="brew", meta=("kettle", "barn", "tds_pct")))
    assert found.select(["kettle", "barn", "tds_pct"]).to_pylist() == [
        {"kettle": "Broadlip", "barn": "north", "tds_pct": 1.4},
        {"kettle": None, "barn": "south", "tds_pct": None},
    ]
    moving = table.slice(0, len(log)).set_column(3, "tds_pct", pa.array([1.4] * (len(log) - 1) + [1.5]))
    found = pa.table(pourline.analyze_table(moving, meta=["tds_pct"]))
    assert found["error"].to_pylist() == ["column: column 'tds_pct' changes within the log"]


def test_rows_of_a_log_that_are_torn_apart_are_refused_after_what_was_done(
    long: pa.Table, brews: list[pourline.Brew]
) -> None:
    torn = pa.concat_tables([long, long.slice(0, 10)])
    stream = pourline.analyze_table(torn, meta=["dose_g"])
    assert len(next(iter(stream))["log"]) == sum(len(brew.pours) for brew in brews)
    with pytest.raises(pourline.PourlineError, match="contiguous: sort the table by 'log' and time first") as caught:
        next(iter(stream))
    assert (caught.value.row, caught.value.column) == (len(long) + 1, "log")


def test_what_cannot_be_is_told_at_once(long: pa.Table, tmp_path: Path) -> None:
    for refused, message in (
        ({"by": "brew"}, "there is no column 'brew' for the log; there are: log, time_s"),
        ({"meta": ["dose"]}, "no column 'dose'"),
        ({"rows": "cup"}, 'rows: "pour" or "brew" is needed'),
        ({"threads": 0}, "threads: "),
        ({"by": "time_s"}, "the id must be a text or an integer"),
    ):
        with pytest.raises(pourline.PourlineError, match=message):
            pourline.analyze_table(long, **refused)
    with pytest.raises(pourline.PourlineError, match="rename the id"):
        pourline.analyze_table(long.rename_columns(["pour", *long.column_names[1:]]), by="pour")
    with pytest.raises(pourline.PourlineError, match="row 3: the id of the log is missing"):
        list(
            pourline.analyze_table(pa.table({"log": ["a", "a", None], "time_s": [0.0, 0.1, 0.2], "water_g": [0.0] * 3}))
        )
    with pytest.raises(pourline.PourlineError, match="no Parquet file"):
        pourline.analyze_table(tmp_path)
    with pytest.raises(pourline.PourlineError, match="a path or a table"):
        pourline.analyze_table(3)  # type: ignore[arg-type]


def test_parquet_is_read_by_its_path_and_a_log_may_go_on_in_the_next_file(
    long: pa.Table, brews: list[pourline.Brew], tmp_path: Path
) -> None:
    half = len(long) // 2
    pq.write_table(long.slice(0, half), tmp_path / "part-0.parquet", row_group_size=500)
    pq.write_table(long.slice(half), tmp_path / "part-1.parquet")
    found = pa.table(pourline.analyze_table(tmp_path, meta=["dose_g"]))
    assert found.drop_columns(["log", "error"]).equals(expected(brews))
    pq.write_table(long.drop_columns(["beverage_g"]), tmp_path / "part-2.parquet")
    with pytest.raises(pourline.PourlineError, match=r"part-2.parquet: its columns differ"):
        list(pourline.analyze_table(tmp_path))
    (tmp_path / "bad.parquet").write_bytes(b"PAR1")
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.analyze_table(tmp_path / "bad.parquet")
    assert caught.value.kind == "format"


def test_the_rows_are_the_same_where_arro3_knows_no_lazy_stream(
    long: pa.Table, brews: list[pourline.Brew], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("pourline._io.long.made_while_taken", _Gathered)
    whole = pa.table(pourline.analyze_table(long, meta=["dose_g"]))
    assert whole.drop_columns(["log", "error"]).equals(expected(brews))
    stream = pourline.analyze_table(long, meta=["dose_g"])
    assert pa.schema(stream.schema) == whole.schema
    assert pa.Table.from_batches(map(pa.record_batch, stream)).equals(whole)


def test_ids_that_polars_holds_as_categories_leave_as_texts(long: pa.Table, brews: list[pourline.Brew]) -> None:
    frame = pl.DataFrame(long).with_columns(pl.col("log").cast(pl.Categorical))
    found = pl.DataFrame(pourline.analyze_table(frame, meta=["dose_g"]))
    assert found["log"].unique(maintain_order=True).to_list() == NAMES
    assert found.height == sum(len(brew.pours) for brew in brews)


@pytest.mark.slow
def test_the_source_is_read_no_further_than_the_work_needs(long: pa.Table) -> None:
    read = itertools.count()
    one = long.slice(0, 1335)

    def endless() -> Iterator[pa.RecordBatch]:
        for number in itertools.count():
            next(read)
            yield from one.set_column(0, "log", pa.array([f"log {number}"] * len(one))).to_batches()

    schema = one.set_column(0, "log", pa.array([""] * len(one))).schema
    stream = pourline.analyze_table(pa.RecordBatchReader.from_batches(schema, endless()), meta=["dose_g"], threads=2)
    assert next(read) == 0
    assert len(set(next(iter(stream))["log"].to_pylist())) == 64
    # Of those, 64 are returned, 32 are being analysed, and the last one may be incomplete.
    assert next(read) <= 64 + 2 * 16 + 3
