"""Sentences, figures and pages count time from the first start; results and tables keep the clock of the log.

The log is arithmetic: 60 g at 6 g/s from 110 s, 60 g at 5 g/s from 135 s, so the second pour starts 25 s after the
first, and both end 37 s after it. A knock comes 5 s before the second pour.
"""

from __future__ import annotations

import re

import matplotlib as mpl
import numpy as np
import pytest

import pourline
from pourline._figures.panel import clock_ticks
from pourline._figures.svg import brew_figure, log_figure
from pourline._pages.report import page
from pourline._text.pours import full_lines

mpl.use("agg")

LATE_S = 100.0


@pytest.fixture(scope="module")
def late_log(time_s: np.ndarray, water_g: np.ndarray, beverage_g: np.ndarray) -> pourline.Log:
    knocked_g = water_g + np.where(np.abs(time_s - 30) < 0.15, 80.0, 0.0)
    return pourline.Log(time_s + LATE_S, knocked_g, beverage_g, dose_g=7.5, tds_pct=1.4, name="late")


@pytest.fixture(scope="module")
def late(late_log: pourline.Log) -> pourline.Brew:
    return pourline.analyze(late_log)


def test_results_and_tables_keep_the_clock_of_the_log_and_say_where_time_begins(late: pourline.Brew) -> None:
    assert late.time_zero_s == late.pours[0].start_s.value == pytest.approx(110, abs=0.2)
    assert late.pours[1].start_s.value == pytest.approx(135, abs=0.2)
    for table in (late.table(), late.table(all=True)):
        assert set(table["time_zero_s"]) == {late.time_zero_s}
        assert table["start_s"][0] == late.time_zero_s
    assert pourline.Brew.from_json(late.to_json()).time_zero_s == late.time_zero_s


def test_head_text_and_page_have_one_instant_for_the_end_of_the_drawdown(late: pourline.Brew) -> None:
    assert isinstance(late.bed.drawdown_end_s, pourline.Estimate)
    lasts_s = late.bed.drawdown_end_s.value - late.time_zero_s
    # 37 s and the few seconds of the delay of the beverage, 4 s.
    assert lasts_s == pytest.approx(41, abs=1.5)
    assert f"drawdown ends at 0:{lasts_s:02.0f}" in late.head
    text = page(late)
    assert f">drawdown ends 0:{lasts_s:02.0f}</text>" in text
    (told,) = re.findall(r"<dt>end of the drawdown</dt><dd[^>]*>([\d.]+) ", text)
    assert float(told) == pytest.approx(lasts_s, abs=0.05)
    full = " ".join(full_lines(late))
    assert re.search(rf"end of the drawdown +{re.escape(told)} ", full)
    # No face has an instant of the log, and neither has a warning.
    for face in (text, late._repr_html_(), full, str(late), *late.warnings, *late.bed.warnings):
        assert not re.search(r"(?<![\d.:#])1[1-4]\d\.\d+ (?:± [\d.]+ )?s\b", face)


def test_the_second_pour_starts_25_s_after_the_first_on_every_face(late: pourline.Brew) -> None:
    assert [cells[1][0] for cells in late._brief] == ["0:00", "0:25"]
    for face in (page(late), late._repr_html_()):
        starts = re.findall(r"<td[^>]*>\d</td><td[^>]*>(-?[\d.]+) ± [\d.]+</td><td", face)[:2]
        assert [float(one) for one in starts] == pytest.approx([0, 25], abs=0.2)
        assert "20.0 to" in " ".join(re.findall("<title>knock, [^<]*", face)) or "19.9 to" in face
    axes = pourline.plot(late)
    edges = sorted(patch.get_window_extent().x0 for patch in axes["flow"].patches)
    edges = [axes["flow"].transData.inverted().transform((x, 0))[0] for x in edges]
    assert edges == pytest.approx([0, 25], abs=0.2)
    ticks = list(axes["held"].get_xticks())
    labels = [label.get_text() for label in axes["held"].get_xticklabels()]
    assert dict(zip(ticks, labels, strict=True)).items() >= {0.0: "0:00", 30.0: "0:30"}.items()


def test_a_figure_says_which_clock_it_has(late: pourline.Brew, late_log: pourline.Log) -> None:
    assert "time, min:s" in brew_figure(late, zero_s=late.time_zero_s)
    assert "time of the log, s" in brew_figure(late)
    assert "time of the log, s" in log_figure(late_log)


def test_without_a_pour_the_clock_is_that_of_the_log() -> None:
    time_s = np.arange(0, 60, 0.1)
    assert pourline.analyze(pourline.Log(time_s, 0 * time_s)).time_zero_s == 0


def test_a_clock_has_round_ticks() -> None:
    assert clock_ticks((-8, 125), 8) == [0, 20, 40, 60, 80, 100, 120]
    assert clock_ticks((0, 3700), 8) == [0, 600, 1200, 1800, 2400, 3000, 3600]
    assert clock_ticks((0, 40_000), 8) == [0, 7200, 14_400, 21_600, 28_800, 36_000]
