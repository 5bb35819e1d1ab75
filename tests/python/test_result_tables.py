"""Tables of a flow, a trace, the events and a study, and cards of results: they hold what the results hold."""

from __future__ import annotations

import copy
import pickle

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import pourline


@pytest.fixture(scope="module")
def knocked() -> pourline.Brew:
    return pourline.analyze(pourline.datasets.load("fernspout-ada-02"))


def test_the_table_of_a_flow_has_its_arrays_and_a_flow_is_an_array(knocked: pourline.Brew) -> None:
    flow = knocked.flow
    assert flow is not None
    table = flow.table()
    assert table.units == {
        "time_s": "s", "flow_g_per_s": "g/s", "flow_sd_g_per_s": "g/s", "water_g": "g", "water_sd_g": "g"
    }  # fmt: skip
    for name in table.columns:
        np.testing.assert_array_equal(table[name], getattr(flow, name))
    assert np.asarray(flow) is flow.flow_g_per_s
    changed = np.array(flow)
    changed[0] = 5
    assert flow.flow_g_per_s[0] != 5
    assert np.asarray(flow, dtype=np.float32).dtype == np.float32
    assert np.max(flow) == flow.flow_g_per_s.max()


def test_the_table_of_a_trace_has_its_samples_with_their_flags(knocked: pourline.Brew) -> None:
    trace = knocked.trace
    table = trace.table()
    assert len(table) == len(trace)
    np.testing.assert_array_equal(table["log_index"], trace.log_index)
    for channel, weight in (("water", trace.water), ("beverage", trace.beverage)):
        assert weight is not None
        np.testing.assert_array_equal(table[f"{channel}_g"], weight.mass_g)
        np.testing.assert_array_equal(table[f"{channel}_flag"], weight.flag)
    alone = pourline.condition(pourline.Log([0, 1, 2], [0, 1, 2])).table()
    assert alone.columns == ["time_s", "log_index", "water_g", "water_flag"]


def test_the_table_of_events_has_a_row_for_each(knocked: pourline.Brew) -> None:
    rows = list(knocked.events_table())
    assert len(rows) == len(knocked.events) == 3
    for row, event in zip(rows, knocked.events, strict=True):
        assert row == {name: getattr(event, name) for name in row}
    none = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).events_table()
    assert (len(none), none.columns) == (0, list(rows[0]))


def test_each_table_leaves_by_arrow_and_as_a_frame(knocked: pourline.Brew) -> None:
    assert knocked.flow is not None
    study = pourline.gather([knocked, knocked])
    for table in (knocked.flow.table(), knocked.trace.table(), knocked.events_table(), study.table()):
        assert pa.table(table).num_rows == len(table) == len(pl.DataFrame(table))
    pd.testing.assert_frame_equal(study.to_pandas(), study.table().to_pandas())


def test_every_column_of_these_tables_is_described(knocked: pourline.Brew) -> None:
    assert knocked.flow is not None
    for table in (knocked.flow.table(), knocked.trace.table(), knocked.events_table()):
        for name, unit in table.units.items():
            assert pourline.describe(name).meaning
            assert pourline.describe(name).unit in (unit, f"that of {name}") or "of " in pourline.describe(name).unit


def test_a_live_brew_says_that_it_is_neither_pickled_nor_copied() -> None:
    live = pourline.Live()
    live.push(0.0, 0.0)
    for refused in (pickle.dumps, copy.copy, copy.deepcopy):
        with pytest.raises(TypeError, match=r"neither pickled nor copied; log\(\) has its samples"):
            refused(live)


def test_cards_show_the_numbers_of_their_results(knocked: pourline.Brew) -> None:
    pour = knocked[0]
    card = pour._repr_html_()
    assert f"<dd style='margin:0'>{pour.mass_g}</dd>" in card
    assert "<dt>flow CV</dt>" in card.split("<details>")[1]
    # A pour without its brew has no metrics.
    assert "<details>" not in knocked.segments.pours[0]._repr_html_()
    assert str(knocked.extraction.yield_pct) in knocked.extraction._repr_html_()
    assert "Budget of the yield" in knocked.extraction._repr_html_()
    without = pourline.extraction(pourline.Meta(), 240.0)
    assert "Budget" not in without._repr_html_()
    assert isinstance(without.yield_pct, pourline.Undefined)
    assert without.yield_pct.reason in without._repr_html_()
    study = pourline.gather([knocked] * 13)._repr_html_()
    assert "12 of 13 rows" in study
    assert "<dt>kettle</dt><dd style='margin:0'>Fernspout</dd>" in study
    brews = [pourline.analyze(pourline.datasets.load(f"fernspout-ada-{n:02}")) for n in (1, 2, 3, 4)]
    assert "<svg" in pourline.profile(brews)._repr_html_()
    assert "<table>" in pourline.profile(brews, axis="water")._repr_html_()
