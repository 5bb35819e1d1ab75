"""In: a brew. Out: the legend of its SVG figure as HTML: each mark that the figure has, and what it means."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .._pourline import Estimate
from .looks import BEVERAGE, EVENT, FLOW, HELD, POUR, WATER, edges_by_hand, marks_of, panels_of, weights_of

if TYPE_CHECKING:
    from .._pourline import Brew

DASHED = ' stroke-dasharray="5 2.5"'
DOTTED = ' stroke-dasharray="1.5 2.5"'
THIN = ' stroke-dasharray="2 1.5"'


def legend(brew: Brew) -> str:
    """Return the marks of the figure of a brew, each with its meaning."""
    marks = "".join(
        f'<li><svg width="26" height="12" viewBox="0 0 26 12" aria-hidden="true">{drawn}</svg>{escape(text)}</li>'
        for drawn, text in _marks(brew)
    )
    hint = "Point at the figure, or press Tab and the arrow keys, to read the values at an instant."
    return f'<ul class="legend">{marks}<li class="pourline-hint" hidden>{hint}</li></ul>'


def _marks(brew: Brew) -> list[tuple[str, str]]:
    weights, panels, rows = weights_of(brew), panels_of(brew), brew.metrics.pours
    channels = {one.channel for one in weights}
    marks = []
    if "water" in channels:
        marks.append((_line(WATER), "weight of the water poured"))
    if brew.flow is not None:
        marks.append((_line(FLOW), "flow of the water at the bed"))
    if "beverage" in channels:
        flows = " and its flow" if "flow" in panels else ""
        marks.append((_line(BEVERAGE, DASHED), f"weight of the beverage{flows}"))
    if "held" in panels:
        marks.append((_line(HELD), "water held by the bed"))
    if "flow" in panels:
        marks.append((_box(FLOW, ".25"), "band of ±2 sd: about 95 in 100 true values lie within"))
    if brew.pours:
        marks.append((_box(POUR, ".45") + '<text x="13" y="10" font-size="10" text-anchor="middle">1</text>', "a pour"))
    if any(isinstance(row.plateau_flow_g_per_s, Estimate) for row in rows):
        beats = any(isinstance(row.pulsing_hz, Estimate) for row in rows)
        text = "plateau flow of a pour; above it in numbers, with its coefficient of variation CV (< is an upper bound)"
        marks.append((_line("currentColor", THIN, 1), f"{text}{' and the frequency of its pulsing' if beats else ''}"))
    if marks_of(brew):
        named = " and ".join(mark.word.replace("drawdown ends", "end of the drawdown") for mark in marks_of(brew))
        marks.append((f'<path d="M13 0v12" stroke="{BEVERAGE}"{DOTTED}/>', named))
    if edges_by_hand(brew):
        edge = f'<path d="M13 2v10" stroke="currentColor"{DASHED}/><path d="M9 0h8l-4 6z" fill="currentColor"/>'
        marks.append((edge, "edge of a pour that was set by hand"))
    if any(not one.used.all() for one in weights):
        dots = f'stroke="{WATER}" stroke-width="3" stroke-linecap="round" opacity=".5"'
        marks.append((f'<path d="M5 6h0M13 4h0M21 8h0" {dots}/>', "readings that are not used"))
    if brew.events:
        bar = f'<rect x="6" y="3" width="14" height="5" rx="1" fill="{EVENT}"/>'
        marks.append((bar, "an event; its action is under Samples and repairs"))
    if any(np.isnan(one.line()[1]).any() for one in weights):
        gap = f'<path d="M1 6h8M17 6h8" stroke="{WATER}" stroke-width="2"/>'
        marks.append((gap, "a line that breaks: no readings"))
    return marks


def _line(colour: str, dash: str = "", width: float = 2) -> str:
    return f'<path d="M1 6h24" stroke="{colour}" stroke-width="{width:g}"{dash}/>'


def _box(colour: str, opacity: str) -> str:
    return f'<rect width="26" height="12" fill="{colour}" opacity="{opacity}"/>'
