"""The bed in Python: what is found, what is undefined and why, and what the options do."""

from __future__ import annotations

import math
from typing import Any

import pytest

import pourline

DARCY = {"diameter_mm": 60.0, "depth_mm": 30.0, "head_mm": 50.0}


def drained(seconds: int = 80) -> pourline.Log:
    """A cone of 43.63 g that drains from 16 s on at 5 g/s first: V = V0 (1 - t/te)^1.5, te = 13.09 s (closed form)."""

    def left(t: float) -> float:
        return 43.63 * math.pow(max(0.0, 1 - max(0.0, t - 16) / 13.09), 1.5)

    time_s = [i / 10 for i in range(10 * seconds)]
    return pourline.Log(
        time_s=time_s,
        water_g=[round(10 * min(max(t - 5, 0), 10), 2) for t in time_s],
        beverage_g=[round(43.63 - left(t), 2) for t in time_s],
        dose_g=10,
        tds_pct=1.4,
        water_c=90,
    )


def test_a_cone_is_told_from_an_exponential() -> None:
    bed = pourline.analyze(drained(), pourline.Options(condition={"scale_lag_s": 0.01}, bed={"vessel_exponent": 3})).bed
    assert isinstance(bed.law, pourline.DrainLaw)
    assert abs(bed.law.exponent.value * 3 - 1) < 0.02
    assert abs(float(bed.law.head_exponent) - 1) < 0.02
    assert bed.law.exponential_rejected_sd > 3
    assert abs(float(bed.drawdown_end_s) - 29.09) < 0.1


def kept_log(tds_pct: float = 100 * 0.20 * 20 / 240) -> pourline.Log:
    """280 g of water on 20 g of coffee, of which 240 g come out at a strength that is a yield of 20 %."""
    time_s = [i / 10 for i in range(1400)]
    return pourline.Log(
        time_s=time_s,
        water_g=[round(min(max(5 * (t - 5), 0), 280), 2) for t in time_s],
        beverage_g=[round(min(max(3 * (t - 20), 0), 240), 2) for t in time_s],
        dose_g=20,
        tds_pct=tds_pct,
    )


# Mass balance, r + E - V/D: r 2.0, E 20 %, D 20 g give 2.20 g/g; 2 g of vapour are 0.1 g/g. A strength measured after
# 60 g of bypass water is that of 300 g: the same dissolved 4 g.
UNDILUTED_PCT, DILUTED_PCT = 100 * 4 / 240, 100 * 4 / 300
BYPASS = {"bypass_g": 60.0, "tds_after_bypass": True}


@pytest.mark.parametrize(
    ("tds_pct", "options", "expected"),
    [
        (UNDILUTED_PCT, {}, 2.20),
        (UNDILUTED_PCT, {"evaporated_g": 2.0, "evaporated_sd_g": 1.0}, 2.10),
        (DILUTED_PCT, BYPASS, 2.20),
        (UNDILUTED_PCT, {"dose_sd_g": 0.5, "tds_sd_pct": 0.2}, 2.20),
    ],
)
def test_retained_water_is_one_number_wherever_it_is_read(tds_pct: float, options: Any, expected: float) -> None:
    brew = pourline.analyze(kept_log(tds_pct), pourline.Options(extraction=options))
    alone = pourline.bed(brew.trace, brew.segments, brew.flow, extraction=options)
    stage = pourline.extraction(brew.meta, brew.water_g, brew.beverage_g, **options)
    for name, value in (("retention", 2.0), ("retained_water", expected)):
        found = getattr(brew.bed, f"{name}_g_per_g")
        assert isinstance(found, pourline.Estimate)
        assert found.value == pytest.approx(value, abs=0.005), name
        for other in (brew.extraction, alone, stage):
            assert getattr(other, f"{name}_g_per_g") == found, name
        for table in (brew.table(all=True), pourline.gather([brew]).table()):
            column = [table[f"{name}_g_per_g"][0], table[f"{name}_sd_g_per_g"][0]]
            assert column == [found.value, found.sd], name


def test_the_sd_of_retained_water_is_that_of_its_inputs() -> None:
    """First order (JCGM 100:2008, 5.1.2), own arithmetic: sd of (W - B (1 - T) - V)/D from those of W, B, T, D and V."""
    options: Any = {"evaporated_g": 2.0, "evaporated_sd_g": 1.0, "dose_sd_g": 0.5, "tds_sd_pct": 0.2}
    brew = pourline.analyze(kept_log(), pourline.Options(extraction=options))
    (water, beverage), strength = (brew.water_g, brew.beverage_g), 0.20 * 20 / 240
    assert isinstance(water, pourline.Estimate)
    assert isinstance(beverage, pourline.Estimate)
    kept = (water.value - beverage.value * (1 - strength) - 2) / 20
    parts = [water.sd / 20, beverage.sd * (1 - strength) / 20, beverage.value * 0.002 / 20, kept * 0.5 / 20, 1 / 20]
    found = brew.bed.retained_water_g_per_g
    assert isinstance(found, pourline.Estimate)
    assert found.sd == pytest.approx(math.hypot(*parts), rel=1e-9)


def test_without_a_strength_no_retained_water_is_claimed() -> None:
    log = pourline.Log(time_s=drained().time_s, water_g=drained().water_g, beverage_g=drained().beverage_g, dose_g=10)
    brew = pourline.analyze(log)
    for stage in (brew.bed, brew.extraction, pourline.bed(brew.trace, brew.segments, brew.flow)):
        assert isinstance(stage.retention_g_per_g, pourline.Estimate)
        assert isinstance(stage.retained_water_g_per_g, pourline.Undefined)
        assert stage.retained_water_g_per_g.reason == "tds_pct was not given"


def test_a_stated_retention_is_the_same_in_every_stage() -> None:
    options: Any = {"retention_g_per_g": 2.0}
    log = pourline.Log(drained().time_s, drained().water_g, dose_g=10, tds_pct=1.4)
    brew = pourline.analyze(log, pourline.Options(extraction=options))
    alone = pourline.bed(brew.trace, brew.segments, brew.flow, extraction=options)
    for name in ("retention_g_per_g", "retained_water_g_per_g"):
        found = getattr(brew.extraction, name)
        assert isinstance(found, pourline.Estimate)
        assert getattr(brew.bed, name) == getattr(alone, name) == found


def test_the_stage_alone_gives_what_the_whole_way_gives() -> None:
    log = drained()
    trace = pourline.condition(log)
    segments = pourline.segment(trace)
    alone = pourline.bed(trace, segments, pourline.flow(trace, segments))
    whole = pourline.analyze(log).bed
    assert (alone.drawdown_end_s, alone.retention_g_per_g) == (whole.drawdown_end_s, whole.retention_g_per_g)
    without = pourline.bed(trace, segments).pours[0].holdup_at_start_g
    assert isinstance(without, pourline.Undefined)
    assert without.reason == "the flow of water was not given"


def test_the_curve_is_numpy_of_the_length_of_the_log() -> None:
    log = drained()
    curve = pourline.analyze(log).bed.curve
    assert isinstance(curve, pourline.BedCurve)
    assert len(curve) == len(log) == len(curve.held_g)
    assert not curve.held_g.flags.writeable
    assert abs(curve.held_g[-1] - 56.37) < 0.1


def test_a_bed_that_was_not_weighed_says_so_everywhere() -> None:
    log = pourline.Log(time_s=[0, 1, 2], water_g=[0, 1, 2])
    bed = pourline.analyze(log).bed
    for number in (bed.curve, bed.law, bed.first_drip_s, bed.drawdown_end_s, bed.beverage_g):
        assert isinstance(number, pourline.Undefined)
        assert number.reason == "the beverage was not weighed"


def test_permeability_needs_the_size_of_the_bed() -> None:
    without = pourline.analyze(drained()).bed.pours[0].permeability_m2
    assert isinstance(without, pourline.Undefined)
    assert without.reason == "flat_bed was not given"
    bed = pourline.analyze(drained(), pourline.Options(bed={"flat_bed": DARCY})).bed
    # 3 mL/s through that bed at 90 C: 2.113e-11 m2 (Darcy's law with IAPWS viscosity); 1 mL weighs 0.96531 g.
    share = float(bed.pours[0].conductance_g_per_s) / 0.96531 / 3
    assert math.isclose(float(bed.pours[0].permeability_m2), 2.113e-11 * share, rel_tol=1e-3)


@pytest.mark.parametrize(
    "options", [{"drip_g_per_s": 0}, {"pour_c": [101.0]}, {"flat_bed": DARCY | {"depth_mm": 0}}, {"transit_s": -1}]
)
def test_an_option_outside_its_range_is_refused(options: Any) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Options(bed=options)
    assert caught.value.kind == "out_of_range"


def test_the_table_has_the_columns_of_the_bed() -> None:
    columns = pourline.analyze(drained()).table(all=True).columns
    names = [
        "holdup_at_start_g",
        "drained_fraction_before",
        "drawdown_s",
        "conductance_g_per_s",
        "drawdown_end_s",
        "first_drip_s",
    ]
    for name in [*names, "retained_water_g_per_g", "retained_water_sd_g_per_g", "drained_fraction_before_sd"]:
        assert name in columns
