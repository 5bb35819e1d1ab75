"""In: brews. Out: the brewing control chart on matplotlib axes: strength against yield, a box with its source, lines of
constant brew ratio.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._pourline import Brew, ChartBox, Estimate, chart_line_pct
from ..errors import PourlineError
from .axes import as_written, dress, head, hue, ink, legend, one_axes, points
from .looks import BEVERAGE, FLOW, HELD, POUR, WATER

if TYPE_CHECKING:
    from collections.abc import Iterable

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

MARKS = (("o", WATER), ("s", BEVERAGE), ("^", FLOW), ("D", HELD), ("v", WATER), ("P", BEVERAGE))
LINES = 5


def plot_chart(
    brews: Iterable[Brew], box: ChartBox | None = None, by: str | None = None, ax: Axes | None = None
) -> Axes:
    """Draw brews on the brewing control chart, each with the sd of its strength and yield.

    Each line has a constant brew ratio, at the mean retention of the brews: a brew moves along its line if it extracts
    more. A brew with undefined yield or strength is left out; the figure states their number.

    Args:
        brews: analysed brews.
        box: the box to draw, by default that of the Golden Cup Standard of 2015. Boxes are recommendations, not
            measures of taste.
        by: a factor that sets the markers, such as "kettle"; up to six levels.
        ax: the axes to draw on, by default those of a new figure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for anything but brews, or for more than six
            levels.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> names = ["fernspout-ada-01", "broadlip-ada-09"]
    >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
    >>> pourline.plot_chart(brews, by="kettle").get_xlabel()
    'extraction yield, %'
    """
    box = ChartBox.scaa_2015() if box is None else box
    known, missing = _known(brews)
    ax = one_axes(ax, "plot_chart", (7.6, 5.0))
    groups: dict[str, list[Brew]] = {}
    for brew in known:
        groups.setdefault(_level(brew, by), []).append(brew)
    if len(groups) > len(MARKS):
        raise PourlineError(f"by: {by} has {len(groups)} levels, the limit is {len(MARKS)}", column="by")
    strengths, yields = box.strength_pct, box.yield_pct
    ax.fill_between(yields, *strengths, color=POUR, alpha=0.45, linewidth=0, zorder=0)
    for (level, some), (mark, colour) in zip(groups.items(), MARKS, strict=False):
        x, x_sd = _numbers(some, "yield_pct")
        y, y_sd = _numbers(some, "strength_pct")
        ax.errorbar(x, y, y_sd, x_sd, fmt=mark, color=hue(colour), markersize=5, elinewidth=0.7, label=level, zorder=3)
    _span(ax, box, known)
    ratios = _lines(ax, known)
    lines = [f"box: {box.document}"]
    if ratios:
        lines.append("lines: grams of water per gram of coffee, at the mean retention of these brews; crosses: one sd")
    if missing:
        lines.append(f"left out, without strength or yield: {missing}")
    head(ax, "Brewing control chart", *lines)
    ax.set_xlabel("extraction yield, %")
    ax.set_ylabel("strength, % TDS")
    dress(ax, grid=None)
    if by is not None:
        legend(ax, title=by, loc="upper left", bbox_to_anchor=(1.02, 1.0))
    as_written(ax)
    return ax


def _known(brews: Iterable[Brew]) -> tuple[list[Brew], int]:
    known, missing = [], 0
    for brew in brews:
        if not isinstance(brew, Brew):
            raise PourlineError(f"brews: a Brew is needed, not {type(brew).__name__}", column="brews")
        both = (brew.extraction.yield_pct, brew.extraction.strength_pct)
        if all(isinstance(number, Estimate) for number in both):
            known.append(brew)
        else:
            missing += 1
    return known, missing


def _level(brew: Brew, by: str | None) -> str:
    if by is None:
        return "brews"
    values = brew.meta.to_dict()
    return str(values.get(by, values.get("factors", {}).get(by, "not given")))


def _numbers(brews: list[Brew], name: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    numbers = [getattr(brew.extraction, name) for brew in brews]
    return np.array([n.value for n in numbers]), np.array([n.sd for n in numbers])


def _span(ax: Axes, box: ChartBox, brews: list[Brew]) -> None:
    """Show the box and all brews with their sd, and a margin."""
    for name, ends, show in (
        ("yield_pct", box.yield_pct, ax.set_xlim),
        ("strength_pct", box.strength_pct, ax.set_ylim),
    ):
        value, sd = _numbers(brews, name)
        low, high = min([ends[0], *(value - sd)]), max([ends[1], *(value + sd)])
        show(low - 0.12 * (high - low), high + 0.12 * (high - low))


def _lines(ax: Axes, brews: list[Brew]) -> list[float]:
    """Draw lines of round brew ratios through the shown range, each labelled with its ratio at the edge."""
    retained = [brew.extraction.retention_g_per_g for brew in brews]
    numbers = [number.value for number in retained if isinstance(number, Estimate)]
    if not numbers:
        return []
    retention = float(np.mean(numbers))
    (left, right), (bottom, top) = ax.get_xlim(), ax.get_ylim()
    # The ratio of a line through a corner: T = E/(W/D - r).
    low, high = left / top + retention, right / bottom + retention
    step = max(0.5, round((high - low) / LINES * 2) / 2)
    drawn = []
    for ratio in np.arange(np.ceil(low / step) * step, high, step):
        at = [chart_line_pct(end, float(ratio), retention) for end in (left, right)]
        strength = [number.value for number in at if isinstance(number, Estimate)]
        if len(strength) < 2 or strength[1] < bottom or strength[0] > top:
            continue
        ax.plot((left, right), strength, color=ink(), linewidth=0.7, alpha=0.45, linestyle=(0, (6, 3)), zorder=1)
        slope = (strength[1] - strength[0]) / (right - left)
        end = min(right, left + (top - strength[0]) / slope)
        tip = (end, strength[0] + slope * (end - left))
        over = tip[0] < right
        ax.annotate(
            f"{ratio:g}",
            tip,
            xytext=(-3, -3) if over else (3, 0),
            textcoords="offset points",
            ha="right" if over else "left",
            va="top" if over else "center",
            fontsize=points(8),
            color=ink(),
            alpha=0.75,
        )
        drawn.append(float(ratio))
    ax.set_xlim(left, right)
    ax.set_ylim(bottom, top)
    return drawn
