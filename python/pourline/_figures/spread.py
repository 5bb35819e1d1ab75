"""In: a `Repeatability` or an `Agreement`. Out: its figure on matplotlib axes, readable in grey."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._pourline import Agreement, Repeatability
from .axes import as_written, dress, head, hue, ink, needed, one_axes, paper, points
from .looks import POUR, WATER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from .._pourline import Interval


def plot_repeatability(found: Repeatability, ax: Axes | None = None, label: str = "value") -> Axes:
    """Draw each brew by its group, the mean of the group, and the band in which 95 % of its brews lie.

    The band is the group's mean ± 1.96 repeatability sd, with the same width for all groups. The dashed line is the
    mean of all brews.

    Args:
        found: the result of `repeatability`.
        ax: the axes to draw on, by default those of a new figure.
        label: name and unit of the values.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing, `argument` for anything but a `Repeatability`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> found = pourline.repeatability([60.1, 59.7, 60.4, 61.0, 60.8, 61.3], by=["Ada"] * 3 + ["Bo"] * 3)
    >>> pourline.plot_repeatability(found, label="mass, g").get_ylabel()
    'mass, g'
    """
    needed(found, Repeatability, "found", "repeatability")
    groups = list(dict.fromkeys(found.labels))
    ax = one_axes(ax, "plot_repeatability", (max(6.5, 1.6 + 0.9 * len(groups)), 4.0))
    values, labels = np.array(found.values), np.array(found.labels)
    for place, group in enumerate(groups):
        held = values[labels == group]
        mean, reach = float(held.mean()), 1.96 * found.within_sd.value
        ax.fill_between([place - 0.3, place + 0.3], mean - reach, mean + reach, color=POUR, alpha=0.45, linewidth=0)
        # In the order of the brews, from left to right, so that a drift is visible.
        across = np.linspace(-0.2, 0.2, len(held)) if len(held) > 1 else np.zeros(1)
        ax.plot(
            place + across,
            held,
            "o",
            color=hue(WATER),
            markersize=4.5,
            markeredgecolor=paper(),
            markeredgewidth=0.6,
            zorder=3,
        )
        ax.plot([place - 0.3, place + 0.3], [mean, mean], color=ink(), linewidth=1.8, zorder=2)
    ax.axhline(found.mean.value, color=ink(), linewidth=0.9, linestyle=(0, (5, 3)), zorder=0)
    ax.set_xticks(range(len(groups)), groups)
    ax.set_xlim(-0.6, len(groups) - 0.4)
    ax.set_ylabel(label)
    parts = f"within {found.within_sd:.3g}"
    if found.between_sd:
        parts += f", between {found.between_sd:.3g}"
    dress(ax)
    head(ax, "Repeatability", f"sd {parts}; bands: 95 % of a group's brews")
    as_written(ax)
    return ax


def plot_agreement(found: Agreement, ax: Axes | None = None, label: str = "value") -> Axes:
    """Draw the difference of each pair over its mean, with bias and limits of agreement and the intervals of all three.

    Args:
        found: the result of `agreement`.
        ax: the axes to draw on, by default those of a new figure.
        label: name and unit of the values.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing, `argument` for anything but an `Agreement`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> found = pourline.agreement([60.1, 45.3, 80.2, 30.0, 55.4], [60.0, 45.1, 80.4, 29.8, 55.3])
    >>> pourline.plot_agreement(found, label="mass, g").get_xlabel()
    'mean of the two: mass, g'
    """
    needed(found, Agreement, "found", "agreement")
    ax = one_axes(ax, "plot_agreement", (7.0, 4.0))
    lines: tuple[tuple[str, Interval, object], ...] = (
        ("upper limit", found.upper_limit, (0, (5, 3))),
        ("bias", found.bias, "-"),
        ("lower limit", found.lower_limit, (0, (5, 3))),
    )
    for name, at, style in lines:
        ax.axhspan(at.low, at.high, color=POUR, alpha=0.4, linewidth=0, zorder=0)
        ax.axhline(at.value, color=ink(), linewidth=1.3, linestyle=style, zorder=1)
        ax.annotate(
            f"{name}\n{at.value:.3g}",
            (1, at.value),
            xycoords=ax.get_yaxis_transform(),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            fontsize=points(8.5),
        )
    ax.axhline(0, color=ink(), linewidth=0.6, linestyle=":", zorder=1)
    ax.plot(
        found.means,
        found.differences,
        "o",
        color=hue(WATER),
        markersize=5,
        markeredgecolor=paper(),
        markeredgewidth=0.6,
    )
    ax.set_xlabel(f"mean of the two: {label}")
    ax.set_ylabel("first less second")
    dress(ax)
    head(ax, "Agreement", f"{found.pairs} pairs; bands are 95 % intervals of bias and limits")
    as_written(ax)
    return ax
