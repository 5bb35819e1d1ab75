"""Dialling in and the mean beverage from Python, held against scipy and numpy as they run."""

from __future__ import annotations

import json

import matplotlib as mpl
import numpy as np
import pytest
from scipy import optimize, stats

import pourline
from pourline import Estimate, SettingInterval, Undefined

mpl.use("agg")
import matplotlib.pyplot as plt

CLICKS = np.repeat([18.0, 20, 22, 24, 26, 28], 2)
HARDLY = [1.40, 1.36, 1.42, 1.38, 1.35, 1.41, 1.37, 1.43, 1.36, 1.37, 1.34, 1.39]


def brewed(seed: int, slope: float = -0.024, sd: float = 0.02) -> np.ndarray:
    return 1.4 + slope * (CLICKS - 23) + np.random.default_rng(seed).normal(0, sd, len(CLICKS))


def known(found: Estimate | Undefined) -> Estimate:
    assert isinstance(found, Estimate), found
    return found


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_that_of_scipy(seed: int) -> None:
    y = brewed(seed)
    dialled, expected = pourline.dial_in(CLICKS, y), stats.linregress(CLICKS, y)
    line = dialled.line
    assert isinstance(line, pourline.DialLine)
    assert (line.slope.value, line.slope.sd) == pytest.approx((expected.slope, expected.stderr), rel=1e-11)
    assert (line.intercept.value, line.intercept.sd) == pytest.approx((expected.intercept, expected.intercept_stderr))
    assert line.r2 == pytest.approx(expected.rvalue**2, rel=1e-11)
    # Lack of fit: F of the means about the line over the scatter within settings, written out with numpy.
    means = y.reshape(-1, 2).mean(axis=1)
    off = 2 * np.sum((means - expected.intercept - expected.slope * CLICKS[::2]) ** 2) / 4
    f = off / (np.sum((y.reshape(-1, 2) - means[:, None]) ** 2) / 6)
    assert isinstance(line.lack_of_fit, pourline.FitTest)
    assert (line.lack_of_fit.f, line.lack_of_fit.p) == pytest.approx((f, stats.f.sf(f, 4, 6)), rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_monotone_curve_is_that_of_scipy(seed: int) -> None:
    random = np.random.default_rng(seed)
    counts = random.integers(1, 4, 9)
    x = np.repeat(np.arange(9.0), counts)
    y = 0.1 * x + random.normal(0, 0.3, len(x))
    means = np.array([y[x == setting].mean() for setting in range(9)])
    curve = pourline.dial_in(x, y, direction="rising").monotone
    assert isinstance(curve, pourline.Monotone)
    assert curve.values == pytest.approx(optimize.isotonic_regression(means, weights=counts).x, rel=1e-12)


@pytest.mark.parametrize(("y", "level"), [(brewed(7), 0.95), (brewed(8), 0.8), (HARDLY, 0.95), (HARDLY, 0.6)])
def test_the_interval_is_where_the_t_test_does_not_speak_against_the_target(y: np.ndarray, level: float) -> None:
    # By going through a grid of settings with the t test of a least-squares line by numpy: no formula of Fieller's.
    possible = pourline.dial_in(CLICKS, y, target=1.37, level=level).by_line.interval
    assert isinstance(possible, SettingInterval)
    coefficients, covariance = np.polyfit(CLICKS, y, 1, cov=True)
    grid = np.linspace(-400, 400, 20_001)
    design = np.vander(grid, 2)
    sd = np.sqrt(np.einsum("ij,jk,ik->i", design, covariance, design))
    left = np.abs(design @ coefficients - 1.37) <= stats.t.ppf(0.5 + level / 2, 10) * sd
    assert [setting in possible for setting in grid] == left.tolist()


def test_no_setting_is_given_where_there_is_none_to_give() -> None:
    beyond = pourline.dial_in(CLICKS, brewed(1), target=1.8)
    assert isinstance(beyond.setting, Undefined)
    assert "the nearest setting tried is 18, which gave" in beyond.setting.reason
    unclear = pourline.dial_in(CLICKS, HARDLY, target=1.38)
    assert isinstance(unclear.interval, SettingInterval)
    assert (unclear.interval.shape, unclear.interval.ends) == ("anywhere", (-np.inf, np.inf))
    few = pourline.dial_in([1, 2, 2], [1.0, 2, 3], target=2)
    assert isinstance(few.line, Undefined)
    assert few.line.reason == "2 settings and 3 brews: a fit needs 3 and 4"


def test_a_study_is_dialled_in_by_names() -> None:
    clicks = [f"{c:g}" for c in CLICKS]
    own = pourline.Table({"grinder_setting": [*clicks, "fine"], "tds_pct": [*brewed(3), 1.5]})
    named = pourline.dial_in("grinder_setting", "tds_pct", pourline.Study(own), target=1.4)
    plain = pourline.dial_in(CLICKS, brewed(3), target=1.4)
    assert known(named.setting) == known(plain.setting)
    assert named.missing["reason"].tolist() == ["'fine' is not a number".replace("'", '"')]
    assert json.loads(named.to_json())["y_name"] == "tds_pct"
    with pytest.raises(pourline.PourlineError, match="rising"):
        pourline.dial_in(CLICKS, HARDLY, direction="up")  # type: ignore[arg-type]
    with pytest.raises(pourline.PourlineError, match="11 values for 12 settings"):
        pourline.dial_in(CLICKS, HARDLY[1:])


def test_a_figure_shows_brews_fits_target_and_interval() -> None:
    y = [Estimate(value, 0.02) for value in brewed(2)]
    axes = pourline.plot_dial(pourline.dial_in(CLICKS, y, target=1.4))
    legend = axes.get_legend()
    assert legend is not None
    labels = [text.get_text() for text in legend.get_texts()]
    assert {"line", "monotone", "its 95 % band", "95 % interval", "brews ± sd"} <= set(labels)
    _, (left, right) = plt.subplots(ncols=2)
    assert pourline.plot_dial(pourline.dial_in(CLICKS, HARDLY, target=1.35), left) is left
    pourline.plot_dial(pourline.dial_in([1, 2], [1, 2], target=2), right)
    assert "a fit needs 3 and 4" in right.get_title(loc="left")
    plt.close("all")


def test_the_mean_beverage_of_brews_is_arithmetic() -> None:
    brews = pourline.analyze_many(pourline.datasets.load(name) for name in pourline.datasets.names())
    found = pourline.mean_beverage(brews)
    table = found.table()
    mean = table["beverage_g"].mean()
    assert found.mean_beverage_g == pytest.approx(mean, rel=1e-12)
    # E = T B/D: with the mean in B's place it is in the ratio of the masses, whatever strength and dose.
    assert table["with_mean_pct"] == pytest.approx(table["own_pct"] * mean / table["beverage_g"], rel=1e-12)
    assert table["own_rank"].tolist() == stats.rankdata(-table["own_pct"], method="min").tolist()
    moved = int(np.sum(table["own_rank"] != stats.rankdata(-table["with_mean_pct"], method="min")))
    assert found.rank_changes == moved
    assert found.rms_error_pct == pytest.approx(np.sqrt(np.mean(table["error_pct"] ** 2)), rel=1e-12)
    assert len(table["brew"]) + len(found.missing["brew"]) == len(brews)
    with pytest.raises(pourline.PourlineError, match="2 are needed"):
        pourline.mean_beverage(brews[:1])
