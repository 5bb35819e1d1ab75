"""Profiles in Python: means by arithmetic, the sentences, and the content of the figures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest

import pourline

mpl.use("agg")
import matplotlib.pyplot as plt
from matplotlib.axes import Axes


def one_pour(flow_g_per_s: float, seed: int, seconds: float = 10.0) -> pourline.Brew:
    """Analyse a brew of one pour from 10 s on, with flow and duration by construction."""
    time_s = np.arange(400) / 10
    noise = np.random.default_rng(seed).normal(0, 0.03, len(time_s))
    water_g = flow_g_per_s * np.clip(time_s - 10, 0, seconds) + noise
    return pourline.analyze(pourline.Log(time_s, np.round(water_g, 2), name=f"brew of {flow_g_per_s:g}"))


def told(ax: Axes) -> list[str]:
    """Return the text of the legend."""
    legend = ax.get_legend()
    assert legend is not None
    return [text.get_text() for text in legend.get_texts()]


@pytest.fixture(scope="module")
def steady() -> list[pourline.Brew]:
    return [one_pour(flow, seed) for seed, flow in enumerate((5.0, 5.5, 6.0, 6.5, 7.0))]


@pytest.fixture(scope="module")
def kettles() -> dict[str, list[pourline.Brew]]:
    def group(kettle: str, first: int) -> list[pourline.Brew]:
        names = [f"{kettle}-{who}-{first + k + 4 * (who == 'bo'):02}" for who in ("ada", "bo") for k in range(4)]
        return [pourline.analyze(pourline.datasets.load(name)) for name in names]

    return {"fernspout": group("fernspout", 1), "broadlip": group("broadlip", 9)}


def test_the_mean_of_steady_pours_is_their_mean(steady: list[pourline.Brew]) -> None:
    found = pourline.profile(steady)
    at = int(np.argmin(np.abs(found.position - 5.0)))
    # Mean of 5 to 7 in steps of a half, sd of those five, own arithmetic: 6 and the root of 0.625.
    assert found.flow_g_per_s[at] == pytest.approx(6.0, abs=0.05)
    assert found.flow_sd_g_per_s[at] == pytest.approx(0.625**0.5, abs=0.05)
    assert 0 < found.scale_sd_g_per_s[at] < found.flow_sd_g_per_s[at]
    low, high = found.low_g_per_s, found.high_g_per_s
    assert isinstance(low, np.ndarray)
    assert isinstance(high, np.ndarray)
    assert low[at] < 6.0 < high[at]
    # Never narrower than Student's 95 % at one place: t .975 with 4 degrees is 2.776 (table, from memory).
    assert isinstance(found.band_factor, float)
    assert found.band_factor > 2.776
    assert found.brews[2] == "brew of 6"
    assert found.middle == 2
    assert isinstance(found.odd, pourline.Undefined)
    assert "no brew stands out" in found.odd.reason
    # 10 s from half-rise to half-fall; edges as sharp as these leave start and end too near to the halves to be
    # landmarks.
    rise, fall = (mark for mark in found.landmarks if mark.kind.startswith("half"))
    assert fall.mean.value - rise.mean.value == pytest.approx(10.0, abs=0.05)
    assert json.loads(found.to_json())["axis"] == "time"


def test_over_water_the_table_has_water(steady: list[pourline.Brew]) -> None:
    found = pourline.profile(steady, axis="water", align="start", step_g=1)
    table = found.table()
    assert table.columns == [
        "water_g",
        "flow_g_per_s",
        "flow_sd_g_per_s",
        "scale_sd_g_per_s",
        "low_g_per_s",
        "high_g_per_s",
    ]
    assert table.units["water_g"] == "g"
    # The brew with the least water has 50 g.
    assert found.position[-1] == pytest.approx(50, abs=1.01)
    assert "the smallest water of a brew" in found.warnings[0]
    assert found.landmarks == []


def test_too_few_brews_and_other_numbers_of_pours_are_told_in_words(
    steady: list[pourline.Brew], brew: pourline.Brew
) -> None:
    few = pourline.profile(steady[:3])
    assert isinstance(few.low_g_per_s, pourline.Undefined)
    assert "at least 4" in few.low_g_per_s.reason
    assert np.isnan(few.table()["low_g_per_s"]).all()
    mixed = pourline.profile([*steady, brew])
    assert mixed.align == "start"
    assert mixed.warnings[0] == "the brews have 1 to 2 pours: they are aligned on the first start only"


def test_the_odd_one_out_is_told_with_why(steady: list[pourline.Brew]) -> None:
    usual = [one_pour(6.0 + 0.02 * seed, seed) for seed in range(7)]
    odd = pourline.profile([*usual, one_pour(6.05, 99, seconds=18.0)]).odd
    assert isinstance(odd, pourline.Outlier)
    assert (odd.brew, odd.pour, odd.quantity) == (7, 1, "duration_s")
    assert odd.z > odd.threshold
    assert odd.value - odd.usual == pytest.approx(8.0, abs=0.1)
    assert "pour 1, which is longer by 8.0 s" in odd.why


def test_a_distance_is_the_difference_of_two_steady_flows(steady: list[pourline.Brew]) -> None:
    apart = pourline.distance(steady[0], steady[4])
    assert apart.flow_g_per_s == pytest.approx(2.0, abs=0.08)
    assert isinstance(apart.amplitude_g_per_s, float)
    assert apart.amplitude_g_per_s == pytest.approx(2.0, abs=0.08)
    assert isinstance(apart.timing_s, pourline.Estimate)
    assert apart.timing_s.value < 0.1
    assert 0 < apart.noise_g_per_s < 0.5
    same = pourline.distance(steady[0], steady[0])
    assert (same.flow_g_per_s, same.timing_g_per_s, float(same.timing_s)) == (0.0, 0.0, 0.0)


def test_what_does_not_fit_is_refused_by_name(steady: list[pourline.Brew]) -> None:
    with pytest.raises(pourline.PourlineError, match="at least two brews"):
        pourline.profile(steady[:1])
    wrongs: list[Any] = [*steady, 3]
    with pytest.raises(pourline.PourlineError, match=r"brews\[5\]: a Brew is needed"):
        pourline.profile(wrongs)
    with pytest.raises(pourline.PourlineError, match="axis"):
        pourline.profile(steady, axis="volume")  # type: ignore[arg-type]
    with pytest.raises(pourline.PourlineError, match="nearest is"):
        pourline.profile(steady, steps=1)  # type: ignore[call-arg]
    with pytest.raises(pourline.PourlineError, match=r"profile\.level is 2"):
        pourline.profile(steady, level=2)


def test_the_figure_of_two_groups_shows_both_means_and_bands(kettles: dict[str, list[pourline.Brew]]) -> None:
    profiles = {kettle: pourline.profile(brews, align="start") for kettle, brews in kettles.items()}
    ax = pourline.plot_profile(profiles)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("time since the first pour's start, s", "flow at the bed, g/s")
    assert len(ax.collections) == 2
    assert told(ax) == ["fernspout (8), 95 % band", "broadlip (8), 95 % band"]
    line = next(one for one in ax.lines if str(one.get_label()).startswith("broadlip"))
    np.testing.assert_array_equal(line.get_ydata(), profiles["broadlip"].flow_g_per_s)
    assert len({(one.get_color(), str(one.get_linestyle())) for one in ax.lines}) >= 2
    plt.close("all")


def test_one_group_over_water_goes_on_axes_that_are_given(steady: list[pourline.Brew]) -> None:
    figure, ax = plt.subplots()
    assert pourline.plot_profile(pourline.profile(steady, axis="water"), ax=ax, landmarks=True) is ax
    assert ax.get_xlabel() == "water poured, g"
    assert told(pourline.plot_profile([pourline.profile(steady[:3])])) == ["group 1 (3), no band"]
    plt.close("all")
    plt.close(figure)


def test_an_overlay_names_the_middle_and_the_odd_one(steady: list[pourline.Brew]) -> None:
    usual = [one_pour(6.0 + 0.02 * seed, seed) for seed in range(7)]
    ax = pourline.plot_overlay([*usual, one_pour(6.05, 99, seconds=18.0)])
    assert len(ax.lines) == 8
    assert sum(text.startswith("in the middle") for text in told(ax)) == 1
    assert "odd one out: brew of 6.05" in told(ax)
    assert pourline.plot_overlay(steady, axis="water").get_xlabel() == "water poured, g"
    plt.close("all")


def test_figures_refuse_what_cannot_be_told_apart(steady: list[pourline.Brew], monkeypatch: pytest.MonkeyPatch) -> None:
    found = pourline.profile(steady)
    with pytest.raises(pourline.PourlineError, match="1 to 4 groups"):
        pourline.plot_profile([found] * 5)
    with pytest.raises(pourline.PourlineError, match="some over water"):
        pourline.plot_profile([found, pourline.profile(steady, axis="water")])
    wrong: Any = 3
    with pytest.raises(pourline.PourlineError, match="one pair of axes"):
        pourline.plot_profile(found, ax=wrong)
    monkeypatch.setitem(__import__("sys").modules, "matplotlib.pyplot", None)
    with pytest.raises(pourline.PourlineError, match=r"plot_overlay needs matplotlib"):
        pourline.plot_overlay(steady)


def test_the_difference_of_two_groups_has_a_band_and_landmarks(kettles: dict[str, list[pourline.Brew]]) -> None:
    found = pourline.profile_difference(kettles, blocks="person")
    low, high = found.low_g_per_s, found.high_g_per_s
    assert isinstance(low, np.ndarray)
    assert isinstance(high, np.ndarray)
    # The broadlip pours about twice as fast in all four pours, by its recipe.
    assert len(found.stretches) == 4
    assert found.p
    assert found.p.value <= 0.05
    # In equal groups the difference within people is that of the means, own arithmetic.
    np.testing.assert_allclose(found.difference_g_per_s, found.b_flow_g_per_s - found.a_flow_g_per_s, atol=1e-12)
    shown = pourline.plot_profile_difference(found)
    assert shown.get_ylabel() == "broadlip less fernspout, g/s"
    assert str(found).startswith("broadlip pours harder than fernspout from")
    with pytest.raises(pourline.PourlineError, match="two groups"):
        pourline.profile_difference({"one": kettles["broadlip"]})
    with pytest.raises(pourline.PourlineError, match="has no day of rest"):
        pourline.profile_difference(kettles, blocks="day of rest")


def test_a_page_shows_the_difference_in_place_of_two_bands(
    kettles: dict[str, list[pourline.Brew]], tmp_path: Path
) -> None:
    brews = [brew for group in kettles.values() for brew in group]
    found = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", blocks="person")
    flows = pourline.profile_difference(kettles, blocks="person")
    page = pourline.report(found, tmp_path / "page.html", profiles=flows).read_text(encoding="utf-8")
    assert "broadlip less fernspout, g/s with its 95 % band" in page
    assert "Landmarks of the pours" in page
