"""In: a brew or a log. Out: its figure as SVG text, for cards, pages and the view; it needs only numpy.

Weights above, below them the flow of water and beverage with bands of two sd, then the water held, over one time
axis; pours shaded and numbered, events on a lane under the weights. A panel without data is left out.
Text inherits the colour of the page, so that the figure is readable on a dark page too. It is complete without a
script; `pointing.js` reads values from its lines, which carry their names and ranges.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .._pourline import Estimate
from .._text.pours import plateau_lines, plateau_span
from .._text.words import clock, word_of
from .looks import (
    BEVERAGE,
    EVENT,
    POUR,
    Curve,
    Weights,
    close_span,
    curve_of,
    distinct_events,
    edges_by_hand,
    flow_curves,
    flow_top,
    held_curves,
    held_span,
    marks_of,
    mass_span,
    panels_of,
    time_span,
    weight_curves,
    weight_of,
    weights_of,
)
from .panel import LEGIBLE, SMALL, TEXT, Panel, short, wide

if TYPE_CHECKING:
    from .._pourline import Brew, Log

LEFT, RIGHT, TOP, BOTTOM, LANE = 46.0, 12.0, 30.0, 24.0, 22.0
SHARES = {"weight": 5.0, "flow": 4.0, "held": 2.6}
LABELS = {"weight": "weight, g", "flow": "flow, g/s (bands: ±2 sd)", "held": "water held, g"}
# Below this width there is room only for the shortest labels.
NARROW = 440.0
LINE = 12.0
UNUSED_SHOWN = 500
# Characters of a figure, and how many times coarser its lines get until it has no more.
MOST = 28_000
COARSER = (1, 2, 4, 8)


def _legend(panel: Panel, label: str, curves: list[Curve]) -> str:
    """Return a sample and the name of each line, next to the label of the panel."""
    parts, at, base = [], panel.left + wide(label, TEXT) + 14, panel.top - 11
    words = [f"{one.word} {one.last}".strip() for one in curves]
    # Each as wide as its text with a value, if there is room for that.
    full = [
        wide(f"{one.word} 8.88 ± 0.88" if one.sd is not None else word, TEXT)
        for one, word in zip(curves, words, strict=True)
    ]
    fits = at + sum(full) + 37 * len(full) - 14 <= panel.right
    for one, word, room in zip(curves, words, full, strict=True):
        if word:
            parts.append(f'<path class="pourline-sample" d="M{at:.1f} {base:.1f}h18" {_look(one)} stroke-width="2"/>')
        parts.append(
            f'<text class="pourline-legend" x="{at + 23 if word else at:.1f}" y="{base + 4:.1f}">{escape(word)}</text>'
        )
        at += 23 + (room if fits else wide(word, TEXT)) + 14
    return "".join(parts)


def _look(one: Curve) -> str:
    return f'stroke="{one.colour}"' + (' stroke-dasharray="5 2.5"' if one.dashed else "")


def _curves(panel: Panel, curves: list[Curve]) -> str:
    """Return lines, each after its band of two sd if that is defined."""
    parts = []
    low, high = panel.y
    for one in curves:
        if one.sd is not None:
            band = panel.band(one.time_s, one.value, one.sd)
            parts.append(f'<path class="pourline-band" d="{band}" fill="{one.colour}" opacity=".25"/>')
        parts.append(
            f'<path class="pourline-curve" data-name="{one.name}" data-word="{one.word}" data-unit="{one.unit}" '
            f'data-y="{panel.top:.2f} {panel.height:.2f} {low:.6g} {high:.6g}" d="{panel.line(one.time_s, one.value, one.sd)}" '
            f'fill="none" stroke-width="1.5" {_look(one)}/>'
        )
    return "".join(parts)


def _unused(panel: Panel, weights: list[Weights]) -> str:
    """Return faint dots for the unused samples."""
    parts = []
    for one, curve in zip(weights, weight_curves(weights), strict=True):
        inside = (one.mass_g >= panel.y[0]) & (one.mass_g <= panel.y[1]) & ~one.used
        inside &= (one.time_s >= panel.x[0]) & (one.time_s <= panel.x[1])
        places = np.flatnonzero(inside)
        places = places[:: 1 + len(places) // UNUSED_SHOWN]
        across, up = panel.placed(one.time_s[places], one.mass_g[places])
        dots = "".join(f"M{short(x)} {short(y)}h0" for x, y in zip(across.tolist(), up.tolist(), strict=True))
        if dots:
            look = 'stroke-width="3" stroke-linecap="round" opacity=".5"'
            parts.append(f'<path class="pourline-unused" d="{dots}" stroke="{curve.colour}" {look}/>')
    return "".join(parts)


def _pours(panels: list[Panel], brew: Brew) -> str:
    parts = []
    for number, pour in enumerate(brew.pours, 1):
        for row, panel in enumerate(panels):
            left = min(max(panel.across(pour.start_s.value), panel.left), panel.right)
            right = min(max(panel.across(pour.end_s.value), panel.left), panel.right)
            seen = right > panel.left and left < panel.right
            parts.append(
                f'<rect class="pourline-pour" data-pour="{number}" x="{left:.2f}" y="{panel.top:.1f}" '
                f'width="{max(right - left, 0.5 if seen else 0):.2f}" height="{panel.height:.1f}" '
                f'fill="{POUR}" opacity=".3"/>'
            )
            if row == 0 and seen:
                parts.append(
                    f'<text x="{(left + right) / 2:.1f}" y="{panel.top + 13:.1f}" text-anchor="middle" '
                    f'font-weight="600">{number}</text>'
                )
    return "".join(parts)


def _events(panel: Panel, brew: Brew) -> str:
    """Return the lane of events: a bar for the duration of each, and its kind if there is room."""
    parts, free_from = [], float("-inf")
    for event in distinct_events(brew.events):
        if event.end_s < panel.x[0] or event.start_s > panel.x[1]:
            continue
        left = min(max(panel.across(event.start_s), panel.left), panel.right - 2)
        right = min(max(panel.across(event.end_s), left + 2.5), panel.right)
        from_s, to_s = (at_s - (panel.zero_s or 0.0) for at_s in (event.start_s, event.end_s))
        text = f"{word_of(event)}, {from_s:.1f} to {to_s:.1f} s: {event.action}"
        parts.append(
            f'<rect x="{left:.1f}" y="{panel.top:.1f}" width="{right - left:.1f}" height="5" rx="1" '
            f'fill="{EVENT}" opacity="{weight_of(event)}"><title>{escape(text)}</title></rect>'
        )
        at = min(left, panel.right - wide(word_of(event)))
        if at > free_from:
            parts.append(
                f'<text x="{at:.1f}" y="{panel.top + 16:.1f}" font-size="{SMALL:g}">{escape(word_of(event))}</text>'
            )
            free_from = at + wide(word_of(event)) + 8
    return "".join(parts)


def _words(brew: Brew) -> float:
    """Return the height above the flow for the metrics of the pours, and for marks if no panel is below."""
    lines = max((len(plateau_lines(row)) for row in brew.metrics.pours), default=0)
    return LINE * (lines + (panels_of(brew)[-1] == "flow" and bool(marks_of(brew)))) + 6


def _plateaus(panel: Panel, brew: Brew) -> str:
    """Return a line at the plateau flow of each pour, and as many of its metrics as there is room for."""
    parts, free_from = [], float("-inf")
    for pour, row in zip(brew.pours, brew.metrics.pours, strict=True):
        plateau = row.plateau_flow_g_per_s
        from_s, to_s = plateau_span(pour)
        left = max(panel.across(from_s), panel.left)
        right = min(panel.across(to_s), panel.right)
        if left >= right:
            continue
        if isinstance(plateau, Estimate):
            parts.append(
                f'<path d="M{left:.1f} {panel.up(plateau.value):.1f}H{right:.1f}" stroke="currentColor" '
                f'stroke-width="1" stroke-dasharray="2 1.5"/>'
            )
        lines = plateau_lines(row)
        room = max(map(wide, lines), default=0.0)
        middle = min(max((left + right) / 2, panel.left + room / 2), panel.right - room / 2)
        if lines and middle - room / 2 > free_from:
            free_from = middle + room / 2 + 4
            for k, text in enumerate(lines):
                parts.append(
                    f'<text x="{middle:.1f}" y="{panel.top + 10 + LINE * k:.1f}" text-anchor="middle" '
                    f'font-size="{SMALL:g}">{escape(text)}</text>'
                )
    return "".join(parts)


def _through(panels: dict[str, Panel], brew: Brew, at_s: float, look: str) -> str:
    """Return a line through all panels at an instant, below the text of the flow."""
    parts = []
    for name, panel in panels.items():
        words = _words(brew) if name == "flow" else 0.0
        parts.append(f'<path d="M{panel.across(at_s):.1f} {panel.top + words:.1f}V{panel.base:.1f}" {look}/>')
    return "".join(parts)


def _marks(panels: dict[str, Panel], brew: Brew) -> str:
    """Return a dotted line through all panels at each marked instant, its label in the lowest."""
    parts, free_from = [], float("-inf")
    name, last = list(panels.items())[-1]
    for mark in marks_of(brew):
        if not last.x[0] <= mark.at_s <= last.x[1]:
            continue
        at = last.across(mark.at_s)
        when = f"{mark.at_s:.1f} s" if last.zero_s is None else clock(mark.at_s - last.zero_s)
        text = f"{mark.word} {when}"
        side, shift = ("end", -5) if at + wide(text) + 10 > last.right else ("start", 5)
        parts.append(_through(panels, brew, mark.at_s, f'stroke="{BEVERAGE}" stroke-dasharray="1.5 2.5"'))
        above = last.top + (_words(brew) - 8 if name == "flow" else 10.0)
        begins = at + shift - (wide(text) if side == "end" else 0.0)
        above += 0.0 if begins > free_from else LINE
        free_from = max(free_from, begins + wide(text) + 4)
        parts.append(
            f'<text x="{at + shift:.1f}" y="{above:.1f}" text-anchor="{side}" '
            f'font-size="{SMALL:g}">{escape(text)}</text>'
        )
    return "".join(parts)


def _by_hand(panels: dict[str, Panel], brew: Brew) -> str:
    """Return a dashed line through all panels at each labelled edge, a triangle above it, and a label."""
    parts, upper, word = [], panels["weight"], "set by hand"
    for at_s in edges_by_hand(brew):
        if upper.x[0] <= at_s <= upper.x[1]:
            parts.append(_through(panels, brew, at_s, 'stroke="currentColor" stroke-dasharray="5 2"'))
            parts.append(f'<path d="M{upper.across(at_s) - 4:.1f} {upper.top - 7:.1f}h8l-4 7z" fill="currentColor"/>')
    if parts and upper.width > NARROW:
        left = upper.right - wide(word, TEXT) - 4
        parts.append(f'<path d="M{left - 13:.1f} {upper.top - 16:.1f}h8l-4 7z" fill="currentColor"/>')
        parts.append(f'<text x="{left:.1f}" y="{upper.top - 7:.1f}">{word}</text>')
    return "".join(parts)


def _page(width: float, height: float, title: str, panel: Panel, parts: list[str]) -> str:
    from_s, to_s = (at_s - (panel.zero_s or 0.0) for at_s in panel.x)
    clocked = "" if panel.zero_s is None else ' data-clock=""'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="pourline-figure" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" data-x="{panel.left:g} {panel.width:g} {from_s:.6f} {to_s:.6f}"{clocked} '
        f'style="max-width:100%;min-width:{LEGIBLE * width:.0f}px;height:auto;color:inherit" '
        f'role="img" aria-label="{escape(title)}" '
        f'font-family="system-ui,sans-serif" font-size="{TEXT:g}" fill="currentColor">{"".join(parts)}</svg>'
    )


def log_figure(log: Log, width: float = 660.0, height: float = 170.0) -> str:
    """Return the raw weights of a log."""
    weights = weights_of(log)
    size = (width - LEFT - RIGHT, height - TOP - BOTTOM)
    panel = Panel(LEFT, TOP, *size, time_span(weights), mass_span(weights))
    curves, label = weight_curves(weights), LABELS["weight"]
    parts = [panel.axes(label, 4), _curves(panel, curves), _legend(panel, label, curves), panel.time_axis()]
    return _page(width, height, "weights of the log against time", panel, parts)


def brew_figure(
    brew: Brew,
    width: float = 760.0,
    height: float = 540.0,
    span_s: tuple[float, float] | None = None,
    zero_s: float | None = None,
    exact: bool = False,
) -> str:
    """Return weights, pours, events, flows and water held of a brew, complete or within a span of time of the log.

    The written times count from `zero_s`, an instant of the log; None keeps the clock of the log. Every sample lies
    on its line if they are `exact`; else they are as fine as MOST characters allow.
    """
    if exact:
        return _brew_figure(brew, width, height, span_s, zero_s, 0)
    for coarse in COARSER:
        drawn = _brew_figure(brew, width, height, span_s, zero_s, coarse)
        if len(drawn) <= MOST:
            break
    return drawn


def _brew_figure(
    brew: Brew, width: float, height: float, span_s: tuple[float, float] | None, zero_s: float | None, coarse: int
) -> str:
    weights, names = weights_of(brew), panels_of(brew)
    x, inner = span_s or time_span(weights), width - LEFT - RIGHT
    lane = LANE if brew.events else 0.0
    share = (height - TOP * len(names) - BOTTOM - lane) / sum(SHARES[name] for name in names)
    curves = {"weight": weight_curves(weights), "flow": flow_curves(brew), "held": held_curves(brew)}
    room = _words(brew) / max(share * SHARES["flow"] - _words(brew), 1.0)
    spans = {"weight": mass_span(weights), "flow": (0.0, flow_top(brew, max(room, 0.08)))}
    if span_s is not None:
        spans["weight"] = close_span(curves["weight"], span_s) or spans["weight"]
    curve = curve_of(brew)
    if curve is not None and "held" in names:
        spans["held"] = held_span(curve)
    panels, top = {}, TOP
    for name in names:
        panels[name] = Panel(LEFT, top, inner, share * SHARES[name], x, spans[name], zero_s, coarse)
        top += panels[name].height + TOP + (lane if name == "weight" else 0.0)
    upper, every = panels["weight"], list(panels.values())
    below = Panel(LEFT, upper.base + 3, inner, lane, x, (0.0, 1.0), zero_s)
    parts = [_pours(every, brew), _marks(panels, brew), _by_hand(panels, brew)]
    for name, panel in panels.items():
        label = LABELS[name] if inner > NARROW else LABELS[name].split(" (")[0]
        parts.append(panel.axes(label, max(2, int(panel.height / 26))))
        parts.append(_legend(panel, label, curves[name]))
        if name == "weight":
            parts += [_unused(panel, weights), _events(below, brew)]
        parts.append(_curves(panel, curves[name]))
        if name == "flow":
            parts.append(_plateaus(panel, brew))
    parts.append(every[-1].time_axis())
    title = f"weights, flow and water held against time, {len(brew.pours)} pours"
    return _page(width, height, title, upper, parts)
