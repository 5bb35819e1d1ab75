"""In: a comparison. Out: its figure as SVG text: every value by its group, then the differences; it needs only numpy.

Groups and pairs are rows, so that long names have room. A dot is a value; a diamond with its bar is a mean or a
difference with its interval.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._escape import escape
from .._text.comparison import counts
from .axes import labelled
from .looks import FLOW, WATER
from .panel import LEGIBLE, SMALL, TEXT, Panel, nice

if TYPE_CHECKING:
    from .._pourline import Comparison

WIDTH, LEFT, RIGHT, TOP, GROUP, PAIR, AXIS = 760.0, 220.0, 30.0, 22.0, 46.0, 32.0, 42.0
LETTERS = 29
PAIRS_SHOWN = 12


def comparison_figure(comparison: Comparison) -> str:
    """Return values by group above, differences below."""
    groups, pairs = comparison.groups_table(), comparison.pairs[:PAIRS_SHOWN]
    upper = len(groups[comparison.by]) * GROUP
    second = TOP + upper + AXIS + TOP
    height = second + len(pairs) * PAIR + AXIS
    parts = [*_values(comparison, upper), *_differences(comparison, second)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" width="{WIDTH:.0f}" '
        f'style="max-width:100%;min-width:{LEGIBLE * WIDTH:.0f}px;height:auto;color:inherit" role="img" '
        f'aria-label="values by group, and differences" '
        f'font-family="system-ui,sans-serif" font-size="{TEXT:g}" fill="currentColor">{"".join(parts)}</svg>'
    )


def _values(comparison: Comparison, height: float) -> list[str]:
    values, groups = comparison.values_table(), comparison.groups_table()
    names = groups[comparison.by].tolist()
    number, sd = (values[name] for name in values.columns[-2:])
    means, errors = groups["mean"], np.nan_to_num(groups["mean_sd"])
    span = _span(
        [
            *(number - 2 * np.nan_to_num(sd)),
            *(number + 2 * np.nan_to_num(sd)),
            *(means - 2 * errors),
            *(means + 2 * errors),
        ]
    )
    panel = Panel(LEFT, TOP, WIDTH - LEFT - RIGHT, height, span, (0.0, 1.0))
    parts = [_axis(panel, labelled(comparison.measure, comparison.unit))]
    for place, (name, count) in enumerate(zip(names, counts(comparison), strict=True)):
        top = TOP + GROUP * place
        parts += [_word(str(name), top + 19), _word(count, top + 33, f' font-size="{SMALL:g}"')]
        mine = np.flatnonzero(values[comparison.by] == name)
        for at, one in zip(np.linspace(top + 6, top + 28, len(mine)).tolist(), mine.tolist(), strict=True):
            x, half = number[one], np.nan_to_num(sd[one])
            parts.append(_bar(panel, x - 2 * half, x + 2 * half, at, f'stroke="{WATER}" stroke-width=".9"'))
            parts.append(f'<circle cx="{panel.across(x):.1f}" cy="{at:.1f}" r="2.4" fill="{WATER}" opacity=".85"/>')
        low, high = means[place] - 2 * errors[place], means[place] + 2 * errors[place]
        parts.append(_bar(panel, low, high, top + 37, 'stroke="currentColor" stroke-width="2"'))
        parts.append(_diamond(panel.across(means[place]), top + 37))
    return parts


def _differences(comparison: Comparison, top: float) -> list[str]:
    pairs = comparison.pairs[:PAIRS_SHOWN]
    ends = [_ends(comparison, place) for place in range(len(pairs))]
    margin = pairs[0].equivalence.margin if pairs[0].equivalence is not None else None
    margins = [] if margin is None else [-margin, margin]
    middles = [pair.difference.value for pair in pairs]
    span = _span([0.0, *middles, *margins, *(end for both in ends if both for end in both)])
    panel = Panel(LEFT, top, WIDTH - LEFT - RIGHT, PAIR * len(pairs), span, (0.0, 1.0))
    parts = []
    if margin is not None:
        left, right = panel.across(-margin), panel.across(margin)
        parts.append(
            f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{panel.height:.1f}" '
            f'fill="{FLOW}" opacity=".15"/>'
        )
    unit = "percentage points" if comparison.unit == "%" else comparison.unit
    more = f", the first {PAIRS_SHOWN} of {len(comparison.pairs)} pairs" if len(comparison.pairs) > PAIRS_SHOWN else ""
    parts.append(_axis(panel, labelled("difference", unit) + more))
    parts.append(f'<path d="M{panel.across(0):.1f} {top:.1f}v{panel.height:.1f}" stroke="currentColor"/>')
    for place, (pair, both, middle) in enumerate(zip(pairs, ends, middles, strict=True)):
        at = top + PAIR * (place + 0.5)
        parts.append(_word(f"{pair.b} less {pair.a}", at + 4))
        if both:
            parts.append(_bar(panel, *both, at, f'stroke="{WATER}" stroke-width="2.4"'))
        parts.append(_diamond(panel.across(middle), at))
    return parts


def _ends(comparison: Comparison, place: int) -> tuple[float, float] | None:
    """Return the interval of a pair."""
    ends = comparison.pairs[place].interval
    return ends if isinstance(ends, tuple) else None


def _span(numbers: list[float]) -> tuple[float, float]:
    low, high = float(np.nanmin(numbers)), float(np.nanmax(numbers))
    room = 0.05 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


def _axis(panel: Panel, label: str) -> str:
    base, parts = panel.top + panel.height, []
    for value in nice(panel.x, 7):
        at = panel.across(value)
        parts.append(
            f'<path d="M{at:.1f} {panel.top:.1f}v{panel.height:.1f}" stroke="currentColor" stroke-opacity=".12"/>'
            f'<text x="{at:.1f}" y="{base + 16:.1f}" text-anchor="middle">{value:g}</text>'
        )
    parts.append(
        f'<path d="M{panel.left:.1f} {base:.1f}h{panel.width:.1f}" stroke="currentColor" stroke-opacity=".6"/>'
    )
    middle = panel.left + panel.width / 2
    parts.append(
        f'<text x="{middle:.1f}" y="{base + 32:.1f}" text-anchor="middle" font-style="italic">{escape(label)}</text>'
    )
    return "".join(parts)


def _word(text: str, at: float, more: str = "") -> str:
    short = text if len(text) <= LETTERS else text[: LETTERS - 1] + "…"
    full = f"<title>{escape(text)}</title>" if short != text else ""
    return f'<text x="{LEFT - 10:.1f}" y="{at:.1f}" text-anchor="end"{more}>{full}{escape(short)}</text>'


def _bar(panel: Panel, low: float, high: float, at: float, look: str) -> str:
    left, right = panel.across(low), panel.across(high)
    return f'<path d="M{left:.1f} {at:.1f}H{right:.1f}" {look}/>'


def _diamond(x: float, at: float) -> str:
    return f'<path d="M{x - 4.5:.1f} {at:.1f}l4.5 -4.5l4.5 4.5l-4.5 4.5z" fill="currentColor"/>'
