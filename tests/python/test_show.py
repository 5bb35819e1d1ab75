"""What a brew looks like: figures, cards, pages. They hold what the brew holds, and no text gets through as markup."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest

import pourline
from pourline._cli.output import Lines, PlanLines
from pourline._escape import escape
from pourline._figures.panel import nice
from pourline._figures.pointing import script
from pourline._figures.svg import brew_figure, log_figure
from pourline._pages.report import page as page_of
from pourline._text.pours import since_start
from pourline._text.words import clock

mpl.use("agg")
import matplotlib.pyplot as plt

NASTY = "<script>alert(1)</script>&\"'"


class Balance(HTMLParser):
    """Whether every tag that opens closes."""

    void = frozenset({"meta", "br", "hr"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add(tag)
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag not in self.void:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def check_html(page: str) -> set[str]:
    """Hold that a page is well formed and has no script but the one that reads its figures."""
    page = page.replace(script(), "")
    parser = Balance()
    parser.feed(page)
    assert parser.open == []
    assert parser.seen.isdisjoint({"script", "link", "iframe", "img", "object"})
    assert not re.search(r"(?:src|href)=.https?:|@import|url\(", page)
    return parser.seen


@pytest.fixture(scope="module")
def nasty(log: pourline.Log) -> pourline.Brew:
    texts: dict[str, Any] = dict.fromkeys(("name", "coffee", "roast", "kettle", "person", "note"), NASTY)
    return pourline.analyze(pourline.Log(log.time_s, log.water_g, dose_g=15, factors={NASTY: NASTY}, **texts))


def bare(*columns: Any) -> pourline.Brew:
    return pourline.analyze(pourline.Log(*columns))


def test_cards_hold_the_numbers_and_no_markup_of_others(
    brew: pourline.Brew, knocked: pourline.Brew, nasty: pourline.Brew, log: pourline.Log
) -> None:
    for one in (brew, knocked, nasty):
        page = one._repr_html_()
        assert {"svg", "table"} <= check_html(page)
        for pour in one.pours:
            assert str(pour.mass_g) in page
            assert str(since_start(pour.start_s, one)) in page
    assert "3 events" in knocked._repr_html_()
    assert "svg" in check_html(log._repr_html_())
    check_html(pourline.Log([0, 1, 2], [0, 1, 2], name=NASTY)._repr_html_())


def test_figures_are_well_formed_and_draw_one_band_a_pour(brew: pourline.Brew, log: pourline.Log) -> None:
    root = ET.fromstring(brew_figure(brew))
    bands = [e for e in root.iter() if e.tag.endswith("rect") and e.get("opacity") == ".3"]
    assert len(bands) == 3 * len(brew.pours)
    ET.fromstring(log_figure(log))


def test_a_long_log_makes_no_large_card() -> None:
    time_s = np.arange(400_000) / 1000
    water_g = 6.0 * np.clip(time_s - 100, 0, 10) + np.random.default_rng(1).normal(0, 0.05, len(time_s))
    log = pourline.Log(time_s, water_g, water_g)
    assert len(log._repr_html_()) < 60_000
    assert len(pourline.analyze(log)._repr_html_()) < 150_000


def test_logs_with_one_weight_or_no_pour_are_drawn(log: pourline.Log, tmp_path: Path) -> None:
    flat = np.zeros(len(log.time_s))
    brews = [bare(log.time_s, log.water_g), bare(log.time_s, None, log.beverage_g), bare(log.time_s, flat, flat)]
    for one in brews:
        check_html(one._repr_html_())
        pourline.plot(one)
        plt.close("all")
    check_html(pourline.report(brews, tmp_path / "page.html").read_text(encoding="utf-8"))


def test_the_plot_shows_pours_units_events_and_marks(knocked: pourline.Brew, tmp_path: Path) -> None:
    axes = pourline.plot(knocked)
    weights, flow, held = axes.values()
    assert list(axes) == ["weight", "flow", "held"]
    assert [panel.get_ylabel() for panel in axes.values()] == ["weight, g", "flow, g/s", "water held, g"]
    assert held.get_xlabel() == "time, min:s"
    texts = {text.get_text() for text in weights.texts}
    assert {"1", "2", "3", "4", "knock"} <= texts
    assert weights.get_xlim() == flow.get_xlim() == held.get_xlim()
    lines = {one.get_label(): one.get_ydata() for panel in (flow, held) for one in panel.lines}
    curve = knocked.bed.curve
    assert knocked.flow is not None
    assert isinstance(curve, pourline.BedCurve)
    np.testing.assert_array_equal(lines["water at the bed"], knocked.flow.flow_g_per_s)
    np.testing.assert_array_equal(lines["beverage"], curve.beverage_flow_g_per_s)
    np.testing.assert_array_equal(lines["in the bed"], curve.held_g)
    marks = {text.get_text() for text in held.texts}
    assert f"first drip {clock(float(knocked.bed.first_drip_s) - knocked.time_zero_s)}" in marks
    assert f"drawdown ends {clock(float(knocked.bed.drawdown_end_s) - knocked.time_zero_s)}" in marks
    first = knocked.metrics.pours[0]
    over = next(text.get_text() for text in flow.texts)
    assert over.splitlines() == [
        f"{float(first.plateau_flow_g_per_s):.2f} g/s",
        f"CV < {float(first.flow_cv_upper):.3f}",
    ]
    plt.savefig(tmp_path / "brew.png")
    plt.close("all")


def test_nothing_is_written_outside_the_picture(knocked: pourline.Brew) -> None:
    pourline.plot(knocked)
    figure = plt.gcf()
    figure.draw_without_rendering()
    wide, high = figure.get_size_inches() * figure.dpi
    for axes in figure.get_axes():
        for text in axes.texts:
            box = text.get_window_extent()
            assert 0 <= box.x0 <= box.x1 <= wide, text.get_text()
            assert 0 <= box.y0 <= box.y1 <= high, text.get_text()
    plt.close("all")


def test_a_panel_without_anything_to_show_is_left_out(log: pourline.Log) -> None:
    flat = np.zeros(len(log.time_s))
    for columns, panels in (
        ((log.time_s, log.water_g), ["weight", "flow"]),
        ((log.time_s, None, log.beverage_g), ["weight", "flow"]),
        ((log.time_s, flat, flat), ["weight", "flow"]),
        ((log.time_s, log.water_g, log.beverage_g), ["weight", "flow", "held"]),
    ):
        one = bare(*columns)
        assert list(pourline.plot(one)) == panels
        assert ("water held, g" in brew_figure(one)) == ("held" in panels)
        plt.close("all")


def test_the_plot_goes_on_axes_that_are_given_and_refuses_others(brew: pourline.Brew) -> None:
    figure, axes = plt.subplots(2)
    given = {"weight": axes[0], "held": axes[1]}
    assert pourline.plot(brew, ax=given) == given
    wrongs: list[Any] = [{}, {"wait": axes[0]}, 3]
    for wrong in wrongs:
        with pytest.raises(pourline.PourlineError, match="ax: "):
            pourline.plot(brew, ax=wrong)
    plt.close(figure)


def test_a_missing_number_is_a_dash_with_its_reason(knocked: pourline.Brew, log: pourline.Log) -> None:
    page = knocked._repr_html_().replace(script(), "")
    assert 'title="nothing was poured before">–</td>' in page
    assert "– drained fraction before of pour 1: nothing was poured before" in page
    assert f"&lt; {float(knocked.metrics.pours[0].flow_cv_upper):.3f}</td>" in page
    alone = bare(log.time_s, log.water_g)._repr_html_().replace(script(), "")
    assert "the beverage was not weighed" in alone
    assert "undefined" not in page + alone


def test_the_page_tells_measures_bed_and_extraction(knocked: pourline.Brew, tmp_path: Path) -> None:
    page = pourline.report(knocked, tmp_path / "page.html").read_text(encoding="utf-8")
    numbers = [row.plateau_flow_g_per_s for row in knocked.metrics.pours]
    numbers += [row.drift_g_per_s2 for row in knocked.metrics.pours]
    numbers += [row.conductance_g_per_s for row in knocked.bed.pours]
    instants = (knocked.bed.first_drip_s, knocked.bed.drawdown_end_s)
    numbers += [since_start(at, knocked) for at in instants if isinstance(at, pourline.Estimate)]
    numbers += [knocked.extraction.retention_g_per_g]
    numbers += [knocked.extraction.yield_pct, *(row.value for row in knocked.extraction.budget)]
    for number in numbers:
        assert str(number) in page


def test_without_matplotlib_the_error_says_what_to_install(
    brew: pourline.Brew, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "matplotlib.pyplot", None)
    with pytest.raises(pourline.PourlineError, match=r"pourline\[plot\]") as caught:
        pourline.plot(brew)
    assert caught.value.kind == "install"


def test_the_page_stands_alone_and_tells_all(
    knocked: pourline.Brew, nasty: pourline.Brew, log: pourline.Log, tmp_path: Path
) -> None:
    options = pourline.Options(segment={"mass_g": 3})
    failed = pourline.PourlineError(f"bad.csv: {NASTY}", "io")
    path = pourline.report(
        [knocked, pourline.analyze(log, options), nasty, failed], tmp_path / "page.html", title=NASTY
    )
    page = path.read_text(encoding="utf-8")
    check_html(page)
    assert page.startswith("<!doctype html>")
    for text in (
        "bad.csv",
        "segment.mass_g = 3.0",
        pourline.__version__,
        "not used",
        "with about 95 % confidence",
        "tds_pct",
    ):
        assert text in page, text
    for event in knocked.events:
        assert f"{event.start_s - knocked.time_zero_s:.1f}</td>" in page


def test_a_page_that_cannot_be_written_leaves_what_was_there(brew: pourline.Brew, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text("before")
    with pytest.raises(pourline.PourlineError, match="a Brew is needed"):
        pourline.report([brew, 3], path)  # type: ignore[list-item]
    assert path.read_text() == "before"
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.report(brew, tmp_path / "none" / "page.html")
    assert caught.value.kind == "io"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["page.html"]


@pytest.mark.parametrize(
    ("span", "count", "expected"),
    [
        ((0.0, 10.0), 5, [0, 2, 4, 6, 8, 10]),
        ((-0.3, 1.0), 3, [0, 0.5, 1.0]),
        ((1e6, 1e6 + 3), 3, [1e6, 1e6 + 1, 1e6 + 2, 1e6 + 3]),
    ],
)
def test_ticks_are_round(span: tuple[float, float], count: int, expected: list[float]) -> None:
    assert nice(span, count) == pytest.approx(expected)


def brew_set_by_hand() -> pourline.Brew:
    log = pourline.datasets.load("fernspout-ada-01")
    found = pourline.Labels.of(pourline.analyze(log), log)
    labels = pourline.Labels(found.pours, by="Ada", note="from a film").moved(1, end_s=found.pours[0][1] + 0.5)
    return pourline.analyze(log, labels=labels)


def brew_of_exchanged_columns() -> pourline.Brew:
    log = pourline.datasets.load("fernspout-ada-01")
    return pourline.analyze(pourline.Log(log.time_s, log.beverage_g, log.water_g))


@pytest.mark.parametrize("make", [brew_set_by_hand, brew_of_exchanged_columns])
def test_every_face_has_the_sentences_and_numbers_of_the_head(make: Any, capsys: pytest.CaptureFixture[str]) -> None:
    brew = make()
    further = brew._further
    assert further
    assert all(line.endswith(".") for line in further)
    cells = [text for row in brew._brief for text, _ in row]
    for face in (brew._repr_html_(), page_of(brew)):
        assert [line for line in (brew.head, *further) if escape(line) not in face] == []
        assert [text for text in cells if f">{escape(text)}</td>" not in face] == []
    Lines().write("-", brew)
    printed = capsys.readouterr().out
    assert printed == f"{brew._overview(brew.meta.name or 'standard input')}\n"
    told = " ".join(printed.split())
    assert [line for line in (brew.head, *further) if line not in told] == []
    drawn = [text.get_text() for text in pourline.plot(brew)["weight"].figure.findobj(mpl.text.Text)]
    plt.close("all")
    assert any(brew.head in text for text in drawn)


def test_the_answer_is_that_of_arithmetic() -> None:
    """60 g in 15 s from 5 s, 90 g in 15 s from 40 s: 150 g in 50 s, 150 / 30 g/s."""
    time_s = np.arange(0, 75, 0.1)
    water_g = np.interp(time_s, [5, 20, 40, 55], [0, 60, 60, 150])
    brew = pourline.analyze(pourline.Log(time_s, water_g, dose_g=12.0))
    assert brew.head.startswith("2 pours, 150.0 g in 0:50, 5.0 g/s; ")
    assert brew.head.endswith("; ratio 1:12.5")
    first, second = ([text for text, _ in row] for row in brew._brief)
    assert first[:4] == ["1", "0:00", "60.0", "4.0"]
    assert second[:4] == ["2", "0:35", "90.0", "6.0"]
    assert float(second[5]) == pytest.approx(20, abs=0.11)
    assert "warning" not in repr(brew)
    assert str(brew).splitlines()[0].startswith(f"brew: {brew.head[:20]}")


def test_a_log_without_pours_says_so() -> None:
    time_s = np.arange(0, 60, 0.1)
    brew = pourline.analyze(pourline.Log(time_s, 0 * time_s))
    assert brew.head == "no pours"
    assert str(brew).startswith("brew: no pours")


def test_every_face_of_a_followed_plan_has_its_head(capsys: pytest.CaptureFixture[str]) -> None:
    brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(36, 100)])
    followed = plan.follow(brew)
    assert followed.head.startswith(f"{followed.score.value:.0f} of 100: ")
    assert followed.head.endswith(followed.work_on)
    PlanLines().write("-", followed)
    lines = capsys.readouterr().out.splitlines()
    assert followed.head in " ".join(line.strip() for line in lines[:4])
    assert max(map(len, lines)) <= 80
    assert escape(followed.head) in followed._repr_html_()
    water, _ = pourline.plot_plan(plan, brew)
    drawn = " ".join(text.get_text() for text in water.figure.findobj(mpl.text.Text))
    plt.close("all")
    assert followed.head in drawn
