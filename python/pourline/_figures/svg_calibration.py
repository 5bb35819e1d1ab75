"""In: calibrations of scales by name. Out: their figure as SVG text for a page; it needs only numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .looks import GROUPS
from .panel import LEGIBLE, SMALL, TEXT, Panel, nice

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from .._pourline import Calibration

WIDTH, LEFT, GAP, TOP, HEIGHT, AXIS = 900.0, 44.0, 62.0, 40.0, 200.0, 44.0
WIDE = (WIDTH - LEFT - 2 * GAP - 12) / 3
HEADS = (
    ("share of a mass shown", "time after it, s"),
    ("noise at rest, g²/Hz", "frequency, Hz"),
    ("number of intervals, log scale", "interval of stamps, s"),
)


def calibration_figure(named: Mapping[str, Calibration]) -> str:
    """Return step responses, noise spectra and intervals of stamps beside each other; dots are measured."""
    lines: tuple[list[tuple[int, NDArray[np.float64], NDArray[np.float64]]], ...] = ([], [], [])
    for place, one in enumerate(named.values()):
        curves = one.curves
        fitted_s = np.linspace(curves.after_s[0], curves.after_s[-1], 200)
        lines[0].append((place, fitted_s, np.array([one.response.shown(s) for s in fitted_s])))
        lines[1].append((place, curves.frequency_hz, curves.noise_g2_per_hz))
        lines[2].append((place, curves.interval_s, np.log10(1 + curves.n_intervals)))
    parts = []
    for k, ((label, below), drawn) in enumerate(zip(HEADS, lines, strict=True)):
        xs = np.concatenate([x for _, x, _ in drawn])
        ys = np.concatenate([y for _, _, y in drawn])
        left = LEFT + k * (WIDE + GAP)
        if not len(xs):
            parts.append(_text(f"{label}: no rest is long enough", left, TOP - 14))
            continue
        span = (min(0.0, float(xs.min())), float(xs.max()))
        panel = Panel(left, TOP, WIDE, HEIGHT, span, (min(0.0, float(ys.min())), 1.05 * float(ys.max()) or 1.0))
        parts.append(_axes(panel, label, below, logarithmic=k == 2))
        for place, x, y in drawn:
            colour, dash = GROUPS[place]
            dashes = "" if isinstance(dash, str) else f' stroke-dasharray="{" ".join(f"{d:g}" for d in dash[1])}"'
            parts.append(f'<path d="{panel.line(x, y)}" fill="none" stroke="{colour}" stroke-width="1.6"{dashes}/>')
        if k == 0:
            parts += [_dots(panel, one, GROUPS[place][0]) for place, one in enumerate(named.values())]
    for place, name in enumerate(named):
        if name:
            parts.append(_text(name, LEFT + 170.0 * place, 14, f' fill="{GROUPS[place][0]}"'))
    height = TOP + HEIGHT + AXIS
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" width="{WIDTH:.0f}" '
        f'style="max-width:100%;min-width:{LEGIBLE * WIDTH:.0f}px;height:auto;color:inherit" role="img" '
        f'aria-label="step response, noise and stamps" font-family="system-ui,sans-serif" font-size="{TEXT:g}" '
        f'fill="currentColor">{"".join(parts)}</svg>'
    )


def _dots(panel: Panel, one: Calibration, colour: str) -> str:
    pairs = zip(one.curves.after_s, one.curves.shown, strict=True)
    return "".join(
        f'<circle cx="{panel.across(x):.1f}" cy="{panel.up(float(np.clip(y, *panel.y))):.1f}" r="2" fill="{colour}"/>'
        for x, y in pairs
    )


def _axes(panel: Panel, label: str, below: str, logarithmic: bool) -> str:
    parts = [
        f'<path d="M{panel.left:.1f} {panel.top:.1f}V{panel.base:.1f}H{panel.right:.1f}" fill="none" '
        'stroke="currentColor" stroke-opacity=".5"/>',
        _text(label, panel.left, panel.top - 10),
        _text(below, panel.right, panel.base + 34, ' text-anchor="end"'),
    ]
    for x in nice(panel.x, 5):
        parts.append(_text(f"{x:g}", panel.across(x), panel.base + 16, f' text-anchor="middle" font-size="{SMALL:g}"'))
    counts = [(float(np.log10(1 + n)), float(n)) for n in (0, 10, 100, 1000, 10000)]
    for y, says in counts if logarithmic else [(y, y) for y in nice(panel.y, 4)]:
        if panel.y[0] <= y <= panel.y[1]:
            look = f' text-anchor="end" font-size="{SMALL:g}"'
            parts.append(_text(f"{says:g}", panel.left - 5, panel.up(y) + 4, look))
    return "".join(parts)


def _text(says: str, x: float, y: float, more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}"{more}>{escape(says)}</text>'
