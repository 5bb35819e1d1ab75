"""The mass balance from Python: options, Monte Carlo, questions asked backwards, the chart, fractions, learnt
retention.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from uncertainties import ufloat

import pourline
from pourline import Estimate, Undefined, balance

META = pourline.Meta(dose_g=15, tds_pct=1.38)


def value(number: Estimate | Undefined) -> float:
    assert isinstance(number, Estimate), number
    return number.value


def test_options_reach_the_balance() -> None:
    # Exact balance of full immersion, E = T/(1 - T) W/D, and E/(1 - m) with 3 % of moisture; own arithmetic.
    soaked = pourline.extraction(pourline.Meta(dose_g=20, tds_pct=1.38), water_g=300, convention="immersion")
    assert (soaked.convention, round(value(soaked.yield_pct), 4)) == ("immersion", 20.9897)
    dry = pourline.extraction(META, water_g=270, beverage_g=240, moisture_pct=3.0)
    assert value(dry.yield_pct) == pytest.approx(22.08 / 0.97)
    thinned = pourline.extraction(pourline.Meta(dose_g=15, tds_pct=1.5), beverage_g=200, bypass_g=50)
    assert (value(thinned.cup_g), value(thinned.cup_strength_pct)) == pytest.approx((250, 1.2))
    brix = pourline.extraction(pourline.Meta(dose_g=15, brix_pct=1.6), beverage_g=240, brix_factor=0.85)
    assert value(brix.strength_pct) == pytest.approx(1.36)
    spent = pourline.extraction(META, water_g=270, beverage_g=240)
    assert value(spent.retained_water_g_per_g) == pytest.approx(2.0 + 0.2208)
    assert value(spent.spent_water_g_per_g) == pytest.approx(2.2208 / 0.7792)
    assert value(spent.spent_moisture_pct) == pytest.approx(100 * 2.2208 / 3.0)
    with pytest.raises(pourline.PourlineError, match="soaking"):
        pourline.Options(extraction={"convention": "soaking"})  # type: ignore[arg-type]


@pytest.mark.parametrize("convention", ["percolation", "immersion"])
def test_the_budget_is_that_of_another_propagation_of_uncertainty(convention: Any) -> None:
    # The PyPI package uncertainties propagates to first order by its own automatic differentiation.
    dose, strength, beverage, water = (ufloat(*one) for one in ((15, 0.12), (1.38, 0.04), (240, 0.3), (270, 0.2)))
    moisture, gas = ufloat(2.5, 0.2), ufloat(0.5, 0.1)
    dry = dose * (1 - moisture / 100 - gas / 100)
    part = strength / 100
    expected = 100 * (part * beverage if convention == "percolation" else part / (1 - part) * water) / dry
    meta = pourline.Meta(dose_g=15, dose_sd_g=0.12, tds_pct=1.38, tds_sd_pct=0.04)
    dried: Any = {"moisture_pct": 2.5, "moisture_sd_pct": 0.2, "co2_pct": 0.5, "co2_sd_pct": 0.1}
    found = pourline.extraction(meta, Estimate(270, 0.2), Estimate(240, 0.3), convention=convention, **dried)
    assert isinstance(found.yield_pct, Estimate)
    assert found.yield_pct.value == pytest.approx(expected.nominal_value, rel=1e-12)
    assert found.yield_pct.sd == pytest.approx(expected.std_dev, rel=1e-9)
    kept = (water - beverage) / dose
    assert isinstance(found.retention_g_per_g, Estimate)
    assert found.retention_g_per_g.sd == pytest.approx(kept.std_dev, rel=1e-9)


def test_the_monte_carlo_method_agrees_with_draws_of_another_generator() -> None:
    # numpy's own generator, inputs with sd so large that a straight formula would be off by several per cent.
    random = np.random.default_rng(1)
    n = 400_000
    drawn = random.normal(1.38, 0.2, n) * random.normal(240, 40, n) / random.normal(15, 1.2, n)
    meta = pourline.Meta(dose_g=15, dose_sd_g=1.2, tds_pct=1.38, tds_sd_pct=0.2)
    found = pourline.extraction(meta, beverage_g=Estimate(240, 40)).monte_carlo(draws=n, seed=7)
    assert isinstance(found, balance.MonteCarlo)
    assert found.yield_pct.sd == pytest.approx(drawn.std(), rel=0.01)
    assert found.yield_pct.value == pytest.approx(drawn.mean(), rel=0.003)
    assert found.interval_pct == pytest.approx(tuple(np.quantile(drawn, [0.025, 0.975])), rel=0.01)


def test_what_cannot_be_drawn_says_why() -> None:
    no_yield = pourline.extraction(pourline.Meta(dose_g=15), beverage_g=240).monte_carlo()
    assert isinstance(no_yield, Undefined)
    assert no_yield.reason == "tds_pct was not given"


def test_an_undefined_number_goes_through_a_question() -> None:
    unknown = pourline.extraction(pourline.Meta(dose_g=15), beverage_g=240).strength_pct
    for answer in (
        balance.beverage_for_g(20, 15, unknown),
        balance.ChartBox.scaa_2015().place(unknown, 20),
        balance.fractions([80], [unknown], 15),
    ):
        assert isinstance(answer, Undefined)
        assert answer.reason == "tds_pct was not given"
    with pytest.raises(TypeError, match="dose_g"):
        balance.beverage_for_g(20, "15", 1.3)  # type: ignore[arg-type]
    with pytest.raises(pourline.PourlineError, match="2 strengths for 1 masses"):
        balance.fractions([80], [1.0, 2.0], 15)


def test_retention_is_learnt_from_brews_that_were_weighed() -> None:
    brews = pourline.analyze_many([pourline.datasets.load(name) for name in pourline.datasets.names()])
    good = [brew for brew in brews if isinstance(brew, pourline.Brew)]
    weighed = [
        float(brew.extraction.retention_g_per_g) for brew in good if brew.extraction.beverage_source == "weighed"
    ]
    learnt = balance.learn_retention(good, by="kettle")
    assert sum(each.brews for each in learnt) == len(weighed) > 3
    by_hand = [[float(b.extraction.retention_g_per_g) for b in good if b.meta.kettle == each.group] for each in learnt]
    assert [each.mean_g_per_g.value for each in learnt] == pytest.approx([np.mean(each) for each in by_hand])
    # What was learnt goes into the options of a brew whose beverage was not weighed.
    following = learnt[0].next_g_per_g
    guessed = pourline.extraction(
        META, water_g=270, retention_g_per_g=following.value, retention_sd_g_per_g=following.sd
    )
    assert guessed.beverage_source == "from_retention"
    with pytest.raises(pourline.PourlineError, match="a Brew or a pair"):
        balance.learn_retention([1.9])  # type: ignore[list-item]
    with pytest.raises(pourline.PourlineError) as caught:
        balance.learn_retention(good, by="moon")
    assert caught.value.kind == "too_short"
