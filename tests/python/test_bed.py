"""The bed in Python: what is found, what is undefined and why, and what the options do."""

from __future__ import annotations

import math

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


def test_retained_water_is_retention_plus_yield() -> None:
    brew = pourline.analyze(drained())
    retained = float(brew.bed.retention_g_per_g) + float(brew.extraction.yield_pct) / 100
    assert abs(float(brew.bed.retained_water_g_per_g) - retained) < 1e-9


def test_the_stage_alone_gives_what_the_whole_way_gives() -> None:
    log = drained()
    trace = pourline.condition(log)
    segments = pourline.segment(trace)
    alone = pourline.bed(trace, segments, pourline.flow(trace, segments))
    whole = pourline.analyze(log).bed
    assert (alone.drawdown_end_s, alone.retention_g_per_g) == (whole.drawdown_end_s, whole.retention_g_per_g)
    without = pourline.bed(trace, segments).pours[0].held_at_start_g
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
def test_an_option_outside_its_range_is_refused(options: dict[str, object]) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Options(bed=options)
    assert caught.value.kind == "out_of_range"


def test_the_table_has_the_columns_of_the_bed() -> None:
    columns = pourline.analyze(drained()).table().columns
    names = ["held_at_start_g", "drained_share", "drawdown_s", "conductance_g_per_s", "drawdown_end_s", "first_drip_s"]
    for name in [*names, "retained_water_g_per_g", "retained_water_sd_g_per_g", "drained_share_sd"]:
        assert name in columns
