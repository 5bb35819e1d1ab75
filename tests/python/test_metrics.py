"""Metrics in Python: the flow of two pours against arithmetic, the options, the table."""

from __future__ import annotations

import math

import pytest

import pourline


def known(number: pourline.Estimate | pourline.Undefined) -> pourline.Estimate:
    assert isinstance(number, pourline.Estimate), number
    return number


def test_a_steady_pour_has_its_flow_and_no_beat(brew: pourline.Brew) -> None:
    first, second = brew.metrics.pours
    # 6 and 5 g/s by construction, 35 - 20 s of rest.
    assert float(first.plateau_flow_g_per_s) == pytest.approx(6.0, abs=0.05)
    assert float(second.plateau_flow_g_per_s) == pytest.approx(5.0, abs=0.05)
    assert float(second.rest_before_s) == pytest.approx(15.0, abs=0.3)
    assert not first.rest_before_s
    assert float(first.water_share_pct) == pytest.approx(50.0, abs=0.5)
    for pour in (first, second):
        assert isinstance(pour.pulsing_hz, pourline.Undefined)
        assert "false-alarm" in pour.pulsing_hz.reason
        assert 0 <= float(pour.pulsing_p) <= 1
        # No beat by construction: the flow CV is bounded, and not distinguishable from 0.
        assert float(pour.flow_cv) <= float(pour.flow_cv_upper) < 0.05
        assert not pour.flow_cv_resolved
        assert float(pour.pauses) == pytest.approx(0.0, abs=0.05)
    assert float(brew.metrics.longest_rest_s) == float(second.rest_before_s)
    assert float(brew.metrics.pouring_flow_g_per_s) == pytest.approx(120 / 22, rel=0.03)


def test_a_beat_has_its_frequency_and_amplitude() -> None:
    recipe = pourline.recipe("clean")
    recipe["hand"] |= {"tremor": [0.1, 0.1], "tremor_hz": [0.9, 0.9], "tremor_waves": [1, 1], "mass_g": [80, 80]}
    recipe["hand"] |= {"flow_g_per_s": [8, 8]}
    log, _ = pourline.simulate(recipe, seed=4)
    for pour in pourline.analyze(log).metrics.pours:
        assert float(pour.pulsing_hz) == pytest.approx(0.9, abs=0.05)
        assert abs(float(pour.pulsing_amplitude_g_per_s) - 0.8) < 3 * known(pour.pulsing_amplitude_g_per_s).sd + 0.05
        # A sine of that amplitude: the share over the root of two.
        assert abs(float(pour.flow_cv) - 0.1 / math.sqrt(2)) < 3 * known(pour.flow_cv).sd
        assert pour.flow_cv_resolved
        assert float(pour.flow_cv) <= float(pour.flow_cv_upper)


def test_measures_are_columns_of_the_table(brew: pourline.Brew) -> None:
    frame = brew.table(all=True).to_pandas()
    for name in (
        "plateau_flow_g_per_s",
        "peak_flow_g_per_s",
        "flow_cv",
        "flow_cv_sd",
        "flow_cv_upper",
        "flow_cv_resolved",
        "drift_g_per_s2",
        "pulsing_hz",
        "smoothness",
    ):
        assert name in frame
    for name in ("plateau_flow_sd_g_per_s", "drift_sd_g_per_s2", "pulsing_sd_hz"):
        assert name in frame
    assert frame["pulsing_hz"].isna().all()
    assert frame["flow_cv_resolved"].tolist() == [0, 0]
    assert (frame["flow_cv"] <= frame["flow_cv_upper"]).all()


def test_a_study_has_the_flow_cv_of_every_pour(brew: pourline.Brew) -> None:
    row = pourline.gather([brew]).table()
    values = [float(pour.flow_cv) for pour in brew.metrics.pours]
    assert row["flow_cv"][0] == pytest.approx(sum(values) / len(values), rel=1e-12)
    each = pourline.gather([brew], pours="each").table()
    assert each["flow_cv"].tolist() == values


def test_options_reach_the_stage_and_wrong_ones_are_refused(log: pourline.Log) -> None:
    trace = pourline.condition(log)
    segments = pourline.segment(trace)
    # The flow is level by arithmetic: 10 % is wider than the posterior's scatter, 0.1 % is narrower.
    usual, narrow = (
        known(pourline.metrics(trace, segments, near=near).pours[0].time_near_plateau_pct) for near in (0.1, 0.001)
    )
    assert usual.value > 99
    assert narrow.value < 50
    short = pourline.metrics(trace, segments, plateau_inset_s=9.0).pours[0]
    assert "shorter than 1 s" in short.plateau_flow_g_per_s.reason  # type: ignore[union-attr]
    with pytest.raises(pourline.PourlineError) as refused:
        pourline.Options(metrics={"near": 2})
    assert refused.value.kind == "out_of_range"
    assert pourline.Options(metrics={"near": 0.2}).to_dict()["metrics"]["near"] == 0.2
    # A pause with more flow than a pour contradicts it.
    options = pourline.Options(metrics={"pause_flow_g_per_s": 0.8})
    with pytest.raises(pourline.PourlineError, match=r"at most segment\.flow_g_per_s"):
        pourline.analyze(log, options)


def test_the_hand_without_water_says_why(time_s: object, beverage_g: object) -> None:
    brew = pourline.analyze(pourline.Log(time_s, None, beverage_g))  # type: ignore[arg-type]
    assert brew.metrics.pours == []
    assert not brew.metrics.longest_rest_s
