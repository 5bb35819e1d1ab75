"""Figures take axes and return them, name their units, and state what is undefined.

The numbers drawn are held against arithmetic by hand, numpy's least squares and scipy's t distribution.
"""

from __future__ import annotations

import inspect
from datetime import date
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.collections import PolyCollection

import pourline

mpl.use("agg")
import matplotlib.pyplot as plt
from scipy import stats

if TYPE_CHECKING:
    from collections.abc import Iterator

# Too steep for chance: the day means are 0.44, 0.52, 0.55, 0.58, 0.63.
RISING: list[tuple[int, float | pourline.Estimate]] = [
    (1, 0.41),
    (1, 0.47),
    (3, 0.52),
    (4, 0.55),
    (7, pourline.Estimate(0.58, 0.02)),
    (9, 0.63),
]
FLOWS = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6, 5.5, 5.6, 6.6, 6.4]
PEOPLE = ["Ada"] * 4 + ["Bo"] * 4 + ["Cy"] * 4
KETTLES = ["thin", "thin", "wide", "wide"] * 3
# Yields 18.85, 18.62, 20.25 %; with the mean of 280 g 18.2, 18.62, 21.0 %: the first two change their order.
THREE: dict[str, Any] = {"brew": ["one", "two", "three"], "dose_g": [20, 20, 20], "beverage_g": [290, 280, 270]}


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


@pytest.fixture(scope="module")
def three() -> pourline.MeanBeverage:
    return pourline.mean_beverage(pourline.Table({**THREE, "tds_pct": [1.30, 1.33, 1.50]}))


def crossed(values: list[float] | list[pourline.Estimate], step: int = 1) -> pourline.Crossed:
    places = range(0, len(values), step)
    return pourline.crossed(
        [values[k] for k in places], rows=[PEOPLE[k] for k in places], columns=[KETTLES[k] for k in places]
    )


def words(ax: Any) -> str:
    legend = ax.get_legend()
    told = [text.get_text() for text in (*ax.texts, *(legend.get_texts() if legend else []))]
    return "\n".join([ax.get_title(loc="left"), *told])


def line_of(ax: Any, label: str) -> Any:
    return next(line for line in ax.lines if line.get_label() == label)


def test_figures_draw_on_the_axes_given_and_return_them(three: pourline.MeanBeverage) -> None:
    _, (first, second, third) = plt.subplots(1, 3)
    assert pourline.plot_progress(pourline.progress(RISING), first) is first
    assert pourline.plot_mean_beverage(three, second) is second
    assert pourline.plot_crossed(crossed(FLOWS), third, label="flow, g/s") is third
    assert first.get_ylabel() == "score, 0 to 100"
    assert second.get_ylabel() == "extraction yield, %"
    assert third.get_xlabel() == "sd of flow, g/s"


def test_the_trend_and_its_band_are_those_of_the_day_means() -> None:
    ax: Any = pourline.plot_progress(pourline.progress(RISING), brews=RISING)
    day, mean = np.array([1, 3, 4, 7, 9]), np.array([0.44, 0.52, 0.55, 0.58, 0.63])
    fitted = stats.linregress(day, mean)
    line = line_of(ax, "trend of the days")
    x, y = line.get_xdata(), line.get_ydata()
    np.testing.assert_allclose(y, fitted.intercept + fitted.slope * x, rtol=1e-12)
    # Confidence band of a straight line: NIST/SEMATECH e-Handbook of Statistical Methods, 4.5.1.1.
    residual_sd = np.sqrt(np.sum((mean - fitted.intercept - fitted.slope * day) ** 2) / 3)
    half = (
        stats.t.ppf(0.975, 3) * residual_sd * np.sqrt(1 / 5 + (x - day.mean()) ** 2 / np.sum((day - day.mean()) ** 2))
    )
    (band,) = [one for one in ax.collections if one.get_label() == "its 95 % band"]
    corners = band.get_paths()[0].vertices
    assert corners[:, 1].max() == pytest.approx((y + half).max(), rel=1e-9)
    assert corners[:, 1].min() == pytest.approx((y - half).min(), rel=1e-9)
    assert list(line_of(ax, "mean of a day").get_ydata()) == pytest.approx(mean)
    assert ax.get_xlabel() == "day"
    bars = [segment for container in ax.containers for segment in container[2][0].get_segments()]
    assert sorted(float(np.ptp(segment[:, 1])) for segment in bars) == pytest.approx([0, 0, 0, 0, 0, 0.08])


def test_without_a_verdict_there_are_words_and_no_line() -> None:
    three_days = RISING[:4]
    ax: Any = pourline.plot_progress(pourline.progress(three_days), brews=three_days)
    assert "3 days, and 4 are needed" in words(ax)
    assert "trend" not in words(ax)
    assert not ax.collections or all(one.get_label() != "its 95 % band" for one in ax.collections)
    assert "0 days, and 4 are needed" in words(pourline.plot_progress(pourline.progress([])))


def test_a_trend_that_is_not_clear_is_drawn_as_such() -> None:
    level = [(1, 0.5), (2, 0.6), (3, 0.5), (4, 0.6), (5, 0.5)]
    ax: Any = pourline.plot_progress(pourline.progress(level))
    assert "trend, not clear" in words(ax)
    assert "no clear trend" in words(ax)
    assert ax.get_xlabel() == "days since the first"


def test_days_that_are_dates_are_dated_and_other_brews_refused() -> None:
    dated = [(date(2031, 5, 3 + 4 * k), 0.4 + 0.05 * k) for k in range(5)]
    ax: Any = pourline.plot_progress(pourline.progress(dated), brews=dated, label="start deviation, s")
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("date", "start deviation, s")
    assert [text.get_text() for text in ax.get_xticklabels()][:2] == ["2031-05-03", "2031-05-07"]
    left_out: list[Any] = [*RISING, (9, pourline.Undefined("no water"))]
    assert "1 left out" in words(pourline.plot_progress(pourline.progress(left_out), brews=left_out))
    with pytest.raises(pourline.PourlineError, match="not the brews that progress was computed from"):
        pourline.plot_progress(pourline.progress(RISING), brews=RISING[1:])
    other = [(day, 0.1) for day, _ in RISING]
    with pytest.raises(pourline.PourlineError, match="not the brews that progress was computed from"):
        pourline.plot_progress(pourline.progress(RISING), brews=other)


def test_a_brew_whose_order_turns_round_has_a_strong_line(three: pourline.MeanBeverage) -> None:
    ax: Any = pourline.plot_mean_beverage(three)
    slopes = [line for line in ax.lines if line.get_marker() == "o"]
    # E = T B/D, own arithmetic.
    ends = np.array([(1.30 * 290 / 20, 1.30 * 14), (1.33 * 14, 1.33 * 14), (1.50 * 270 / 20, 1.50 * 14)])
    np.testing.assert_allclose(np.array([line.get_ydata() for line in slopes]), ends, rtol=1e-12)
    assert slopes[0].get_color() == slopes[1].get_color() != slopes[2].get_color()
    assert slopes[0].get_markerfacecolor() != slopes[2].get_markerfacecolor()
    told = words(ax)
    assert "1 pair changes its order: strong lines, 2 of 3 brews" in told
    assert all(place in told for place in ("2  one", "3  two", "2  two", "3  one"))
    assert [text.get_text() for text in ax.get_xticklabels()][1] == "with 280 g for every brew"
    table = three.table()
    left, right = (np.ptp(one[2][0].get_segments(), axis=1)[:, 1] for one in ax.containers)
    np.testing.assert_allclose(left, 2 * table["own_sd_pct"])
    np.testing.assert_allclose(right, 2 * table["with_mean_sd_pct"])


def test_names_of_many_brews_do_not_lie_on_each_other() -> None:
    close: dict[str, Any] = {
        "brew": [f"brew {k}" for k in range(20)],
        "dose_g": [15.0] * 20,
        "tds_pct": [1.4 + 0.001 * k for k in range(20)],
    }
    found = pourline.mean_beverage(pourline.Table({**close, "beverage_g": [200.0 + k % 3 for k in range(20)]}))
    ax: Any = pourline.plot_mean_beverage(found, plt.subplots(figsize=(9, 4), layout="constrained")[1])
    ax.figure.canvas.draw()
    boxes = [text.get_window_extent() for text in ax.texts if "brew " in text.get_text() and text.get_ha() == "left"][
        1:
    ]
    middles = sorted((box.y0 + box.y1) / 2 for box in boxes)
    assert min(np.diff(middles)) > 0.9 * 7.5 * ax.figure.dpi / 72


def test_both_methods_stand_beside_each_other_with_their_intervals() -> None:
    found = crossed([pourline.Estimate(flow, 0.1) for flow in FLOWS])
    ax: Any = pourline.plot_crossed(found, label="flow, g/s", rows="people", columns="kettles")
    assert found.anova
    assert found.reml
    for marker, by in (("o", found.anova), ("s", found.reml)):
        drawn = [
            float(line.get_xdata()[0]) for line in ax.lines if line.get_marker() == marker and len(line.get_xdata())
        ]
        assert by.interaction
        parts = [by.rows.sd, by.columns.sd, by.interaction.sd, by.repeatability.sd, by.of_hand_sd]
        assert drawn == pytest.approx([part.value for part in parts])
    told = words(ax)
    assert {"ANOVA", "REML", "0.1, by the stated sd of the values"} <= set(told.split("\n"))
    # The interval of two kettles goes far beyond the axis: it is cut, and its end is written as a number.
    assert f"reaches {found.anova.columns.sd.high:.3g}" in told
    assert f"{found.anova.columns.share_pct:.0f} %" in told
    assert ax.get_yticklabels()[0].get_text() == "people\nAda, Bo, Cy"


def test_what_a_crossed_study_cannot_tell_is_told_in_words() -> None:
    assert "undefined: one brew per cell" in words(pourline.plot_crossed(crossed(FLOWS, step=2)))
    assert "unknown: the values have no sd" in words(pourline.plot_crossed(crossed(FLOWS)))
    uneven = words(pourline.plot_crossed(crossed(FLOWS[:-1])))
    assert "no ANOVA: cells differ in number of brews" in uneven
    assert "REML" in uneven.split("\n")
    assert "undefined: the values do not differ" in words(pourline.plot_crossed(crossed([5.0] * 12)))


def test_every_figure_says_what_it_needs(monkeypatch: pytest.MonkeyPatch, three: pourline.MeanBeverage) -> None:
    names = sorted(name for name in pourline.__all__ if name.startswith("plot_"))
    for name in set(names) - {"plot_chart", "plot_overlay", "plot_profile"}:
        draw: Any = getattr(pourline, name)
        given = [3] * sum(one.default is inspect.Parameter.empty for one in inspect.signature(draw).parameters.values())
        with pytest.raises(pourline.PourlineError, match="is needed, not int"):
            draw(*given)
    wrong: Any = "axes"
    with pytest.raises(pourline.PourlineError, match="one pair of axes"):
        pourline.plot_mean_beverage(three, wrong)
    monkeypatch.setitem(__import__("sys").modules, "matplotlib.pyplot", None)
    for draw in (pourline.plot_mean_beverage, pourline.plot_progress, pourline.plot_crossed):
        found = {"plot_progress": pourline.progress(RISING), "plot_crossed": crossed(FLOWS)}.get(draw.__name__, three)
        with pytest.raises(pourline.PourlineError, match=rf"{draw.__name__} needs matplotlib") as refused:
            draw(found)
        assert refused.value.kind == "install"


def test_the_guide_shows_every_figure() -> None:
    from pathlib import Path

    page = (Path(__file__).parents[2] / "docs" / "figures.md").read_text(encoding="utf-8")
    for name in pourline.__all__:
        assert not name.startswith("plot") or f"pourline.{name}(" in page, name


def test_the_control_chart_has_its_box_and_the_line_of_the_brews_own_ratio() -> None:
    names = ("fernspout-ada-01", "broadlip-ada-09")
    brews = [one for one in pourline.analyze_many(map(pourline.datasets.load, names)) if isinstance(one, pourline.Brew)]
    ax = pourline.plot_chart(brews, by="kettle")
    (box,) = (c for c in ax.collections if isinstance(c, PolyCollection))
    corners = box.get_paths()[0].get_extents()
    # SCAA Golden Cup Standard, 23 December 2015: 18 to 22 %, 1.15 to 1.35 %.
    assert (corners.x0, corners.x1, corners.y0, corners.y1) == pytest.approx((18, 22, 1.15, 1.35))
    # A line's strength is E/(W/D - r): own arithmetic from its label.
    kept = np.mean([brew.extraction.retention_g_per_g.value for brew in brews if brew.extraction.retention_g_per_g])
    lines = [line for line in ax.lines if line.get_linestyle() == "--" and len(np.asarray(line.get_xdata())) == 2]
    ratios = [float(text.get_text()) for text in ax.texts if text.get_text().replace(".", "").isdigit()]
    assert len(lines) == len(ratios) > 1
    for line, ratio in zip(lines, ratios, strict=True):
        assert np.asarray(line.get_ydata()) == pytest.approx(np.asarray(line.get_xdata()) / (ratio - kept))
    none = pourline.Log([0, 1, 2], [0, 0, 0], name="nothing known")
    assert "left out, without strength or yield: 1" in str(
        [text.get_text() for text in pourline.plot_chart([*brews, pourline.analyze(none)]).texts]
    )
    with pytest.raises(pourline.PourlineError, match="a Brew is needed"):
        pourline.plot_chart([1])  # type: ignore[list-item]
