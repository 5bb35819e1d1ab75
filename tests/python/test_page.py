"""A page of brews: the answer, the figure, its legend and the pours first; small, and readable in light and dark."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pytest

import pourline
from pourline._figures import looks
from pourline._figures.legend import legend
from pourline._figures.panel import Panel, sparse
from pourline._figures.svg import brew_figure
from pourline._pages.report import STYLE, page

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

MOST_BYTES = 60_000
GROUNDS = re.findall(r"--ground:#(\w+);--ink:#(\w+);--faint:#(\w+);--link:#(\w+)", STYLE)
DARK = (0x12, 0x12, 0x12)
WHITE = (255, 255, 255)


def made(level: str, seed: int) -> pourline.Brew:
    return pourline.analyze(pourline.simulate(level, seed=seed)[0])


def rgb(colour: str) -> tuple[int, int, int]:
    red, green, blue = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return red, green, blue


def contrast(one: Sequence[float], other: Sequence[float]) -> float:
    """Return the contrast ratio of two colours; source: WCAG 2.2, definitions of relative luminance and contrast."""

    def luminance(colour: Sequence[float]) -> float:
        parts = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour]
        return float(np.dot([0.2126, 0.7152, 0.0722], parts))

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def over(colour: Sequence[float], ground: Sequence[float], opacity: float) -> list[float]:
    """Return a colour that is drawn over another; source: W3C Compositing and Blending, source over."""
    return [opacity * c + (1 - opacity) * g for c, g in zip(colour, ground, strict=True)]


def test_black_on_white_has_a_contrast_of_21_and_a_grey_that_of_its_table() -> None:
    # Source: WCAG 2.2 (21 is the largest); #767676 on white has 4.54, as understanding success criterion 1.4.3 has it.
    assert contrast((0, 0, 0), WHITE) == pytest.approx(21)
    assert contrast(rgb("#767676"), WHITE) == pytest.approx(4.54, abs=0.01)


def test_all_text_has_a_contrast_of_at_least_4_5_on_screen_in_light_and_dark_and_on_paper() -> None:
    assert [ground for ground, *_ in GROUNDS] == ["fff", "121212", "fff"]
    for ground, *inks in GROUNDS:
        below, *above = (rgb(f"#{one if len(one) == 6 else ''.join(2 * c for c in one)}") for one in (ground, *inks))
        assert all(contrast(ink, below) >= 4.5 for ink in above)


@pytest.mark.parametrize("name", ["WATER", "BEVERAGE", "FLOW", "HELD", "EVENT"])
def test_every_line_has_a_contrast_of_at_least_4_5_also_over_a_pour(name: str) -> None:
    (bright,) = re.findall(r"prefers-color-scheme:dark\)\{svg\{filter:brightness\(([\d.]+)\)", STYLE)
    dark_shade, on_paper = map(float, re.findall(r"\.pourline-pour\{opacity:([\d.]+)\}", STYLE))
    assert on_paper == 0.3
    line, pour = rgb(getattr(looks, name)), rgb(looks.POUR)
    assert contrast(line, WHITE) >= 4.5
    assert contrast(line, over(pour, WHITE, 0.3)) >= 4.5
    lit, lit_pour = ([min(255, c * float(bright)) for c in one] for one in (line, pour))
    assert contrast(lit, DARK) >= 4.5
    assert contrast(lit, over(lit_pour, DARK, dark_shade)) >= 4.5


@pytest.mark.parametrize(("level", "seed"), [("clean", 2), ("usual", 1), ("hard", 2), ("usual_50_hz", 1)])
def test_a_page_of_one_brew_is_small(level: str, seed: int) -> None:
    assert len(page(made(level, seed)).encode()) <= MOST_BYTES


def test_many_brews_share_script_and_style() -> None:
    brews = [pourline.analyze(pourline.datasets.load(name)) for name in pourline.datasets.names()[:3]]
    assert len(page(brews).encode()) <= 3 * (MOST_BYTES - 9_000)


def test_the_order_is_answer_warnings_figure_legend_pours_and_all_else_folds() -> None:
    log = pourline.datasets.load("fernspout-ada-01")
    brew = pourline.analyze(pourline.Log(log.time_s, log.beverage_g, log.water_g, name="exchanged", dose_g=15.0))
    text = page(brew)
    marks = [
        "<h1>exchanged</h1>",
        'class="answer"',
        'class="warning"',
        "pourline-figure",
        'class="legend"',
        ">pour</th>",
    ]
    folds = ["<summary>All numbers", "<summary>Uncertainty", "<summary>Samples and repairs", "Provenance</h2>"]
    body = text[text.index("<main>") :]
    places = [body.index(mark) for mark in marks + folds]
    assert places == sorted(places)
    assert "<details open" not in text


def test_the_legend_explains_the_marks_of_the_figure_and_no_other(
    brew: pourline.Brew, knocked: pourline.Brew, log: pourline.Log
) -> None:
    words: dict[str, Callable[[str], bool]] = {
        "an event": lambda figure: looks.EVENT in figure,
        "readings that are not used": lambda figure: "pourline-unused" in figure,
        "band of": lambda figure: "pourline-band" in figure,
        "first drip": lambda figure: ">first drip " in figure,
        "water held": lambda figure: "water held, g" in figure,
        "plateau flow": lambda figure: 'stroke-dasharray="2 1.5"' in figure,
        "set by hand": lambda figure: "set by hand" in figure,
        "weight of the beverage": lambda figure: f'stroke="{looks.BEVERAGE}"' in figure,
        "a pour": lambda figure: "pourline-pour" in figure,
    }
    flat = pourline.analyze(pourline.Log(log.time_s, np.zeros(len(log.time_s))))
    labels = pourline.Labels.of(brew).moved(1, end_s=brew.pours[0].end_s.value + 0.4)
    seen: set[str] = set()
    for one in (brew, knocked, flat, pourline.analyze(log, labels=labels)):
        figure, told = brew_figure(one), legend(one)
        for word, is_drawn in words.items():
            assert (word in told) == is_drawn(figure), word
            seen |= {word} if word in told else set()
    assert seen == set(words)


def test_a_page_of_many_brews_links_to_each_and_counts_warnings() -> None:
    log = pourline.datasets.load("fernspout-ada-01")
    wrong = pourline.Log(log.time_s, log.beverage_g, log.water_g, name="<wrong>")
    text = page([pourline.analyze(log), pourline.analyze(wrong)])
    assert "<h1>2 brews</h1><p>1 of 2 brews carries warnings.</p>" in text
    assert re.findall(r'<a href="#(brew-\d)">([^<]*)</a>', text) == [
        ("brew-1", "fernspout-ada-01"),
        ("brew-2", "&lt;wrong&gt;"),
    ]
    assert re.findall(r'<section class="brew" id="([^"]*)"><h2>', text) == ["brew-1", "brew-2"]
    assert re.search(r'<td title="the two columns look exchanged: [^"]*">1</td></tr>', text)


def test_a_line_of_few_points_passes_every_sample_within_the_height() -> None:
    noise = np.random.default_rng(3)
    x = np.cumsum(noise.integers(1, 90, 900))
    for within in (6.0, 24.0):
        top, base = (np.cumsum(noise.integers(-9, 10, 900)) for _ in range(2))
        few = sparse(within, x, top, base)
        assert few[0] == 0
        assert few[-1] == 899
        assert len(few) < 700
        for line in (top, base):
            assert np.abs(np.interp(x, x[few], line[few]) - line).max() <= within + 1e-9


def test_a_straight_line_needs_two_points() -> None:
    panel = Panel(0, 0, 100, 100, (0, 10), (0, 10))
    x = np.linspace(0, 10, 500)
    assert panel.line(x, x) == "M0 100l100-100"
