"""In: profiles of groups by name. Out: their mean flows with bands as SVG text; it needs only numpy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .looks import GROUPS
from .panel import LEGIBLE, TEXT, Panel, wide

if TYPE_CHECKING:
    from collections.abc import Mapping

    from .._pourline import Profile

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 760.0, 250.0, 46.0, 12.0, 44.0, 24.0


def profile_figure(profiles: Mapping[str, Profile]) -> str:
    """Return the mean flow of up to four groups over the time since the first start."""
    shown = list(zip(profiles.items(), GROUPS, strict=False))
    last_s = max(float(one.position[-1]) for (_, one), _ in shown)
    first_s = min(float(one.position[0]) for (_, one), _ in shown)
    top = max(float(np.nanmax(_edges(one)[1])) for (_, one), _ in shown)
    inner = (WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM)
    panel = Panel(LEFT, TOP, *inner, (first_s, last_s), (0.0, 1.06 * max(top, 1.0)), 0.0)
    parts, at = [panel.axes("mean flow, g/s", 5)], LEFT
    for (name, one), (colour, dash) in shown:
        low, high = _edges(one)
        middle, half = (low + high) / 2, (high - low) / 4
        look = f'stroke="{colour}"' + ("" if isinstance(dash, str) else f' stroke-dasharray="{_dashes(dash)}"')
        if np.any(half > 0):
            parts.append(f'<path d="{panel.band(one.position, middle, half)}" fill="{colour}" opacity=".22"/>')
        line = panel.line(one.position, one.flow_g_per_s)
        parts.append(f'<path d="{line}" fill="none" stroke-width="1.8" {look}/>')
        band = f", {100 * one.level:.0f} % band" if np.any(half > 0) else ", too few for a band"
        text = f"{name} ({len(one.brews)}{band})"
        parts.append(f'<path d="M{at:.1f} 12h22" stroke-width="2" {look}/>')
        parts.append(f'<text x="{at + 28:.1f}" y="16">{escape(text)}</text>')
        at += 28 + wide(text, TEXT) + 18
    parts.append(panel.time_axis())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" width="{WIDTH:.0f}" '
        f'style="max-width:100%;min-width:{LEGIBLE * WIDTH:.0f}px;height:auto;color:inherit" role="img" '
        f'aria-label="mean flow of each group over time" '
        f'font-family="system-ui,sans-serif" font-size="{TEXT:g}" fill="currentColor">{"".join(parts)}</svg>'
    )


def _edges(
    one: Profile,
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], np.ndarray[tuple[int], np.dtype[np.float64]]]:
    low, high = one.low_g_per_s, one.high_g_per_s
    if isinstance(low, np.ndarray) and isinstance(high, np.ndarray):
        return low, high
    return one.flow_g_per_s, one.flow_g_per_s


def _dashes(dash: tuple[int, tuple[float, ...]]) -> str:
    return " ".join(f"{2 * length:g}" for length in dash[1])
