"""In: the difference of two mean flows. Out: both mean flows above, their difference with its band below, as SVG text;
it needs only numpy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .looks import FLOW, GROUPS, POUR
from .panel import LEGIBLE, TEXT, Panel, wide

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .._pourline import ProfileDifference

WIDTH, LEFT, RIGHT, TOP, UPPER, BETWEEN, LOWER, BOTTOM = 760.0, 46.0, 12.0, 44.0, 150.0, 44.0, 130.0, 24.0
# More than this is a pour.
POURS_G_PER_S = 0.5


def difference_figure(found: ProfileDifference) -> str:
    """Return the two mean flows on common landmarks, and the second less the first with its band."""
    height = TOP + UPPER + BETWEEN + LOWER + BOTTOM
    inner, across = WIDTH - LEFT - RIGHT, (float(found.position[0]), float(found.position[-1]))
    flows = (found.a_flow_g_per_s, found.b_flow_g_per_s)
    top = max(1.0, float(max(flow.max() for flow in flows)))
    upper = Panel(LEFT, TOP, inner, UPPER, across, (0.0, 1.06 * top), 0.0)
    parts, at = [upper.axes("mean flow, g/s", 4)], LEFT
    for flow, name, brews, (colour, dash) in zip(flows, (found.a, found.b), found.brews, GROUPS, strict=False):
        dashes = "" if isinstance(dash, str) else f' stroke-dasharray="{" ".join(f"{2 * one:g}" for one in dash[1])}"'
        look = f'stroke="{colour}"{dashes}'
        parts.append(f'<path d="{upper.line(found.position, flow)}" fill="none" stroke-width="1.8" {look}/>')
        text = f"{name} ({brews})"
        parts.append(f'<path d="M{at:.1f} 12h22" stroke-width="2" {look}/>')
        parts.append(f'<text x="{at + 28:.1f}" y="16">{escape(text)}</text>')
        at += 28 + wide(text, TEXT) + 18
    parts += _lower(found, Panel(LEFT, TOP + UPPER + BETWEEN, inner, LOWER, across, _span(found), 0.0))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" width="{WIDTH:.0f}" '
        f'style="max-width:100%;min-width:{LEGIBLE * WIDTH:.0f}px;height:auto;color:inherit" role="img" '
        f'aria-label="mean flow of two groups, and their difference" '
        f'font-family="system-ui,sans-serif" font-size="{TEXT:g}" fill="currentColor">{"".join(parts)}</svg>'
    )


def pouring(found: ProfileDifference) -> NDArray[np.bool_]:
    """Where one of both groups pours: in the rests of both a band says nothing."""
    return np.maximum(found.a_flow_g_per_s, found.b_flow_g_per_s) > POURS_G_PER_S


def _lower(found: ProfileDifference, panel: Panel) -> list[str]:
    low, high = found.low_g_per_s, found.high_g_per_s
    parts = []
    for first, last in found.stretches:
        left, right = panel.across(first), panel.across(last)
        parts.append(
            f'<rect x="{left:.1f}" y="{panel.top:.1f}" width="{max(right - left, 1):.1f}" '
            f'height="{panel.height:.1f}" fill="{POUR}" opacity=".4"/>'
        )
    band = ", no band"
    if isinstance(low, np.ndarray) and isinstance(high, np.ndarray):
        turns = np.flatnonzero(np.diff(np.r_[False, pouring(found), False]))
        for part in map(slice, turns[::2], turns[1::2]):
            path = panel.band(found.position[part], ((low + high) / 2)[part], ((high - low) / 4)[part])
            parts.append(f'<path d="{path}" fill="{FLOW}" opacity=".25"/>')
        band = f" with its {100 * found.level:.0f} % band"
    parts.append(panel.axes(f"{found.b} less {found.a}, g/s{band}", 4))
    parts.append(f'<path d="M{panel.left:.1f} {panel.up(0):.1f}h{panel.width:.1f}" stroke="currentColor"/>')
    line = panel.line(found.position, found.difference_g_per_s)
    parts.append(f'<path d="{line}" fill="none" stroke-width="1.8" stroke="{FLOW}"/>')
    parts.append(panel.time_axis())
    return parts


def _span(found: ProfileDifference) -> tuple[float, float]:
    edges = [one for one in (found.low_g_per_s, found.high_g_per_s) if isinstance(one, np.ndarray)]
    reach = max(0.5, *(float(np.abs(one).max()) for one in (found.difference_g_per_s, *edges)))
    return -1.05 * reach, 1.05 * reach
