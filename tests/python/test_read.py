"""Files, bytes and Arrow tables become logs by one set of rules for columns and units."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import pourline
from pourline._io import arrow

COLUMNS = {"time_ms": [0, 100, 200], "water (kg)": [0.0, 0.004, 0.0111], "cup_kg": [0.0, 0.001, 0.002]}
MAKERS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "pandas": pd.DataFrame,
    "polars": pl.DataFrame,
    "pyarrow": pa.table,
    "pourline": pourline.Table,
}


def check(log: pourline.Log) -> None:
    assert log.water_g is not None
    assert log.beverage_g is not None
    np.testing.assert_allclose(log.time_s, [0.0, 0.1, 0.2])
    np.testing.assert_allclose(log.water_g, [0.0, 4.0, 11.1])
    np.testing.assert_allclose(log.beverage_g, [0.0, 1.0, 2.0])


def csv(sep: str = ",", decimal: str = ".") -> str:
    rows = zip(*COLUMNS.values(), strict=True)
    lines = [sep.join(COLUMNS), *(sep.join(str(v).replace(".", decimal) for v in row) for row in rows)]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("brew.csv", csv()),
        ("brew.tsv", csv("\t")),
        ("brew.txt", csv(";", ",")),
        ("brew.jsonl", pd.DataFrame(COLUMNS).to_json(orient="records", lines=True)),
    ],
)
def test_a_text_file_is_read_from_a_path_or_as_bytes(name: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_text(text)
    for source in (path, str(path)):
        log = pourline.read(source, dose_g=15, kettle="Broadlip")
        check(log)
        assert (log.meta.name, log.meta.dose_g, log.meta.kettle) == ("brew", 15.0, "Broadlip")
    check(pourline.read(text.encode()))


@pytest.mark.parametrize("make", MAKERS.values(), ids=MAKERS)
def test_a_table_that_speaks_arrow_is_read(make: Callable[[dict[str, Any]], Any]) -> None:
    check(pourline.read(make(COLUMNS)))
    plain = {"a": [0, 100, 200], "b": [0.0, 0.004, 0.0111], "c": [0.0, 0.001, 0.002]}
    check(pourline.read(make(plain), time="a", water=2, beverage="3", time_unit="ms", mass_unit="kg"))


@pytest.mark.parametrize("writer", ["pyarrow", "polars"])
def test_a_parquet_file_is_read_by_whichever_reader_there_is(
    writer: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "brew.parquet"
    pq.write_table(pa.table(COLUMNS), path)
    if writer == "polars":
        monkeypatch.setitem(__import__("sys").modules, "pyarrow.parquet", None)
    log = pourline.read(path)
    check(log)
    assert log.meta.name == "brew"
    assert len(pourline.analyze(path).pours) == 0


def test_without_a_parquet_reader_the_error_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in ("pyarrow.parquet", "polars"):
        monkeypatch.setitem(__import__("sys").modules, module, None)
    with pytest.raises(pourline.PourlineError, match=r"pourline\[arrow\]") as caught:
        pourline.read(tmp_path / "brew.parquet")
    assert caught.value.kind == "install"


STAMPS = [dt.datetime(2041, 5, 4, 9, 30, 0, 100_000 * i) for i in range(3)]
# pyarrow 15, the lowest supported version, has no views.
TEXTS = [pa.string(), pa.large_string(), *([pa.string_view()] if hasattr(pa, "string_view") else [])]


@pytest.mark.parametrize(
    "stamps",
    [
        pa.array(STAMPS, pa.timestamp("ms")),
        pa.array(STAMPS, pa.timestamp("ns")),
        pa.array(STAMPS, pa.timestamp("us", tz="Europe/Zurich")),
        *(pa.array([stamp.isoformat() for stamp in STAMPS], kind) for kind in TEXTS),
        pa.array([stamp.isoformat() for stamp in STAMPS]).dictionary_encode(),
    ],
    ids=lambda array: str(array.type),
)
def test_dates_become_seconds_since_the_first(stamps: Any) -> None:
    log = pourline.read(pa.table({"time": stamps, "water_g": [0.0, 4.0, 11.1]}))
    np.testing.assert_allclose(log.time_s, [0.0, 0.1, 0.2], atol=1e-9)
    assert log.meta.started_at in ("2041-05-04T09:30:00", "2041-05-04T11:30:00+02:00")


def test_a_clock_in_a_table_of_texts_is_read_as_in_a_file() -> None:
    log = pourline.read(pa.table({"time": ["59:59.5", "1:00:00", "1:00:00.5"], "water_g": [0.0, 4.0, 11.1]}))
    assert log.time_s.tolist() == [0.0, 0.5, 1.0]
    assert log.notes == ['stamps such as "59:59.5" were read as minutes and seconds']
    with pytest.raises(pourline.PourlineError, match="row 2"):
        pourline.read(pa.table({"time": ["0:01", "soon", "0:03"], "water_g": [0.0, 4.0, 11.1]}))


@pytest.mark.parametrize("kind", [pa.float32(), pa.int8(), pa.uint64(), pa.decimal128(9, 3), pa.float16()], ids=str)
def test_any_column_of_numbers_is_taken(kind: Any) -> None:
    numbers = np.array([0, 4, 11], dtype="f2" if kind == pa.float16() else "f4")
    values = pa.array(numbers).cast(kind)
    log = pourline.read(pa.table({"time_s": [0.0, 0.1, 0.2], "water_g": values}))
    np.testing.assert_array_equal(log.water_g, [0.0, 4.0, 11.0])


def test_columns_in_several_chunks_are_joined() -> None:
    chunk = pa.table({"time_s": [0.0, 0.1], "water_g": [0.0, 1.0]})
    more = pa.table({"time_s": [0.2, 0.3], "water_g": [2.0, None]})
    log = pourline.read(pa.concat_tables([chunk, more]), missing="flag")
    np.testing.assert_array_equal(log.water_g, [0.0, 1.0, 2.0, np.nan])


def test_a_null_is_a_missing_reading() -> None:
    table = pl.DataFrame({"time_s": [0.0, 0.1, 0.2, 0.3, 0.4], "water_g": [0, None, 1, 2, 3]})
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.read(table)
    assert (caught.value.kind, caught.value.row) == ("not_finite", 2)
    np.testing.assert_array_equal(pourline.read(table, missing="flag").water_g, [0.0, np.nan, 1.0, 2.0, 3.0])


@pytest.mark.parametrize(
    ("columns", "kind", "said"),
    [
        ({"time_s": [0.0, 0.1, 0.2], "water_g": ["a", "b", "c"]}, "column", "has texts"),
        ({"time_s": [0.0, 0.1, 0.2], "water_g": [[1.0], [2.0], [3.0]]}, "column", "has type"),
        ({"time_s": [0.0, 0.1, 0.2], "water_g": [True, False, True]}, "column", "has type"),
        ({"time": ["2041-05-04T09:30:00", None, "x"], "water_g": [1.0, 2.0, 3.0]}, "not_finite", "row 2"),
        ({"time": ["2041-05-04T09:30:00", "soon", "x"], "water_g": [1.0, 2.0, 3.0]}, "not_a_number", "soon"),
        ({"time_s": [0.0, None, 0.2], "water_g": [1.0, 2.0, 3.0]}, "not_finite", "row 2"),
        ({"t": [0.0, 0.1, 0.2], "water_g": [1.0, 2.0, 3.0]}, "argument", "no unit"),
        ({"colour": [0.0, 0.1, 0.2], "water_g": [1.0, 2.0, 3.0]}, "column", "no time"),
        ({"time_s": [], "water_g": []}, "column", "has type"),
        ({"time_s": pa.array([], pa.float64()), "water_g": pa.array([], pa.float64())}, "empty", "time_s"),
    ],
)
def test_a_table_that_is_no_log_is_refused_with_the_reason(columns: dict[str, Any], kind: str, said: str) -> None:
    with pytest.raises(pourline.PourlineError, match=said) as caught:
        pourline.read(pa.table(columns))
    assert caught.value.kind == kind


def test_units_that_disagree_are_refused() -> None:
    with pytest.raises(pourline.PourlineError, match="states ms but s was requested") as caught:
        pourline.read(pa.table(COLUMNS), time_unit="s")
    assert caught.value.kind == "argument"
    with pytest.raises(pourline.PourlineError):
        pourline.read(pa.table(COLUMNS), time_unit="fortnight")  # type: ignore[arg-type]


def test_a_stream_that_breaks_is_an_error_and_no_panic() -> None:
    class Broken:
        def __arrow_c_stream__(self, requested_schema: object = None) -> object:
            raise RuntimeError("no stream today")

    class Wrong:
        def __arrow_c_stream__(self, requested_schema: object = None) -> object:
            return 3

    for source in (Broken(), Wrong()):
        with pytest.raises(pourline.PourlineError) as caught:
            pourline.read(source)
        assert caught.value.kind == "format"


def test_the_columns_that_are_not_chosen_may_hold_anything() -> None:
    table = pa.table({**COLUMNS, "extra": [[1], [2], None], "flag": [True, False, None]})
    check(pourline.read(table))
    assert arrow.table(table).column_names[-1] == "flag"
