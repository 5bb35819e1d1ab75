"""In: a brew or a log. Out: its figure as SVG text, for notebooks and pages; nothing but numpy is needed.

Weights above, below them the flow of water and beverage with bands of two sd, then the water held, over one time axis; pours shaded
and numbered, events on a lane under the weights. A panel without anything to show is left out.
Text takes the colour of what is around it, so that the figure is readable on a dark page too.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .._pourline import Estimate
from .._text.pours import plateau_lines
from .looks import (
    BEVERAGE,
    EVENT,
    FLOW,
    HELD,
    POUR,
    WATER,
    Weights,
    curve_of,
    edges_by_hand,
    flow_top,
    held_span,
    marks_of,
    mass_span,
    panels_of,
    time_span,
    told_events,
    weight_of,
    weights_of,
)
from .panel import Panel, extremes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .._pourline import Brew, Log

LEFT, RIGHT, TOP, BOTTOM, LANE = 46.0, 92.0, 22.0, 30.0, 18.0
SHARES = {"weight": 5.0, "flow": 4.0, "held": 2.6}
LABELS = 0.55


def _weights(panel: Panel, weights: list[Weights]) -> str:
    parts, taken = [], [float("-inf")]
    for one in sorted(weights, key=lambda w: -w.last_g):
        colour, dash = (WATER, "") if one.channel == "water" else (BEVERAGE, ' stroke-dasharray="5 2.5"')
        inside = (one.mass_g >= panel.y[0]) & (one.mass_g <= panel.y[1]) & ~one.used
        for x, y in zip(one.time_s[inside][:2000].tolist(), one.mass_g[inside][:2000].tolist(), strict=True):
            parts.append(
                f'<circle cx="{panel.across(x):.1f}" cy="{panel.up(y):.1f}" r="1.5" fill="{colour}" opacity=".6"/>'
            )
        line = panel.path(*one.line())
        parts.append(f'<path d="{line}" fill="none" stroke="{colour}" stroke-width="1.6"{dash}/>')
        at = max(panel.up(one.last_g) + 4, taken[-1] + 13)
        taken.append(at)
        parts.append(
            f'<text x="{panel.left + panel.width + 6:.1f}" y="{at:.1f}" fill="{colour}">'
            f"{one.channel} {one.last_g:.0f} g</text>"
        )
    return "".join(parts)


def _pours(panels: list[Panel], brew: Brew) -> str:
    parts = []
    for number, pour in enumerate(brew.pours, 1):
        for row, panel in enumerate(panels):
            left = max(panel.across(pour.start_s.value), panel.left)
            right = min(panel.across(pour.end_s.value), panel.left + panel.width)
            parts.append(
                f'<rect x="{left:.1f}" y="{panel.top:.1f}" width="{max(right - left, 0.5):.1f}" '
                f'height="{panel.height:.1f}" fill="{POUR}" opacity=".3"/>'
            )
            if row == 0:
                parts.append(
                    f'<text x="{(left + right) / 2:.1f}" y="{panel.top + 12:.1f}" text-anchor="middle" '
                    f'font-weight="600">{number}</text>'
                )
    return "".join(parts)


def _events(panel: Panel, brew: Brew) -> str:
    """Return the lane of events: a bar for how long each took, its word where there is room."""
    parts, free_from = [], float("-inf")
    for event in told_events(brew.events):
        left = min(max(panel.across(event.start_s), panel.left), panel.left + panel.width - 2)
        right = min(max(panel.across(event.end_s), left + 2.5), panel.left + panel.width)
        told = f"{event.kind}, {event.start_s:.1f} to {event.end_s:.1f} s: {event.action}"
        parts.append(
            f'<rect x="{left:.1f}" y="{panel.top:.1f}" width="{right - left:.1f}" height="5" rx="1" '
            f'fill="{EVENT}" opacity="{weight_of(event)}"><title>{escape(told)}</title></rect>'
        )
        if left > free_from:
            parts.append(f'<text x="{left:.1f}" y="{panel.top + 15:.1f}" font-size="9.5">{escape(event.kind)}</text>')
            free_from = left + 6 * len(event.kind) + 6
    return "".join(parts)


def _band(panel: Panel, t: NDArray[np.float64], y: NDArray[np.float64], sd: NDArray[np.float64], look: str) -> str:
    """Return a line with its band of two sd, where they are known."""
    known = np.isfinite(y) & np.isfinite(sd)
    if not known.any():
        return ""
    keep = np.flatnonzero(known)[extremes(y[known], int(panel.width))]
    t, y, sd = t[keep], y[keep], sd[keep]
    top = panel.path(t, np.minimum(y + 2 * sd, panel.y[1]))
    bottom = panel.path(t[::-1], np.maximum(y - 2 * sd, panel.y[0])[::-1])
    colour = look.split('"')[0]
    return (
        f'<path d="{top}L{bottom[1:]}Z" fill="{colour}" opacity=".25"/>'
        f'<path d="{panel.path(t, np.clip(y, *panel.y))}" fill="none" stroke-width="1.3" stroke="{look}"/>'
    )


def _flow(panel: Panel, brew: Brew) -> str:
    parts, words, curve, flow = [], [], curve_of(brew), brew.flow
    if curve is not None:
        look = f'{BEVERAGE}" stroke-dasharray="5 2.5'
        parts.append(_band(panel, curve.time_s, curve.beverage_flow_g_per_s, curve.beverage_flow_sd_g_per_s, look))
        words.append(("beverage", BEVERAGE))
    if flow is not None:
        parts.append(_band(panel, flow.time_s, flow.flow_g_per_s, flow.flow_sd_g_per_s, FLOW))
        words.insert(0, ("water", FLOW))
    right = panel.left + panel.width + 6
    for line, (word, colour) in enumerate(words):
        parts.append(f'<text x="{right:.1f}" y="{panel.top + 10 + 13 * line:.1f}" fill="{colour}">{word}</text>')
    parts.append(
        f'<text x="{right:.1f}" y="{panel.top + 10 + 13 * len(words):.1f}" font-size="9.5">bands: ±2 sd</text>'
    )
    return "".join([*parts, *_plateaus(panel, brew)])


def _plateaus(panel: Panel, brew: Brew) -> list[str]:
    """Return a line at the plateau flow of each pour, and what there is room for of its measures."""
    parts, free_from = [], float("-inf")
    for pour, row in zip(brew.pours, brew.metrics.pours, strict=True):
        plateau = row.plateau_flow_g_per_s
        left, right = panel.across(pour.half_rise_s.value), panel.across(pour.half_fall_s.value)
        if isinstance(plateau, Estimate):
            parts.append(
                f'<path d="M{left:.1f} {panel.up(plateau.value):.1f}H{right:.1f}" stroke="currentColor" '
                f'stroke-width="1" stroke-dasharray="2 1.5"/>'
            )
        lines = plateau_lines(row)
        wide = 5.2 * max(map(len, lines), default=0)
        middle = (left + right) / 2
        if lines and middle - wide / 2 > free_from:
            free_from = middle + wide / 2 + 3
            for k, text in enumerate(lines):
                parts.append(
                    f'<text x="{middle:.1f}" y="{panel.top + 9 + 10.5 * k:.1f}" text-anchor="middle" '
                    f'font-size="9.5">{escape(text)}</text>'
                )
    return parts


def _held(panel: Panel, brew: Brew) -> str:
    curve = curve_of(brew)
    if curve is None:
        return ""
    right = panel.left + panel.width + 6
    return (
        _band(panel, curve.time_s, curve.held_g, curve.held_sd_g, HELD)
        + f'<text x="{right:.1f}" y="{panel.top + 10:.1f}" fill="{HELD}">held</text>'
    )


def _marks(panels: dict[str, Panel], brew: Brew) -> str:
    """Return a dotted line through all panels at each instant to point at, its word in the lowest."""
    parts, last = [], list(panels.values())[-1]
    for mark in marks_of(brew):
        at = last.across(mark.at_s)
        if not last.left <= at <= last.left + last.width:
            continue
        side, shift = ("end", -4) if at > last.left + 0.6 * last.width else ("start", 4)
        for name, panel in panels.items():
            words = panel.height * LABELS / (1 + LABELS) if name == "flow" else 0.0
            parts.append(
                f'<path d="M{at:.1f} {panel.top + words:.1f}v{panel.height - words:.1f}" stroke="{BEVERAGE}" stroke-dasharray="1.5 2.5"/>'
            )
        parts.append(
            f'<text x="{at + shift:.1f}" y="{last.top + 9:.1f}" text-anchor="{side}" font-size="9.5">{mark.word} '
            f"{mark.at_s:.1f} s</text>"
        )
    return "".join(parts)


def _by_hand(panels: dict[str, Panel], brew: Brew) -> str:
    """Return a dashed line through all panels at each edge that was set by hand, a triangle on top, and a word beside."""
    parts, upper = [], panels["weight"]
    for at_s in edges_by_hand(brew):
        at = upper.across(at_s)
        for name, panel in panels.items():
            words = panel.height * LABELS / (1 + LABELS) if name == "flow" else 0.0
            parts.append(
                f'<path d="M{at:.1f} {panel.top + words:.1f}v{panel.height - words:.1f}" stroke="currentColor" '
                'stroke-dasharray="5 2"/>'
            )
        parts.append(f'<path d="M{at - 4:.1f} {upper.top - 7:.1f}h8l-4 7z" fill="currentColor"/>')
    if parts:
        left = upper.left + upper.width + 6
        parts.append(f'<path d="M{left:.1f} {upper.top - 7:.1f}h8l-4 7z" fill="currentColor"/>')
        parts.append(f'<text x="{left + 12:.1f}" y="{upper.top:.1f}" font-size="9.5">set by hand</text>')
    return "".join(parts)


def _page(width: float, height: float, title: str, parts: list[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" '
        f'style="max-width:100%;height:auto;color:inherit" role="img" aria-label="{escape(title)}" '
        f'font-family="system-ui,sans-serif" font-size="11" fill="currentColor">{"".join(parts)}</svg>'
    )


def log_figure(log: Log, width: float = 560.0, height: float = 150.0) -> str:
    """Return the weights of a log as they were read."""
    weights = weights_of(log)
    panel = Panel(LEFT, TOP, width - LEFT - RIGHT, height - TOP - BOTTOM, time_span(weights), mass_span(weights))
    parts = [panel.axes("weight, g", 4), _weights(panel, weights), panel.time_axis()]
    return _page(width, height, "weights of the log against time", parts)


def brew_figure(brew: Brew, width: float = 760.0, height: float = 540.0) -> str:
    """Return weights, pours, events, flows and water held of a brew."""
    weights, names = weights_of(brew), panels_of(brew)
    x, inner = time_span(weights), width - LEFT - RIGHT
    lane = LANE if brew.events else 0.0
    share = (height - TOP * len(names) - BOTTOM - lane) / sum(SHARES[name] for name in names)
    curve = curve_of(brew)
    spans = {"weight": mass_span(weights), "flow": (0.0, flow_top(brew, LABELS))}
    labels = {"weight": "weight, g", "flow": "flow, g/s", "held": "water held, g"}
    if curve is not None and "held" in names:
        spans["held"] = held_span(curve)
    panels, top = {}, TOP
    for name in names:
        panels[name] = Panel(LEFT, top, inner, share * SHARES[name], x, spans[name])
        top += panels[name].height + TOP + (lane if name == "weight" else 0.0)
    upper, every = panels["weight"], list(panels.values())
    below = Panel(LEFT, upper.top + upper.height + 3, inner, lane, x, (0.0, 1.0))
    parts = [_pours(every, brew), _marks(panels, brew), _by_hand(panels, brew)]
    parts += [panel.axes(labels[name], max(2, int(panel.height / 32))) for name, panel in panels.items()]
    parts += [_weights(upper, weights), _events(below, brew)]
    parts += [draw(panels[name], brew) for name, draw in (("flow", _flow), ("held", _held)) if name in panels]
    parts.append(every[-1].time_axis())
    return _page(width, height, f"weights, flow and water held against time, {len(brew.pours)} pours", parts)
