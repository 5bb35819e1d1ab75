"""Contrasts from Python, held against scipy, statsmodels and pingouin as they are installed."""

from __future__ import annotations

import itertools
import json
import math

import numpy as np
import pandas as pd
import pingouin as pg
import pytest
import statsmodels.formula.api as smf
from scipy import stats
from statsmodels.stats.anova import AnovaRM
from statsmodels.stats.power import TTestIndPower
from statsmodels.stats.weightstats import ttost_ind

import pourline
from pourline import Estimate, Undefined

RNG = np.random.default_rng(20)
A = RNG.normal(5, 1, 7).round(3).tolist()
B = RNG.normal(6, 2, 6).round(3).tolist()
THIRD = RNG.normal(5.5, 1, 5).round(3).tolist()


def value(number: Estimate | Undefined) -> float:
    assert isinstance(number, Estimate), number
    return number.value


def ends(interval: tuple[float, float] | Undefined) -> tuple[float, float]:
    assert not isinstance(interval, Undefined), interval
    return interval


def labels(**groups: list[float]) -> tuple[list[float], list[str]]:
    values = [value for group in groups.values() for value in group]
    return values, [name for name, group in groups.items() for _ in group]


def test_two_groups_are_those_of_scipy_and_pingouin() -> None:
    pair = pourline.contrast(*labels(a=A, b=B), margin=4.0).pairs[0]
    welch = stats.ttest_ind(B, A, equal_var=False)
    assert (value(pair.t), pair.degrees, value(pair.p_model)) == pytest.approx(
        (welch.statistic, welch.df, welch.pvalue)
    )
    assert ends(pair.interval) == pytest.approx(tuple(welch.confidence_interval(0.95)))
    # Seven and six: p is that of Welch's t, of which the interval is the inversion.
    assert value(pair.p) == pytest.approx(welch.pvalue)
    # pingouin corrects by 1 - 3/(4 N - 9), the library exactly: they part by less than 1 in 1000 here.
    assert value(pair.hedges_g) == pytest.approx(pg.compute_effsize(B, A, eftype="hedges"), rel=1e-3)
    assert pair.equivalence is not None
    assert value(pair.equivalence.p) == pytest.approx(ttost_ind(B, A, -4, 4, usevar="unequal")[0])


def test_groups_of_equal_counts_are_dealt() -> None:
    x, y = A[:6], B
    pair = pourline.contrast(*labels(a=x, b=y)).pairs[0]
    dealt = stats.permutation_test((y, x), lambda u, v, axis: u.mean(axis) - v.mean(axis), n_resamples=10_000)
    assert value(pair.p) == pytest.approx(dealt.pvalue)
    assert pair.arrangements == math.comb(12, 6)

    # The interval by the test of scipy: shifts of the second group that it does not reject.
    def p_of(shift: float) -> float:
        moved = np.array(y) - shift
        tested = stats.permutation_test((moved, x), lambda u, v, axis: u.mean(axis) - v.mean(axis), n_resamples=10_000)
        return float(tested.pvalue)

    low, high = ends(pair.interval)
    assert [p_of(low - 1e-6) > 0.05, p_of(low + 1e-6) > 0.05] == [False, True]
    assert [p_of(high + 1e-6) > 0.05, p_of(high - 1e-6) > 0.05] == [False, True]


def test_all_pairs_of_unequal_counts_are_those_of_games_and_howell() -> None:
    found = pourline.contrast(*labels(a=A, b=B, c=THIRD))
    frame = pd.DataFrame(dict(zip(("y", "g"), labels(a=A, b=B, c=THIRD), strict=True)))
    expected = pg.pairwise_gameshowell(data=frame, dv="y", between="g")
    assert [value(pair.p) for pair in found.pairs] == pytest.approx(expected["pval"].tolist(), rel=1e-5)
    for pair, error, degrees in zip(found.pairs, expected["se"], expected["df"], strict=True):
        half = stats.studentized_range.ppf(0.95, 3, degrees) / math.sqrt(2) * error
        middle = pair.difference.value
        assert ends(pair.interval) == pytest.approx((middle - half, middle + half), rel=1e-5)
    anova = pg.welch_anova(data=frame, dv="y", between="g")
    assert value(found.overall_f) == pytest.approx(float(anova["F"].iloc[0]))


def test_blocks_are_those_of_least_squares_and_of_all_arrangements() -> None:
    values = [5.1, 5.6, 5.9, 5.0, 7.4, 7.1, 8.3, 8.0, 6.1, 6.0, 6.6]
    kettle = ["x", "y", "y", "x", "x", "x", "y", "y", "x", "x", "y"]
    person = ["A", "A", "A", "A", "B", "B", "B", "B", "C", "C", "C"]
    pair = pourline.contrast(values, kettle, blocks={"person": person}).pairs[0]
    frame = pd.DataFrame({"y": values, "k": kettle, "p": person})
    fit = smf.ols("y ~ C(p) + C(k)", frame).fit()
    step = "C(k)[T.y]"
    assert (pair.difference.value, pair.difference.sd) == pytest.approx((fit.params[step], fit.bse[step]))
    assert value(pair.p_model) == pytest.approx(fit.pvalues[step])

    # Every way to deal the kettles within people, each fitted by numpy's least squares.
    def size_of_t(is_y: np.ndarray) -> float:
        design = np.column_stack([[p == q for p in person] for q in "ABC"] + [is_y]).astype(float)
        solved, left, *_ = np.linalg.lstsq(design, np.array(values), rcond=None)
        variance = left[0] / (len(values) - 4) * np.linalg.inv(design.T @ design)[3, 3]
        return float(abs(solved[3]) / math.sqrt(variance))

    rows = {q: [i for i, p in enumerate(person) if p == q] for q in "ABC"}
    count = {q: sum(kettle[i] == "y" for i in rows[q]) for q in "ABC"}
    all_t = []
    for chosen in itertools.product(*(itertools.combinations(rows[q], count[q]) for q in "ABC")):
        is_y = np.zeros(len(values))
        is_y[[i for part in chosen for i in part]] = 1
        all_t.append(size_of_t(is_y))
    seen = size_of_t(np.array([k == "y" for k in kettle], dtype=float))
    assert pair.arrangements == len(all_t)
    assert value(pair.p) == pytest.approx(np.mean(np.array(all_t) >= seen * (1 - 1e-9)))


def test_balanced_people_like_these_are_those_of_the_mixed_model() -> None:
    people, values, kettle, person = 5, [], [], []
    for who in range(people):
        own = RNG.normal(0, 1, 2)
        for k in range(6):
            values.append(round(20 + own[k % 2] + 0.5 * (k % 2) + RNG.normal(), 3))
            kettle.append("xy"[k % 2])
            person.append(f"person {who}")
    found = pourline.contrast(values, kettle, blocks={"person": person}, over="people like these")
    pair = found.pairs[0]
    means = pd.DataFrame({"y": values, "k": kettle, "p": person}).groupby(["p", "k"])["y"].mean().unstack()
    # Balanced, the F of kettle against person by kettle is the square of the paired t of the people's means.
    expected = stats.ttest_rel(means["y"], means["x"])
    assert found.inference == "people"
    assert (value(pair.t), pair.degrees, value(pair.p)) == pytest.approx(
        (expected.statistic, people - 1, expected.pvalue)
    )
    assert ends(pair.interval) == pytest.approx(tuple(expected.confidence_interval(0.95)))
    frame = pd.DataFrame({"flow": values, "kettle": kettle, "person": person})
    anova = AnovaRM(frame, "flow", "person", within=["kettle"], aggregate_func="mean").fit().anova_table
    assert value(pair.t) ** 2 == pytest.approx(float(anova["F Value"].iloc[0]))
    with pytest.raises(pourline.PourlineError, match="need a block"):
        pourline.contrast(values, kettle, blocks={"day": person}, over="people like these")


def test_pairs_are_those_of_the_paired_test() -> None:
    x, y = np.array(A), np.array(A) + RNG.normal(0.5, 0.4, len(A))
    days = [f"day {i}" for i in range(len(x))]
    pair = pourline.contrast([*x, *y], ["x"] * len(x) + ["y"] * len(y), blocks={"day": days * 2}).pairs[0]
    paired = stats.ttest_rel(y, x)
    assert (value(pair.t), value(pair.p_model)) == pytest.approx((paired.statistic, paired.pvalue))
    dealt = stats.permutation_test((y, x), lambda u, v: np.mean(u - v), permutation_type="samples", vectorized=False)
    assert value(pair.p) == pytest.approx(dealt.pvalue)


def test_the_power_is_that_of_statsmodels() -> None:
    power = TTestIndPower()
    # The largest p of 4 and 4 that is below 0.05 is 2 of 70.
    for effect, brews, alpha in [(0.4, 30, 0.05), (1.1, 9, 0.05), (2.0, 4, 2 / 70)]:
        assert pourline.power(effect * 2, 2.0, brews) == pytest.approx(power.power(effect, brews, alpha))
        needed = power.solve_power(effect, power=0.9, alpha=0.01)
        assert pourline.sample_size(effect * 2, 2.0, power=0.9, level=0.99) == math.ceil(needed)
        # Its own search for the effect stops at 2e-6; its power of the effect found here is exact.
        assert power.power(pourline.minimum_detectable_difference(brews, 2.0) / 2, brews, alpha) == pytest.approx(
            0.8, rel=1e-8
        )


def test_what_cannot_carry_a_p_says_why() -> None:
    people = ["Ada"] * 4 + ["Bo"] * 4
    found = pourline.contrast(
        [5.1, 5.2, 5.0, 5.3, 6.1, 6.0, 6.2, 6.3], ["x"] * 4 + ["y"] * 4, blocks={"person": people}
    )
    pair = found.pairs[0]
    assert isinstance(pair.p, Undefined)
    assert "single person" in pair.p.reason
    assert any("single person" in warning for warning in found.warnings)
    assert pair.difference.value == pytest.approx(1.0)
    table = found.table()
    assert np.isnan(table["p"][0])
    assert "single person" in table["p_reason"][0]
    assert "reason" in json.loads(found.to_json())["pairs"][0]["p"]


def test_what_is_wrong_is_said() -> None:
    with pytest.raises(pourline.PourlineError, match="drawz"):
        pourline.contrast([1, 2], ["a", "b"], drawz=3)  # type: ignore[call-arg]
    with pytest.raises(pourline.PourlineError, match="there is one group"):
        pourline.contrast([1, 2], ["a", "a"])
    with pytest.raises(pourline.PourlineError, match="leave it"):
        pourline.contrast([1, Undefined("no yield")], ["a", "b"])
    with pytest.raises(pourline.PourlineError, match="margin"):
        pourline.equivalence(Estimate(0.1, 0.2), 20, margin=-1)


def test_plain_numbers_carry_the_guards_of_a_comparison() -> None:
    flow = [6.1, 6.9, 6.3, 7.0, 6.0, 7.1, 6.2, 6.8, 6.1, 7.2, 6.2, 12.0]
    kettle, person = ["a", "b"] * 6, ["Ada"] * 6 + ["Bo"] * 6
    plain = pourline.contrast(flow, kettle, blocks={"person": person})
    table = pourline.Table({"group": kettle, "person": person, "value": flow})
    whole = pourline.compare(table, "value", by="group", blocks=["person"])
    kinds = [one.kind for one in plain.cautions]
    assert kinds == [one.kind for one in whole.cautions]
    assert {"order_unknown", "few_people", "outlier"} <= set(kinds)
    assert len(pourline.contrast(flow, kettle, blocks={"group": person}).cautions) > 0
