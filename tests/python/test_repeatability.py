"""Repeatability, ICC, crossed studies and agreement in Python: against scipy, pingouin and statsmodels, on studies, and
in figures.
"""

from __future__ import annotations

import importlib.resources
import warnings
from typing import Any

import matplotlib
import matplotlib.pyplot as plt
import numpy as np
import pandas
import pytest
from scipy import stats

import pourline

with warnings.catch_warnings():
    # Warnings of other libraries about each other are ignored.
    warnings.simplefilter("ignore")
    import pingouin
    import statsmodels.api
    import statsmodels.formula.api

matplotlib.use("agg")

RATINGS = [9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7]  # Shrout and Fleiss 1979, table 2


def interval(found: pourline.Interval | pourline.Undefined) -> pourline.Interval:
    assert isinstance(found, pourline.Interval), found
    return found


def components(found: pourline.Components | pourline.Undefined) -> pourline.Components:
    assert isinstance(found, pourline.Components), found
    return found


def certified(name: str) -> tuple[list[float], list[int], float, float]:
    """Values, treatments, and the certified F and residual sd of a set of NIST StRD, as the scipy wheel carries it."""
    path = importlib.resources.files("scipy.stats") / "tests" / "data" / "nist_anova" / f"{name}.dat"
    if not path.is_file():
        pytest.skip("this scipy comes without its test data")
    lines = path.read_text(encoding="utf-8").splitlines()
    f = next(float(line.split()[-1]) for line in lines if line.startswith("Between"))
    sd = next(float(line.split()[-1]) for line in lines if "Standard Deviation" in line)
    rows = [line.split() for line in lines[60:] if line.strip()]
    return [float(value) for _, value in rows], [int(treatment) for treatment, _ in rows], f, sd


@pytest.mark.parametrize(
    ("name", "least"),
    [(f"SmLs0{i}", digits) for i, digits in enumerate([1e-13] * 3 + [1e-9] * 3 + [1e-4] * 3, 1)]
    + [("SiRstv", 1e-12), ("AtmWtAg", 1e-9)],
)
def test_the_certified_values_of_the_files_come_out(name: str, least: float) -> None:
    values, treatments, f, sd = certified(name)
    found = pourline.repeatability(values, by=treatments)
    assert found.within_sd.value == pytest.approx(sd, rel=least)
    assert isinstance(found.difference, pourline.FTest)
    assert found.difference.f == pytest.approx(f, rel=least)


def test_repeatability_is_that_of_the_analysis_of_variance() -> None:
    random = np.random.default_rng(1)
    groups = [random.normal(m, 1.0, n) for m, n in ((60, 4), (61, 7), (59.2, 5), (60.4, 3))]
    found = pourline.repeatability(np.concatenate(groups), by=[i for i, g in enumerate(groups) for _ in g])
    expected = stats.f_oneway(*groups)
    assert isinstance(found.difference, pourline.FTest)
    assert found.difference.f == pytest.approx(expected.statistic, rel=1e-10)
    assert found.difference.p == pytest.approx(expected.pvalue, rel=1e-9)
    squares = sum(((g - g.mean()) ** 2).sum() for g in groups)
    low, high = (squares / stats.chi2.ppf([0.975, 0.025], 15)) ** 0.5
    assert (found.within_sd.low, found.within_sd.high) == pytest.approx((low, high), rel=1e-9)
    assert found.table().to_pandas()["mean"].to_list() == pytest.approx([g.mean() for g in groups])


def test_the_share_between_uneven_groups_has_the_interval_of_wald() -> None:
    # If the true value is an end of the interval, generalised least squares by statsmodels gives an F on its 2.5 % point.
    api = statsmodels.api
    values = np.array([60.1, 59.0, 61.8, 61.0, 62.9, 61.3, 62.0, 57.5, 58.4, 58.0, 60.6])
    groups = np.array([0, 0, 1, 1, 1, 1, 1, 2, 2, 3, 3])
    found = pourline.repeatability(values, by=groups)
    share = interval(found.between_share)
    for end, tail in ((share.low, 0.025), (share.high, 0.975)):
        same = groups[:, None] == groups[None, :]
        sigma = (1 - end) * np.eye(len(values)) + end * same
        constant = api.GLS(values, np.ones(len(values)), sigma).fit()
        full = api.GLS(values, np.column_stack([groups == g for g in range(4)]).astype(float), sigma).fit()
        between = (constant.ssr - full.ssr) / 3
        f = between / (full.ssr / 7)
        assert f == pytest.approx(stats.f.isf(tail, 3, 7), rel=1e-6)


def test_the_six_forms_are_those_of_pingouin() -> None:
    subjects, raters = [i // 4 for i in range(24)], [i % 4 for i in range(24)]
    found = pourline.icc(RATINGS, subjects=subjects, raters=raters)
    frame = pandas.DataFrame({"s": subjects, "r": raters, "y": RATINGS})
    decimals = pingouin.options["round.column.CI95"]
    pingouin.options["round.column.CI95"] = 10
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            expected = pingouin.intraclass_corr(frame, "s", "r", "y")
    finally:
        pingouin.options["round.column.CI95"] = decimals
    assert len(found.forms) == len(expected) == 6
    for form, (_, row) in zip(found.forms, expected.iterrows(), strict=True):
        assert form.icc.value == pytest.approx(row["ICC"], rel=1e-9)
        assert (form.icc.low, form.icc.high) == pytest.approx(tuple(row.filter(like="CI95").iloc[0]), abs=1e-8)
        assert (form.test.f, form.test.p) == pytest.approx((row["F"], row["pval"]), rel=1e-9)
    assert found.table()["form"][3] == "ICC(1,k)"


def mixed(frame: Any) -> dict[str, float]:
    """Variances by statsmodels: crossed effects of who, what and both."""
    frame = frame.assign(all=1, both=frame["who"] + frame["what"])
    parts = {name: f"0+C({name})" for name in ("who", "what", "both")}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = statsmodels.formula.api.mixedlm("y~1", frame, groups="all", vc_formula=parts)
        fit = model.fit(reml=True, method="nm", maxiter=20000)
    return {**dict(zip(model.exog_vc.names, fit.vcomp, strict=True)), "rest": fit.scale}


def test_reml_of_an_uneven_study_is_that_of_statsmodels() -> None:
    random = np.random.default_rng(5)
    who, what, y = [], [], []
    people, kettles = random.normal(0, 0.8, 5), random.normal(0, 1.0, 3)
    both = random.normal(0, 0.6, (5, 3))
    for i in range(5):
        for j in range(3):
            for _ in range(0 if (i, j) == (2, 1) else int(random.integers(1, 5))):
                who.append(f"p{i}")
                what.append(f"k{j}")
                y.append(6 + people[i] + kettles[j] + both[i, j] + random.normal(0, 0.3))
    found = pourline.crossed(y, rows=who, columns=what)
    expected = mixed(pandas.DataFrame({"who": who, "what": what, "y": y}))
    reml = components(found.reml)
    assert isinstance(reml.interaction, pourline.Component)
    ours = {"who": reml.rows, "what": reml.columns, "both": reml.interaction, "rest": reml.repeatability}
    for name, component in ours.items():
        # Nelder and Mead stop near the optimum, not on it.
        assert component.sd.value == pytest.approx(expected[name] ** 0.5, rel=2e-3, abs=1e-4), name
    assert isinstance(found.anova, pourline.Undefined)
    assert "cells differ" in found.anova.reason


def test_limits_of_agreement_have_the_exact_interval() -> None:
    random = np.random.default_rng(3)
    one = random.normal(60, 10, 9)
    other = one + random.normal(0.3, 0.5, 9)
    found = pourline.agreement(one, other)
    difference, z, root = one - other, stats.norm.ppf(0.975), 3.0
    ends = stats.nct.ppf([0.025, 0.975], 8, z * root) * difference.std(ddof=1) / root
    assert (found.upper_limit.low, found.upper_limit.high) == pytest.approx(tuple(difference.mean() + ends), abs=1e-5)
    assert (found.lower_limit.high, found.lower_limit.low) == pytest.approx(tuple(difference.mean() - ends), abs=1e-5)
    line = stats.linregress((one + other) / 2, difference)
    assert interval(found.slope).value == pytest.approx(line.slope, rel=1e-9)
    assert found.slope_p == pytest.approx(line.pvalue, rel=1e-9)


def own() -> pourline.Table:
    people, kettles = ["Ada", "Bo", "Cy"], ["thin", "wide"]
    rows = [(p, k, n) for p in people for k in kettles for n in range(3)]
    flow = [5.1 + 0.4 * people.index(p) + 0.9 * kettles.index(k) + 0.1 * ((7 * n + len(p)) % 3) for p, k, n in rows]
    return pourline.Table(
        {
            "brew": [f"{p}-{k}-{n}" for p, k, n in rows],
            "person": [p for p, _, _ in rows],
            "kettle": [k for _, k, _ in rows],
            "flow_g_per_s": [*flow[:-1], float("nan")],
            "flow_sd_g_per_s": [0.02] * len(rows),
        }
    )


def test_a_study_gives_the_values_and_says_what_is_missing() -> None:
    found = pourline.repeatability(own(), measure="flow_g_per_s", by="person")
    assert (found.brews, sorted(set(found.labels))) == (17, ["Ada", "Bo", "Cy"])
    assert found.of_scale_sd == pytest.approx(0.02)
    assert any("1 of flow_g_per_s missing" in warning and "Cy-wide-2" in warning for warning in found.warnings)
    crossed = pourline.crossed(pourline.Study(own()), measure="flow_g_per_s", rows="person", columns="kettle")
    assert crossed.rows == ["Ada", "Bo", "Cy"]
    assert set(crossed.table()["method"]) == {"reml"}


def test_pours_of_one_brew_are_not_brews() -> None:
    brews = [pourline.analyze(pourline.datasets.load(name)) for name in ("fernspout-ada-01", "broadlip-ada-09")]
    study = pourline.gather(brews, pours="each")
    with pytest.raises(pourline.PourlineError, match="not independent"):
        pourline.repeatability(study, measure="mean_flow_g_per_s", by="kettle")


def test_wrong_arguments_are_named() -> None:
    with pytest.raises(pourline.PourlineError, match="by: one per brew is needed"):
        pourline.repeatability([1.0, 2.0], by="person")
    with pytest.raises(pourline.PourlineError, match="by: 1 for 2 values"):
        pourline.repeatability([1.0, 2.0], by=["a"])
    with pytest.raises(pourline.PourlineError, match="row 2") as refused:
        pourline.repeatability([1.0, float("nan")], by=["a", "a"])
    assert refused.value.kind == "not_finite"
    with pytest.raises(pourline.PourlineError, match="row 1: undefined: not weighed"):
        pourline.agreement([pourline.Undefined("not weighed"), 1.0, 2.0], [1.0, 1.0, 2.0])
    with pytest.raises(pourline.PourlineError, match='there is no factor "cup"'):
        pourline.repeatability(own(), measure="flow_g_per_s", by="cup")


def test_an_interval_reads_as_a_number_and_in_words() -> None:
    found = pourline.repeatability([1.0, 2.0, 3.0], by=["a", "a", "a"])
    assert float(found.within_sd) == 1.0
    assert f"{found.within_sd:.1f}" == "1.0 (0.5 to 6.3)"
    assert str(found.within_sd) == "1 (0.5207 to 6.285)"
    assert not found.between_sd


def test_figures_show_every_brew_and_take_axes() -> None:
    _, (left, right) = plt.subplots(1, 2)
    spread = pourline.repeatability(own(), measure="flow_g_per_s", by="person")
    assert pourline.plot_repeatability(spread, left, label="flow, g/s") is left
    dots = [line for line in left.lines if line.get_marker() == "o"]
    assert sum(np.size(line.get_xdata()) for line in dots) == 17
    assert [text.get_text() for text in left.get_xticklabels()] == ["Ada", "Bo", "Cy"]
    pairs = pourline.agreement([1.0, 2.0, 3.0, 4.0], [1.1, 1.9, 3.2, 4.0])
    assert pourline.plot_agreement(pairs, right) is right
    assert any("bias" in text.get_text() for text in right.texts)
    plt.close("all")
