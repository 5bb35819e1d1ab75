"""Columns come in as whatever numpy can see as numbers, and leave as numpy arrays."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import pourline

VALUES = [0.0, 0.5, 1.5, 4.0]


@pytest.mark.parametrize(
    "column",
    [
        np.array(VALUES),
        VALUES,
        tuple(VALUES),
        np.array(VALUES, dtype=np.float32),
        np.array(VALUES, dtype=">f8"),
        np.array([9.0, *VALUES])[1:],
        np.repeat(VALUES, 2)[::2],
        np.asfortranarray(VALUES),
        np.ma.masked_array(VALUES),
        pd.Series(VALUES),
        pd.Series(VALUES, dtype="Float64"),
        pl.Series(VALUES),
        pa.array(VALUES),
        np.array(VALUES, dtype=object),
    ],
    ids=lambda column: f"{type(column).__module__}.{type(column).__name__}",
)
def test_a_column_may_be_any_sequence_of_numbers(column: Any) -> None:
    log = pourline.Log(column, water_g=column, beverage_g=column)
    assert log.water_g is not None
    for read in (log.time_s, log.water_g, log.beverage_g):
        np.testing.assert_array_equal(read, VALUES)


def test_whole_numbers_are_taken_exactly() -> None:
    log = pourline.Log(range(4), water_g=np.array([0, 5, 10, 20], dtype=np.int16))
    np.testing.assert_array_equal(log.water_g, [0.0, 5.0, 10.0, 20.0])


@pytest.mark.parametrize(
    "column",
    [
        [0.0, None, 1.5, 4.0],
        np.array([0.0, np.nan, 1.5, 4.0]),
        np.ma.masked_array(VALUES, [False, True, False, False]),
        pd.Series([0.0, None, 1.5, 4.0]),
        pd.Series([0.0, None, 1.5, 4.0], dtype="Float64"),
        pl.Series([0.0, None, 1.5, 4.0]),
    ],
    ids=lambda column: f"{type(column).__module__}.{type(column).__name__}",
)
def test_a_missing_reading_is_refused_with_its_row_or_flagged(column: Any) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Log(VALUES, water_g=column)
    assert (caught.value.kind, caught.value.row, caught.value.column) == ("not_finite", 2, "water_g")
    log = pourline.Log(VALUES, water_g=column, missing="flag")
    np.testing.assert_array_equal(log.water_g, [0.0, np.nan, 1.5, 4.0])


def test_arrays_are_made_once_and_cannot_be_changed(brew: pourline.Brew, log: pourline.Log) -> None:
    assert log.water_g is log.water_g
    assert log.water_g is not None
    assert not log.water_g.flags.writeable
    assert brew.flow is not None
    assert brew.flow.flow_g_per_s is brew.flow.flow_g_per_s
    with pytest.raises(ValueError, match="read-only"):
        brew.flow.flow_g_per_s[0] = 1.0


def test_changing_the_source_afterwards_does_not_change_the_log() -> None:
    water_g = np.array(VALUES)
    log = pourline.Log(VALUES, water_g=water_g)
    water_g[:] = 7.0
    np.testing.assert_array_equal(log.water_g, VALUES)


def test_all_arrays_of_a_brew_have_the_length_of_its_trace(brew: pourline.Brew) -> None:
    trace, flow = brew.trace, brew.flow
    assert flow is not None
    assert trace.water is not None
    assert trace.beverage is not None
    arrays = [trace.time_s, trace.log_index, trace.water.mass_g, trace.water.flag, trace.beverage.mass_g]
    arrays += [flow.time_s, flow.flow_g_per_s, flow.flow_sd_g_per_s, flow.water_g, flow.water_sd_g]
    assert {len(array) for array in arrays} == {len(trace), 700}


def test_the_steps_give_what_analyze_gives(brew: pourline.Brew, log: pourline.Log) -> None:
    trace = pourline.condition(log)
    segments = pourline.segment(trace)
    flow = pourline.flow(trace, segments)
    assert brew.flow is not None
    assert [pour.start_s for pour in segments.pours] == [pour.start_s for pour in brew.pours]
    np.testing.assert_array_equal(flow.flow_g_per_s, brew.flow.flow_g_per_s)
    found = pourline.extraction(log.meta, brew.water_g, brew.beverage_g)
    assert found.yield_pct == brew.extraction.yield_pct


def test_two_pours_by_arithmetic_are_found(brew: pourline.Brew) -> None:
    first, second = brew.pours
    for pour, start_s, end_s in ((first, 10.0, 20.0), (second, 35.0, 47.0)):
        assert abs(float(pour.half_rise_s) - start_s) < 0.1
        assert abs(float(pour.half_fall_s) - end_s) < 0.1
        assert abs(float(pour.mass_g) - 60.0) < 0.15
