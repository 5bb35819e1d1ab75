"""A table leaves for numpy, pandas, polars, pyarrow and the eye with the same numbers, units and gaps."""

from __future__ import annotations

import math

import duckdb
import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import pourline
from pourline.tables import stack

MIXED = pourline.Table({"pour": [1, 2], "mass_g": [45.0, math.nan], "kettle": ["Fernspout", ""]}, units={"mass_g": "g"})


def test_a_brew_gives_a_row_a_pour(brew: pourline.Brew) -> None:
    table = brew.table(all=True)
    assert len(table) == len(brew.pours) == 2
    assert table["mass_g"].tolist() == [pour.mass_g.value for pour in brew.pours]
    assert table["mass_sd_g"].tolist() == [pour.mass_g.sd for pour in brew.pours]
    assert table["pour"].tolist() == [1, 2]
    assert (table.units["mean_flow_g_per_s"], table.units["brew"]) == ("g/s", "")


def test_every_uncertain_column_has_its_sd_beside_it(brew: pourline.Brew) -> None:
    columns = brew.table(all=True).columns
    for name in ("start_s", "end_s", "mass_g", "mean_flow_g_per_s", "yield_pct", "retention_g_per_g"):
        stem, unit = next(
            (name.removesuffix(u), u) for u in ("_g_per_s", "_g_per_g", "_pct", "_g", "_s") if name.endswith(u)
        )
        assert columns[columns.index(name) + 1] == f"{stem}_sd{unit}"


def test_all_ways_out_give_the_same(brew: pourline.Brew) -> None:
    table = brew.table(all=True)
    arrow = pa.table(table)
    frames = [table.to_pandas(), arrow.to_pandas(), table.to_polars().to_pandas(), pl.DataFrame(table).to_pandas()]
    for frame in frames:
        assert list(frame.columns) == table.columns == arrow.column_names
        for name in table.columns:
            if table[name].dtype.kind == "f":
                np.testing.assert_array_equal(frame[name].to_numpy(dtype=np.float64), table[name])
    assert arrow.schema.field("mass_g").metadata == {b"unit": b"g"}
    assert table.to_pandas().attrs["units"] == table.units


def test_numbers_without_a_gap_leave_without_a_copy(brew: pourline.Brew) -> None:
    table = brew.table(all=True)
    arrow = pa.table(table)["mass_g"].chunk(0).to_numpy(zero_copy_only=True)
    assert np.shares_memory(arrow, table["mass_g"])
    assert np.shares_memory(table.to_polars()["mass_g"].to_numpy(allow_copy=False), table["mass_g"])


def test_a_query_reads_a_table_by_its_name(brew: pourline.Brew) -> None:
    pours = brew.table(all=True)
    found = duckdb.execute("select count(*), sum(mass_g), count(fall_height_m) from pours").fetchall()
    # Without a bore the height is undefined, and a null is not counted.
    assert found == [(len(pours), pytest.approx(pours["mass_g"].sum()), 0)]


def test_what_is_undefined_is_null_and_keeps_its_type() -> None:
    arrow = pa.table(MIXED)
    assert [str(kind) for kind in arrow.schema.types] == ["int64", "double", "string"]
    assert (
        arrow.to_pydict() == MIXED.to_dict() == {"pour": [1, 2], "mass_g": [45.0, None], "kettle": ["Fernspout", None]}
    )
    assert MIXED.to_polars().null_count().row(0) == (0, 1, 1)
    assert MIXED.to_pandas().isna().sum().tolist() == [0, 1, 1]


def test_a_table_without_rows_keeps_its_columns() -> None:
    empty = pourline.Table({"mass_g": np.zeros(0), "brew": np.zeros(0, dtype=str)})
    assert pa.table(empty).schema.names == ["mass_g", "brew"]
    assert empty.to_polars().shape == (0, 2)
    assert (len(empty), len(pourline.Table({}))) == (0, 0)
    assert len(pourline.analyze(pourline.Log(np.arange(99) / 10, np.zeros(99))).table()) == 0


def test_tables_are_put_one_below_the_other(brew: pourline.Brew, knocked: pourline.Brew) -> None:
    one, other = brew.table(all=True), pourline.analyze(pourline.Log(np.arange(99) / 10, np.zeros(99))).table()
    both = stack([one, other, one])
    assert len(both) == 4
    assert both.units == one.units
    assert len(stack([])) == 0
    with pytest.raises(pourline.PourlineError) as caught:
        stack([MIXED, pourline.Table({"mass_g": ["heavy"]})])
    assert caught.value.kind == "column"


def test_factors_that_only_some_brews_have_are_empty_for_the_others(
    brew: pourline.Brew, knocked: pourline.Brew
) -> None:
    both = stack([brew.table(all=True), knocked.table()])
    assert both["day"].tolist() == ["", "", "2", "2", "2", "2"]
    other = stack([MIXED, pourline.Table({"pour": [3], "rank": [1]})])
    assert other.to_dict() == {
        "pour": [1, 2, 3], "mass_g": [45.0, None, None], "kettle": ["Fernspout", None, None], "rank": [None, None, 1.0],
    }  # fmt: skip


def test_the_eye_sees_names_and_values_and_no_markup() -> None:
    table = pourline.Table({"<b>": ["<script>", "&"], "mass_g": [1.0, math.nan]})
    assert repr(table).splitlines()[1].split() == ["<script>", "1"]
    page = table._repr_html_()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
    long = pourline.Table({"row": list(range(100))})
    assert "40 of 100 rows" in repr(long)
    assert "40 of 100 rows" in long._repr_html_()


@pytest.mark.parametrize(
    "columns", [{"a": [1, 2], "b": [1]}, {"a": [[1], [2]]}, {"a": [object()]}, {"a": [1j]}, {"a": 3}, [1, 2], None]
)
def test_what_is_no_table_is_refused(columns: dict[str, list[object]]) -> None:
    with pytest.raises(pourline.PourlineError):
        pourline.Table(columns)


def test_an_unknown_column_is_answered_with_those_that_there_are() -> None:
    with pytest.raises(pourline.PourlineError, match="pour, mass_g, kettle"):
        MIXED["mass"]


@pytest.mark.parametrize("module", ["pandas", "polars"])
def test_a_missing_package_is_named_with_how_to_get_it(module: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, module, None)
    with pytest.raises(pourline.PourlineError, match=rf"pourline\[{module}\]") as caught:
        getattr(MIXED, f"to_{module}")()
    assert caught.value.kind == "install"


def test_a_pandas_frame_goes_back_in() -> None:
    frame = pd.DataFrame({"time_s": [0.0, 0.1, 0.2], "water_g": [0.0, 1.0, 2.0]})
    assert pourline.read(pourline.Table({"time_s": frame["time_s"], "water_g": frame["water_g"]})).water_g is not None
