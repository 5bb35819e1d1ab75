"""The view by pointer and by keyboard, in a bare page: the text of the page agrees with the state in Python, and vice
versa.

Rules of accessibility: axe-core. Sizes of targets: WCAG 2.2, 2.5.8 (24 px). Contrast of what is drawn: WCAG 2.2,
1.4.11 (3 to 1).
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Locator, Page, expect

import pourline

LINE = ".pourline-line"


def edge(page: Page, pour: int, which: str) -> Locator:
    return page.get_by_role("slider", name=f"{which} of pour {pour}", exact=True)


def at_s(slider: Locator) -> float:
    return float(slider.get_attribute("aria-valuenow") or "nan")


def settled(page: Page, view: Any, steps: int) -> None:
    """Wait until Python has taken so many steps and the page has heard of it."""
    end = time.monotonic() + 10
    while len(view._steps.past) != steps:
        assert time.monotonic() < end, view._now["said"]
        page.wait_for_timeout(20)
    expect(page.get_by_role("button", name="undo")).to_be_enabled(enabled=steps > 0)
    page.wait_for_timeout(60)


def drag(page: Page, handle: Locator, by_px: float) -> None:
    box = handle.bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by_px / 2, y)
    page.mouse.move(x + by_px, y)
    page.mouse.up()


def test_the_line_goes_to_where_the_pointer_presses(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    stage = page.locator(".pourline-stage").bounding_box()
    assert stage
    for share in (0.3, 0.8):
        page.mouse.click(stage["x"] + share * stage["width"], stage["y"] + 200)
        here = at_s(page.locator(LINE))
        brew = view.brew
        used = brew.trace.water.flag == "used"
        grams = np.interp(here, brew.trace.time_s[used], brew.trace.water.mass_g[used])
        flow = np.interp(here, brew.flow.time_s, brew.flow.flow_g_per_s)
        sd = np.interp(here, brew.flow.time_s, brew.flow.flow_sd_g_per_s)
        told = page.locator(".pourline-told").inner_text()
        (said_g,) = re.findall(r"^water\n(\S+) g$", told, re.MULTILINE)
        ((said_flow, said_sd),) = re.findall(r"^flow of water\n(\S+) ± (\S+) g/s$", told, re.MULTILINE)
        # The slider states its time to 0.01 s: at 10 g/s that and the rounding are 0.1 g.
        assert float(said_g) == pytest.approx(grams, abs=0.1)
        assert (float(said_flow), float(said_sd)) == pytest.approx((flow, sd), abs=0.05)
        # By arithmetic: 46 px before the axis, 12 px after it.
        span = np.ptp(brew.trace.time_s)
        by_hand = brew.trace.time_s[0] + (share * stage["width"] - 46) / (stage["width"] - 58) * span
        assert here == pytest.approx(by_hand, abs=0.02)


def test_the_line_goes_by_keys_and_says_where_it_is(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    line = page.locator(LINE)
    line.focus()
    before = at_s(line)
    page.keyboard.press("ArrowRight")
    assert at_s(line) == pytest.approx(before + 0.05, abs=0.011)
    page.keyboard.press("Shift+ArrowLeft")
    assert at_s(line) == pytest.approx(before - 0.45, abs=0.011)
    pour = view.brew.pours[0]
    page.keyboard.press("PageUp")
    assert at_s(line) == pytest.approx(pour.end_s.value, abs=0.006)
    for _ in range(20):
        page.keyboard.press("ArrowRight")
    assert at_s(line) == pytest.approx(pour.end_s.value + 1, abs=0.006)
    rest = view.brew.rests[0].duration_s.value
    assert f"rest 1, 1.0 of {rest:.1f} s" in (line.get_attribute("aria-valuetext") or "")
    page.keyboard.press("End")
    assert "after the drawdown" in (line.get_attribute("aria-valuetext") or "")
    page.keyboard.press("Home")
    assert "preparation" in (line.get_attribute("aria-valuetext") or "")
    assert len(view._steps.past) == 0


def test_a_dragged_edge_is_a_label_and_the_table_follows(shown: Callable[..., Page], view: Any, shot: Any) -> None:
    page = shown(view)
    before, row = view.labels.pours, page.locator("tbody tr").nth(1)
    told = row.inner_text()
    drag(page, edge(page, 2, "end"), 18)
    settled(page, view, 1)
    stage = page.locator(".pourline-stage").bounding_box()
    assert stage
    seconds = 18 / (stage["width"] - 58) * np.ptp(view.brew.trace.time_s)
    assert view.labels.pours[1] == pytest.approx((before[1][0], before[1][1] + seconds), abs=0.02)
    assert [view.labels.pours[k] for k in (0, 2, 3)] == [before[k] for k in (0, 2, 3)]
    assert row.inner_text() != told
    assert row.locator("td").first.inner_text() == "end"
    assert f"{view.brew.pours[1].duration_s}" in row.inner_text()
    assert view.brew.pours[1].end_s.value == pytest.approx(view.labels.pours[1][1])
    shot(page, "view_dragged")
    page.get_by_role("button", name="undo").click()
    settled(page, view, 0)
    assert view.labels.pours == before
    assert row.inner_text() == told


def test_an_edge_goes_by_keys_and_escape_takes_it_back(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    before = view.labels.pours
    start = edge(page, 3, "start")
    start.focus()
    for press, by in (("ArrowLeft", -0.05), ("Shift+ArrowLeft", -0.55)):
        page.keyboard.press(press)
        assert at_s(start) == pytest.approx(before[2][0] + by, abs=0.006)
    settled(page, view, 1)
    assert view.labels.pours[2][0] == pytest.approx(before[2][0] - 0.55, abs=1e-5)
    assert "by hand" in (start.get_attribute("aria-valuetext") or "")
    page.keyboard.press("Escape")
    settled(page, view, 0)
    assert view.labels.pours == before
    expect(start).to_be_focused()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    page.wait_for_timeout(500)
    assert at_s(start) == pytest.approx(before[2][0], abs=0.006)
    assert len(view._steps.past) == 0


def test_no_edge_passes_its_neighbours(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    before = view.labels.pours
    drag(page, edge(page, 2, "start"), -500)
    settled(page, view, 1)
    assert view.labels.pours[1][0] == pytest.approx(before[0][1], abs=0.01)
    edge(page, 2, "start").focus()
    page.keyboard.press("End")
    settled(page, view, 2)
    assert view.labels.pours[1][0] == pytest.approx(before[1][1] - 0.05, abs=0.01)


def test_pours_are_removed_added_and_reset(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    before = view.labels.pours
    edge(page, 2, "start").focus()
    page.keyboard.press("Delete")
    settled(page, view, 1)
    assert view.labels.pours == [before[k] for k in (0, 2, 3)]
    assert page.locator("tbody tr").count() == len(view.brew.pours) == 3
    expect(page.locator(LINE)).to_be_focused()
    expect(page.get_by_role("status")).to_have_text("pour 2 removed")
    # Into the gap that it left.
    for _ in range(2):
        page.keyboard.press("PageDown")
    page.keyboard.press("PageUp")
    for _ in range(60):
        page.keyboard.press("Shift+ArrowRight")
    here = at_s(page.locator(LINE))
    page.get_by_role("button", name="add a pour").click()
    settled(page, view, 2)
    start_s, end_s = view.labels.pours[1]
    assert start_s < here < end_s
    assert end_s - start_s == pytest.approx(5, abs=0.03)
    expect(edge(page, 2, "start")).to_be_focused()
    page.get_by_role("button", name="reset").click()
    settled(page, view, 3)
    assert view.labels.pours == before
    expect(page.get_by_role("button", name="reset")).to_be_disabled()


def test_what_is_refused_is_told_and_changes_nothing(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    page.get_by_role("button", name="add a pour").click()
    expect(page.get_by_role("status")).to_contain_text("lies in pour 1")
    assert len(view._steps.past) == 0


def test_closer_and_wider(shown: Callable[..., Page], view: Any, shot: Any) -> None:
    page = shown(view)
    edge(page, 1, "end").focus()
    first = at_s(edge(page, 1, "end"))
    for _ in range(3):
        page.keyboard.press("+")
    expect(edge(page, 4, "start")).to_be_hidden()
    expect(page.locator(".pourline-stage svg")).to_have_attribute("data-x", re.compile(f"{view._close_s[1]:.6f}$"))
    assert np.ptp(view._close_s) == pytest.approx(np.ptp(view.brew.trace.time_s) / 8)
    shot(page, "view_closer")
    drag(page, edge(page, 1, "end"), 30)
    settled(page, view, 1)
    stage = page.locator(".pourline-stage").bounding_box()
    assert stage
    seconds = 30 / (stage["width"] - 58) * np.ptp(view.brew.trace.time_s) / 8
    assert view.labels.pours[0][1] == pytest.approx(first + seconds, abs=0.02)
    page.locator(LINE).focus()
    page.keyboard.press("End")
    assert view.brew.trace.time_s[-1] == pytest.approx(at_s(page.locator(LINE)), abs=0.006)
    for _ in range(3):
        page.keyboard.press("-")
    expect(edge(page, 4, "start")).to_be_visible()
    expect(page.get_by_role("button", name="wider")).to_be_disabled()


@pytest.mark.parametrize("water", [True, False])
def test_a_log_without_a_pour_is_shown(shown: Callable[..., Page], water: bool) -> None:
    time_s = np.arange(600) / 10
    mass_g = np.round(np.sin(time_s), 1) * 0.1
    view: Any = pourline.view(pourline.Log(time_s, mass_g) if water else pourline.Log(time_s, beverage_g=mass_g))
    page = shown(view)
    page.locator(LINE).focus()
    page.keyboard.press("End")
    assert "no pour" in (page.locator(LINE).get_attribute("aria-valuetext") or "")
    page.get_by_role("button", name="closer").click()
    page.get_by_role("button", name="add a pour").click()
    expect(page.get_by_role("status")).not_to_have_text("")


@pytest.mark.parametrize(("width", "dark"), [(1000, False), (1000, True), (500, False), (1600, True)])
def test_axe_finds_nothing_at_any_width_in_light_and_dark(
    shown: Callable[..., Page], view: Any, faults: Any, shot: Any, width: int, dark: bool
) -> None:
    page = shown(view, width=width, dark=dark)
    edge(page, 2, "start").focus()
    page.keyboard.press("ArrowLeft")
    settled(page, view, 1)
    page.locator("summary").click()
    assert faults(page) == []
    shot(page, f"view_{width}_{'dark' if dark else 'light'}")
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_targets_are_large_enough_and_the_focus_is_seen(shown: Callable[..., Page], view: Any) -> None:
    page = shown(view)
    targets = [*page.get_by_role("slider").all(), *page.get_by_role("button").all()]
    assert len(targets) == 1 + 2 * 4 + 5 + 4
    for target in targets:
        box = target.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= 24
    seen = []
    for _ in range(9):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.getAttribute('aria-label')"))
        ring = page.evaluate(
            "(({outlineStyle, outlineWidth}) => [outlineStyle, outlineWidth])(getComputedStyle(document.activeElement))"
        )
        assert ring == ["solid", "3px"]
    assert seen == ["time", *(f"{which} of pour {k}" for k in range(1, 5) for which in ("start", "end"))]


@pytest.mark.parametrize("dark", [False, True])
def test_curves_stand_out_in_light_and_dark(shown: Callable[..., Page], view: Any, dark: bool) -> None:
    page = shown(view, dark=dark)
    script = """() => {
      const canvas = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
      const rgb = (colour) => { canvas.fillStyle = colour; canvas.fillRect(0, 0, 1, 1); return [...canvas.getImageData(0, 0, 1, 1).data].slice(0, 3); };
      const paper = rgb(getComputedStyle(document.querySelector(".pourline-view")).backgroundColor);
      return [paper, ...[...document.querySelectorAll("circle")].map((dot) => rgb(dot.getAttribute("fill")))];
    }"""
    paper, *curves = page.evaluate(script)
    assert (sum(paper) < 200) == dark
    assert len(curves) == 5
    for colour in curves:
        low, high = sorted((luminance(colour), luminance(paper)))
        assert (high + 0.05) / (low + 0.05) >= 3, colour


def test_ink_and_paper_are_those_of_the_notebook(shown: Callable[..., Page], view: Any, faults: Any, shot: Any) -> None:
    page = shown(view)
    # The names under which JupyterLab's themes keep them.
    page.add_style_tag(content=":root{--jp-layout-color0:rgb(17,17,17);--jp-content-font-color1:rgb(255,255,255)}")
    script = """(({backgroundColor, color}) => [backgroundColor, color])(getComputedStyle(document.querySelector(".pourline-view")))"""
    assert page.evaluate(script) == ["rgb(17, 17, 17)", "rgb(255, 255, 255)"]
    assert faults(page, ".pourline-view") == []
    shot(page, "view_in_a_dark_notebook")


def luminance(rgb: list[int]) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb]
    return float(np.dot([0.2126, 0.7152, 0.0722], parts))


def test_nothing_moves_by_itself_where_that_is_asked(shown: Callable[..., Page], view: Any) -> None:
    script = (
        "[...document.querySelectorAll('.pourline-view *')].map((node) => getComputedStyle(node).transitionDuration)"
    )
    assert set(shown(view, reduced_motion="reduce").evaluate(script)) == {"0s"}
    assert set(shown(view).evaluate(script)) != {"0s"}


def test_a_log_of_a_hundred_thousand_samples_stays_fluid(shown: Callable[..., Page], shot: Any) -> None:
    time_s = np.arange(100_000) / 100
    water_g = sum(6.0 * np.clip(time_s - start, 0, 10) for start in range(10, 900, 60))
    noise = np.random.default_rng(5).normal(0, 0.03, len(time_s))
    view = pourline.view(pourline.Log(time_s, np.round(water_g + noise, 1), name="long"))
    page = shown(view)
    script = """async () => {
      const stage = document.querySelector(".pourline-stage");
      const box = stage.getBoundingClientRect();
      stage.setPointerCapture = () => {};
      const move = (kind, x) => stage.dispatchEvent(
        new PointerEvent(kind, { pointerId: 1, clientX: box.left + x, clientY: box.top + 200, bubbles: true }));
      move("pointerdown", 100);
      const begun = performance.now();
      for (let k = 0; k < 200; k++) { move("pointermove", 100 + 4 * k); document.body.offsetHeight; }
      const took = (performance.now() - begun) / 200;
      move("pointerup", 900);
      return took;
    }"""
    took = page.evaluate(script)
    print(f"a move of the line over 100,000 samples: {took:.2f} ms")
    # Half of a frame at 30 a second.
    assert took < 16.7
    assert len(view._now["svg"]) < 150_000
    # A zoom redraws the figure; tests/python/test_view.py checks that no sample is missing from it.
    edge(page, 2, "start").focus()
    for _ in range(6):
        page.keyboard.press("+")
    page.wait_for_timeout(1000)
    low_s, high_s = view._close_s
    assert high_s - low_s == pytest.approx(1000 / 2**6, rel=0.01)
    expect(page.locator(".pourline-stage svg")).to_have_attribute("data-x", re.compile(f"{high_s:.6f}$"))
    assert f"{high_s:.6f}" in view._now["svg"]
    shot(page, "view_long")
