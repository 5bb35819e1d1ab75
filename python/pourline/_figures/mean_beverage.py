"""In: a `MeanBeverage`. Out: its figure: each brew's own yield joined to that with the mean beverage mass."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._pourline import MeanBeverage
from .axes import as_written, dress, head, hue, ink, needed, one_axes, paper, points
from .looks import EVENT, OTHERS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

# Brews side by side in a column, so that the bars of neighbours do not hide each other.
LANES = 5
STEP = 0.022
NAME_POINTS = 8.5
LONGEST = 26


def plot_mean_beverage(found: MeanBeverage, ax: Axes | None = None) -> Axes:
    """Draw each brew's own yield on the left, joined to its yield with the mean beverage mass on the right.

    A bold line is a brew whose rank order with another brew reverses; the others are faint. Bars are one sd of a
    yield. Both yields of a brew share strength and dose, so the sd of a slope is far smaller than that of its ends.

    Args:
        found: the result of `mean_beverage`.
        ax: axes to draw on; by default those of a new figure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing, `argument` for anything but a `MeanBeverage`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> names = [f"fernspout-bo-0{k}" for k in (5, 6, 7, 8)]
    >>> found = pourline.mean_beverage(pourline.analyze_many(pourline.datasets.load(name) for name in names))
    >>> pourline.plot_mean_beverage(found).get_ylabel()
    'extraction yield, %'
    """
    needed(found, MeanBeverage, "found", "mean_beverage")
    rows = found.table()
    own, with_mean = rows["own_pct"], rows["with_mean_pct"]
    ax = one_axes(ax, "plot_mean_beverage", (9, max(4.0, 1.4 + 0.17 * len(own))))
    turned = ((own[:, None] - own) * (with_mean[:, None] - with_mean) < 0).any(axis=1)
    lanes_used = min(LANES, len(own))
    lanes = STEP * (np.argsort(np.argsort(-own, kind="stable")) % lanes_used - (lanes_used - 1) / 2)
    bars: dict[str, Any] = {"fmt": "none", "ecolor": ink(), "alpha": 0.3, "elinewidth": 0.8}
    ax.errorbar(lanes, own, rows["own_sd_pct"], **bars)
    ax.errorbar(1 + lanes, with_mean, rows["with_mean_sd_pct"], **bars)
    for place, lane in enumerate(lanes):
        colour, width, z = (hue(EVENT), 1.4, 3) if turned[place] else (hue(OTHERS), 1.1, 2)
        face = colour if turned[place] else paper()
        ends = (own[place], with_mean[place])
        ax.plot(
            [lane, 1 + lane], ends, "o-", color=colour, linewidth=width, markersize=4.5, markerfacecolor=face, zorder=z
        )
    ax.set_xlim(-0.75, 1.75)
    ax.margins(y=0.05)
    ax.set_xticks([0, 1], ["by its own beverage", f"with {found.mean_beverage_g:.4g} g for every brew"])
    ax.set_ylabel("extraction yield, %")
    dress(ax)
    names = [name if len(name) <= LONGEST else name[: LONGEST - 1] + "…" for name in rows["brew"].tolist()]
    _names(ax, 0, own, _placed(rows["own_rank"], names), turned)
    _names(ax, 1, with_mean, _placed(rows["with_mean_rank"], names), turned)
    errors = rows["error_sd_pct"]
    pairs = "1 pair changes its" if found.pairs_flipped == 1 else f"{found.pairs_flipped} pairs change their"
    flipped = (
        f"{pairs} order: strong lines, {turned.sum()} of {len(own)} brews"
        if turned.any()
        else "no pair changes its order"
    )
    head(
        ax,
        "One mean beverage mass for all",
        f"{flipped}. Largest error {found.largest_error_pct[1]} points, {found.largest_error_pct[0]}",
        f"bars: one sd of a yield; sd of a slope: at most {errors.max():.2g} points (shared strength and dose)",
        *(
            [f"{len(found.missing['brew'])} brews could not take part: see missing"]
            if len(found.missing["brew"])
            else []
        ),
    )
    as_written(ax)
    return ax


def _placed(ranks: NDArray[np.float64], names: list[str]) -> list[str]:
    return [f"{rank:.0f}  {name}" for rank, name in zip(ranks, names, strict=True)]


def _names(ax: Axes, side: int, ends: NDArray[np.float64], names: list[str], turned: NDArray[np.bool_]) -> None:
    """Write rank and name next to a column, moved apart if they would overlap."""
    as_written(ax)
    ax.figure.canvas.figure.draw_without_rendering()  # The layout settles how high the axes are.
    low, high = ax.get_ylim()
    gap = NAME_POINTS * (high - low) / (ax.get_window_extent().height * 72 / ax.figure.dpi)
    order = np.argsort(-ends, kind="stable")
    heights = _apart(ends[order], gap)
    out, ha = ((-1.0, "right"), (1.0, "left"))[side]
    edge = side + out * STEP * (LANES + 1) / 2
    for place, height in zip(order, heights, strict=True):
        ax.plot([edge, edge + out * 0.06], [ends[place], height], color=ink(), alpha=0.25, linewidth=0.6, zorder=1)
        strength = 1.0 if turned[place] else 0.7
        ax.annotate(
            names[place],
            (edge + out * 0.075, height),
            ha=ha,
            va="center",
            fontsize=points(7.5),
            color=ink(),
            alpha=strength,
        )


def _apart(falling: NDArray[np.float64], gap: float) -> NDArray[np.float64]:
    """Return heights at least a gap apart, as near as can be to those given in falling order (least squares, pooling
    neighbours).
    """
    steps = np.arange(len(falling)) * gap
    pools: list[tuple[float, int]] = []
    for one in falling + steps:
        mean, count = float(one), 1
        while pools and pools[-1][0] < mean:
            before, held = pools.pop()
            mean, count = (before * held + mean * count) / (held + count), held + count
        pools.append((mean, count))
    heights: NDArray[np.float64] = np.concatenate([np.full(count, mean) for mean, count in pools]) - steps
    return heights
