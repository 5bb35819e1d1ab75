"""Small values: Estimate, Undefined, Meta, Options, Score."""

from __future__ import annotations

import json
import math
import pickle
import threading
import time
from typing import Any

import numpy as np
import pytest

import pourline


def test_an_estimate_shows_the_digits_that_its_sd_supports() -> None:
    assert str(pourline.Estimate(60.0234, 0.112)) == "60.02 ± 0.11"
    assert f"{pourline.Estimate(60.0234, 0.112):.1f}" == "60.0 ± 0.1"
    assert repr(pourline.Estimate(1.5)) == "Estimate(1.5, sd=0.0)"


def test_an_estimate_is_equal_by_value_and_sd_and_true_even_at_zero() -> None:
    assert pourline.Estimate(1, 0.5) == pourline.Estimate(1.0, 0.5) != pourline.Estimate(1.0, 0.6)
    assert hash(pourline.Estimate(1, 0.5)) == hash(pourline.Estimate(1.0, 0.5))
    assert pourline.Estimate(0.0)


@pytest.mark.parametrize(("value", "sd"), [(math.nan, 0), (math.inf, 0), (1, -0.1), (1, math.nan)])
def test_an_estimate_is_finite_with_an_sd_of_0_or_more(value: float, sd: float) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Estimate(value, sd)
    assert caught.value.kind == "argument"


def test_an_undefined_number_is_falsy_and_raises_its_reason() -> None:
    undefined = pourline.Undefined("the beverage was not weighed")
    assert not undefined
    with pytest.raises(pourline.PourlineError, match="the beverage was not weighed") as caught:
        float(undefined)
    assert caught.value.kind == "undefined"
    assert f"{undefined:.2f}" == "undefined"


def test_a_yield_without_dose_is_undefined_with_its_reason() -> None:
    for dose_g in (None, 0.0):
        found = pourline.extraction(pourline.Meta(dose_g=dose_g, tds_pct=1.3), 270.0, 240.0)
        assert isinstance(found.yield_pct, pourline.Undefined)
        assert "dose_g" in found.yield_pct.reason


def test_the_extraction_of_the_paper_comes_out() -> None:
    # Batali, Ristenpart, Guinard 2020, Sci. Rep. 10, doi 10.1038/s41598-020-73341-4: E = T B / D; the budget by
    # JCGM 100:2008, first order, with u(T) .03 %, u(D) = u(B) = .1 g.
    meta = pourline.Meta(dose_g=15, tds_pct=1.38, dose_sd_g=0.1, tds_sd_pct=0.03)
    found = pourline.extraction(meta, None, pourline.Estimate(240.0, 0.1))
    assert isinstance(found.yield_pct, pourline.Estimate)
    assert found.yield_pct.value == pytest.approx(22.08, abs=1e-9)
    assert found.yield_pct.sd == pytest.approx(0.502, abs=1e-3)
    assert {row.name: round(row.contribution_pct, 3) for row in found.budget} == {
        "tds_pct": 0.480, "dose_g": 0.147, "beverage_g": 0.009,
    }  # fmt: skip


def test_metadata_takes_numbers_for_texts_as_they_are_written() -> None:
    meta = pourline.Meta(grinder_setting=22, kettle=np.str_("Fernspout"), dose_g=np.float64(15), factors={"day": "2"})
    assert meta.to_dict() == {"dose_g": 15.0, "grinder_setting": "22", "kettle": "Fernspout", "factors": {"day": "2"}}
    assert meta == pourline.Meta(grinder_setting="22", kettle="Fernspout", dose_g=15, factors={"day": "2"})


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    for wrong in (
        lambda: pourline.Meta(doseg=15),  # type: ignore[call-arg]
        lambda: pourline.Log([0, 1, 2], [0, 1, 2], doseg=15),  # type: ignore[call-arg]
    ):
        with pytest.raises(pourline.PourlineError, match='nearest is "dose_g"') as caught:
            wrong()
        assert caught.value.column == "doseg"
    with pytest.raises(AttributeError, match='nearest is "kettle"'):
        _ = pourline.Meta().ketle  # type: ignore[attr-defined]


def test_options_show_what_is_not_at_its_default() -> None:
    options = pourline.Options(condition={"scale_lag_s": 0.25}, segment={"pause_s": 1.0})
    assert repr(options) == "Options(condition={'scale_lag_s': 0.25})"
    assert options.changed() == {"condition": {"scale_lag_s": 0.25}}
    assert options == pourline.Options(condition={"scale_lag_s": 0.25})


@pytest.mark.parametrize(
    ("stage", "given", "kind", "said"),
    [
        ("condition", {"scale_lag": 0.2}, "argument", 'nearest is "scale_lag_s"'),
        ("condition", {"scale_lag_s": "0.2"}, "argument", "condition.scale_lag_s"),
        ("condition", {"scale_lag_s": -1}, "out_of_range", "scale_lag_s is -1"),
        ("condition", {"scale_lag_s": math.nan}, "argument", "not finite"),
        ("condition", {"scale_lag_s": [1]}, "argument", "condition.scale_lag_s"),
        ("condition", {3: 1}, "argument", "not a name"),
        ("segment", {"half": 0.9}, "out_of_range", "segment.half is 0.9"),
        ("segment", 3, "argument", "a dict is needed"),
        ("extraction", {"retention_g_per_g": 0}, "out_of_range", "retention_g_per_g is 0"),
    ],
)
def test_a_wrong_option_is_named_with_the_rule(stage: str, given: object, kind: str, said: str) -> None:
    with pytest.raises(pourline.PourlineError, match=said) as caught:
        pourline.Options(**{stage: given})  # type: ignore[arg-type]
    assert caught.value.kind == kind


def called_alone(stage: str, options: Any) -> object:
    log = pourline.datasets.load("fernspout-ada-01")
    if stage == "condition":
        return pourline.condition(log, **options)
    if stage == "extraction":
        return pourline.extraction(log.meta, water_g=240.0, beverage_g=200.0, **options)
    trace = pourline.condition(log)
    if stage == "segment":
        return pourline.segment(trace, **options)
    segments = pourline.segment(trace)
    if stage == "metrics":
        return pourline.metrics(trace, segments, **options)
    flow = pourline.flow(trace, segments)
    if stage == "agitation":
        return pourline.agitation(trace, segments, flow, **options)
    return pourline.bed(trace, segments, flow, **options)


@pytest.mark.parametrize(
    ("stage", "option", "limit", "beyond"),
    [
        ("condition", "scale_lag_s", 5.0, 5.001),
        ("segment", "half", 0.8, 0.801),
        ("metrics", "plateau_inset_s", 0.1, 0.099),
        ("agitation", "fall_height_m", 2.0, 2.001),
        ("bed", "transit_s", 60.0, 60.001),
        ("extraction", "moisture_pct", 0.0, -0.001),
    ],
)
def test_a_stage_called_alone_checks_its_options(stage: str, option: str, limit: float, beyond: float) -> None:
    called_alone(stage, {option: limit})
    within: dict[str, Any] = {stage: {option: limit}}
    pourline.Options(**within)
    with pytest.raises(pourline.PourlineError, match=f"{option} is {beyond}") as alone:
        called_alone(stage, {option: beyond})
    with pytest.raises(pourline.PourlineError) as together:
        pourline.Options(**{**within, stage: {option: beyond}})
    assert alone.value.kind == together.value.kind == "out_of_range"
    assert str(alone.value) == str(together.value)


def test_the_bed_checks_the_options_of_the_balance_that_it_is_given() -> None:
    trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
    segments = pourline.segment(trace)
    pourline.bed(trace, segments, extraction={"retention_g_per_g": 2.0})
    with pytest.raises(pourline.PourlineError, match=r"extraction\.retention_g_per_g is 0") as caught:
        pourline.bed(trace, segments, extraction={"retention_g_per_g": 0.0})
    assert caught.value.kind == "out_of_range"


def test_options_reach_the_stages(log: pourline.Log) -> None:
    brew = pourline.analyze(log, pourline.Options(condition={"scale_lag_s": 0.25}, segment={"mass_g": 100}))
    assert (len(brew.pours), brew.segments.response.source, brew.segments.response.delay_s.value) == (0, "given", 0.25)
    assert len(pourline.segment(pourline.condition(log), mass_g=100).pours) == 0


def test_an_error_survives_pickling() -> None:
    error = pourline.PourlineError("column x", "column", 3, "x")
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.kind, again.row, again.column) == ("column x", "column", 3, "x")
    assert isinstance(again, ValueError)


def test_a_brew_as_json_holds_what_the_brew_holds(brew: pourline.Brew) -> None:
    told = json.loads(brew.to_json())
    assert told["segments"]["pours"][0]["mass_g"]["value"] == brew.pours[0].mass_g.value
    assert told["options"] == brew.options.to_dict()
    assert told["version"] == pourline.__version__ == brew.version


def test_scores_add_up() -> None:
    total = None
    for seed in (1, 2):
        log, truth = pourline.simulate("clean", seed)
        score = pourline.score(truth, pourline.analyze(log))
        total = score if total is None else total + score
    assert total is not None
    assert total.brews == 2
    assert (total.matched, len(total.mass_g)) == (total.true_pours, total.true_pours)
    assert total.edge_error_s < 0.1


def test_the_same_recipe_and_seed_give_the_same_log() -> None:
    one, _ = pourline.simulate("usual", 9)
    other, _ = pourline.simulate("usual", 9)
    np.testing.assert_array_equal(one.water_g, other.water_g)
    with pytest.raises(pourline.PourlineError):
        pourline.simulate(seed=-1)
    with pytest.raises(pourline.PourlineError, match='nearest is "usual"'):
        pourline.simulate("usal")
    with pytest.raises(pourline.PourlineError, match=r"recipe\.hand\.pors"):
        pourline.simulate({"hand": {"pors": [1, 2]}})


def test_python_goes_on_while_a_long_log_is_analysed() -> None:
    time_s = np.arange(200_000) / 500
    water_g = 6.0 * np.clip(time_s - 100, 0, 10) + np.random.default_rng(1).normal(0, 0.05, len(time_s))
    log = pourline.Log(time_s, water_g)
    ticks: list[float] = []
    done = threading.Event()

    def tick() -> None:
        while not done.is_set():
            ticks.append(time.monotonic())
            time.sleep(0.002)

    other = threading.Thread(target=tick)
    other.start()
    start = time.monotonic()
    pourline.analyze(log)
    end = time.monotonic()
    done.set()
    other.join()
    # With Python's lock held there would be none between start and end.
    assert sum(start < one < end for one in ticks) > 10
