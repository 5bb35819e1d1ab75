"""In: a brew or a log. Out: its figure as SVG text, for notebooks and pages; nothing but numpy is needed.

Weights above, flow with its band of two sd below, one time axis; pours shaded and numbered, events on a lane between.
Text takes the colour of what is around it, so that the figure is readable on a dark page too.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ._looks import (
    BEVERAGE,
    EVENT,
    FLOW,
    POUR,
    WATER,
    Weights,
    flow_top,
    mass_span,
    time_span,
    told_events,
    weight_of,
    weights_of,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from ._pourline import Brew, Log

LEFT, RIGHT, TOP, BOTTOM, LANE = 46.0, 92.0, 16.0, 30.0, 18.0


class Panel(NamedTuple):
    """A rectangle on the page with the data range that it shows."""

    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def across(self, x: float) -> float:
        """Return where a time stands on the page."""
        return self.left + (x - self.x[0]) / (self.x[1] - self.x[0]) * self.width

    def up(self, y: float) -> float:
        """Return where a value stands on the page."""
        return self.top + self.height - (y - self.y[0]) / (self.y[1] - self.y[0]) * self.height

    def path(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> str:
        """Return the path of a line, broken where there is no number, with no more points than the page can show."""
        keep = _extremes(y, int(self.width))
        parts, pen = [], "M"
        for xi, yi in zip(*_bends(x[keep], y[keep], self.height / (self.y[1] - self.y[0])), strict=True):
            if yi != yi:
                pen = "M"
                continue
            parts.append(f"{pen}{self.across(xi):.1f} {self.up(yi):.1f}")
            pen = "L"
        return "".join(parts)

    def axes(self, label: str, ticks: int) -> str:
        """Return the ticks of the values with their faint lines, and the label."""
        parts = []
        for value in nice(self.y, ticks):
            at = self.up(value)
            parts.append(
                f'<path d="M{self.left:.1f} {at:.1f}h{self.width:.1f}" stroke="currentColor" stroke-opacity=".12"/>'
                f'<text x="{self.left - 6:.1f}" y="{at + 3.5:.1f}" text-anchor="end">{value:g}</text>'
            )
        parts.append(f'<text x="{self.left:.1f}" y="{self.top - 5:.1f}" font-style="italic">{label}</text>')
        return "".join(parts)

    def time_axis(self) -> str:
        """Return the ticks of the time below the panel."""
        base = self.top + self.height
        parts = [f'<path d="M{self.left:.1f} {base:.1f}h{self.width:.1f}" stroke="currentColor" stroke-opacity=".6"/>']
        for value in nice(self.x, 8):
            at = self.across(value)
            parts.append(
                f'<path d="M{at:.1f} {base:.1f}v4" stroke="currentColor" stroke-opacity=".6"/>'
                f'<text x="{at:.1f}" y="{base + 15:.1f}" text-anchor="middle">{value:g}</text>'
            )
        end = self.left + self.width
        parts.append(f'<text x="{end + 18:.1f}" y="{base + 15:.1f}" font-style="italic">time, s</text>')
        return "".join(parts)


def _extremes(y: NDArray[np.float64], columns: int) -> NDArray[np.intp]:
    """Return the samples that draw the same line on so many columns: the lowest and highest of each."""
    if len(y) <= 4 * columns:
        return np.arange(len(y))
    keep: set[int] = {0, len(y) - 1}
    edges = np.linspace(0, len(y), columns + 1).astype(int)
    for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        part = y[first:last]
        keep |= {first + int(np.argmin(part)), first + int(np.argmax(part))}
    return np.array(sorted(keep))


def _bends(x: NDArray[np.float64], y: NDArray[np.float64], scale: float) -> tuple[list[float], list[float]]:
    """Leave out the points inside a level stretch, seen at a tenth of a pixel."""
    level = np.round(y * scale, 1)
    same = level[1:] == level[:-1]
    keep = np.ones(len(y), dtype=bool)
    keep[1:-1] = ~(same[1:] & same[:-1])
    return x[keep].tolist(), y[keep].tolist()


def nice(span: tuple[float, float], count: int) -> list[float]:
    """Return about so many round values within a span."""
    step = (span[1] - span[0]) / count
    scale = 10.0 ** np.floor(np.log10(step))
    step = float(scale * next(m for m in (1, 2, 5, 10) if m * scale >= step * 0.999))
    first = int(np.ceil(span[0] / step - 1e-9))
    return [i * step for i in range(first, int(np.floor(span[1] / step + 1e-9)) + 1)]


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


def _flow(panel: Panel, brew: Brew) -> str:
    flow = brew.flow
    if flow is None:
        return ""
    known = np.isfinite(flow.flow_sd_g_per_s)
    keep = np.flatnonzero(known)[_extremes(flow.flow_g_per_s[known], int(panel.width))]
    t, q, sd = flow.time_s[keep], flow.flow_g_per_s[keep], flow.flow_sd_g_per_s[keep]
    top = panel.path(t, np.minimum(q + 2 * sd, panel.y[1]))
    bottom = panel.path(t[::-1], np.maximum(q - 2 * sd, panel.y[0])[::-1])
    line = panel.path(t, np.minimum(q, panel.y[1]))
    return (
        f'<path d="{top}L{bottom[1:]}Z" fill="{FLOW}" opacity=".28"/>'
        f'<path d="{line}" fill="none" stroke="{FLOW}" stroke-width="1.3"/>'
    )


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


def brew_figure(brew: Brew, width: float = 760.0, height: float = 420.0) -> str:
    """Return weights, pours, events and flow of a brew."""
    weights = weights_of(brew)
    x, inner = time_span(weights), width - LEFT - RIGHT
    lane = LANE if brew.events else 0.0
    free = height - 2 * TOP - BOTTOM - lane
    share = 0.62 if brew.flow is not None else 1.0
    upper = Panel(LEFT, TOP, inner, free * share, x, mass_span(weights))
    below = Panel(LEFT, TOP + free * share + 3, inner, lane, x, (0.0, 1.0))
    lower = Panel(LEFT, 2 * TOP + free * share + lane, inner, free * (1 - share), x, (0.0, flow_top(brew)))
    panels = [upper, lower] if brew.flow is not None else [upper]
    ticks = max(2, int(height / 80))
    parts = [_pours(panels, brew), upper.axes("weight, g", ticks), _weights(upper, weights), _events(below, brew)]
    if brew.flow is not None:
        parts += [lower.axes("flow at the bed, g/s", max(2, ticks - 2)), _flow(lower, brew)]
        parts.append(
            f'<text x="{LEFT + inner + 6:.1f}" y="{lower.top + 10:.1f}" fill="{FLOW}">flow</text>'
            f'<text x="{LEFT + inner + 6:.1f}" y="{lower.top + 23:.1f}" font-size="9.5">band: ±2 sd</text>'
        )
    parts.append(panels[-1].time_axis())
    return _page(width, height, f"weights and flow against time, {len(brew.pours)} pours", parts)
