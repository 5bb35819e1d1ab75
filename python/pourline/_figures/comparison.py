"""In: a comparison. Out: its figure on matplotlib axes: every value by its group, and the differences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._pourline import Comparison
from .._text.comparison import counts
from .axes import as_written, dress, hue, ink, labelled, needed, points, two_axes
from .looks import FLOW, WATER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from .._pourline import Contrast

PAIRS_SHOWN = 12


def plot_comparison(comparison: Comparison, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes]:
    """Draw a comparison: every value by its group on the left, the differences with their intervals on the right.

    A dot is a value; its thin line is two sd of the measurement itself. The bar next to the dots is the group's mean
    with two standard errors. On the right, the intervals of several pairs hold together. p is below 0.05 if the
    interval does not have 0.

    Args:
        comparison: the result of `compare`.
        ax: two axes to draw on, that of the values and that of the differences; by default those of a new figure.

    Returns:
        The two axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` if `ax` is not two axes, or for anything but
            a `Comparison`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> flow = [6.1, 6.9, 6.3, 7.0, 6.2, 6.8, 6.5, 7.3]
    >>> own = pourline.Table({"kettle": ["Fernspout", "Broadlip"] * 4, "flow": flow})
    >>> values, differences = pourline.plot_comparison(pourline.compare(own, "flow", by="kettle"))
    >>> values.get_ylabel(), differences.get_xlabel()
    ('flow', 'difference')
    """
    needed(comparison, Comparison, "comparison", "compare")
    height = max(3.2, 1.8 + 0.45 * min(len(comparison.pairs), PAIRS_SHOWN))
    parts = ("the values", "the differences")
    values_ax, pairs_ax = two_axes(ax, "plot_comparison", parts, (9, height), ncols=2)
    _values(values_ax, comparison)
    _differences(pairs_ax, comparison)
    dress(values_ax)
    dress(pairs_ax, grid="x")
    as_written(values_ax, pairs_ax)
    return values_ax, pairs_ax


def _values(ax: Axes, comparison: Comparison) -> None:
    values, groups = comparison.values_table(), comparison.groups_table()
    names = groups[comparison.by].tolist()
    number, sd = (values[name] for name in values.columns[-2:])
    for place, name in enumerate(names):
        mine = np.flatnonzero(values[comparison.by] == name)
        # Side by side in the order of the study, so that a drift is visible.
        x = place + np.linspace(-0.22, 0.12, len(mine)) if len(mine) > 1 else np.array([place - 0.05])
        ax.errorbar(x, number[mine], 2 * sd[mine], fmt="o", color=hue(WATER), markersize=4, elinewidth=0.8, alpha=0.75)
        mean, error = groups["mean"][place], groups["mean_sd"][place]
        shown = 2 * error if np.isfinite(error) else None
        ax.errorbar(place + 0.28, mean, shown, fmt="D", color=ink(), markersize=5, elinewidth=2.2, capsize=4, zorder=3)
    ax.set_xticks(range(len(names)), [f"{name}\n{n}" for name, n in zip(names, counts(comparison), strict=True)])
    ax.set_xlim(-0.6, len(names) - 0.4)
    ax.set_ylabel(labelled(comparison.measure, comparison.unit))


def _differences(ax: Axes, comparison: Comparison) -> None:
    pairs = comparison.pairs[:PAIRS_SHOWN]
    ax.axvline(0, color=ink(), linewidth=1)
    if pairs[0].equivalence is not None:
        margin = pairs[0].equivalence.margin
        ax.axvspan(-margin, margin, color=hue(FLOW), alpha=0.15, linewidth=0)
    for place, pair in enumerate(pairs):
        ends = pair.interval
        middle = pair.difference.value
        if isinstance(ends, tuple):
            ax.plot(ends, [place, place], color=hue(WATER), linewidth=2.4, solid_capstyle="butt")
        ax.plot([middle], [place], "D", color=ink(), markersize=6)
        ax.annotate(
            _chance(pair), (middle, place), xytext=(0, 8), textcoords="offset points", ha="center", fontsize=points(8)
        )
    ax.set_yticks(range(len(pairs)), [f"{pair.b}\nless {pair.a}" for pair in pairs])
    ax.set_ylim(len(pairs) - 0.4, -0.7)
    ax.set_xlabel(labelled("difference", "percentage points" if comparison.unit == "%" else comparison.unit))
    ax.margins(x=0.12)


def _chance(pair: Contrast) -> str:
    p = pair.p
    if not p:
        return "no p"
    return "p < 0.001" if p.value < 0.001 else f"p = {p.value:.3f}"
