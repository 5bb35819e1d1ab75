"""In: a `SettingFit`. Out: its figure: brews with their sd, the line with its band, the monotone curve, the target with
its interval.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .._pourline import Estimate, SettingFit, SettingInterval, Undefined
from .axes import as_written, dress, hue, ink, labelled, legend, needed, one_axes, paper, points
from .looks import EVENT, FLOW, WATER

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_dial(dialled: SettingFit, ax: Axes | None = None) -> Axes:
    """Draw a measure against its setting: brews with one sd, the line with its band, the monotone curve, the target.

    The adequate fit is drawn bold, with its band; the other one thin. The bar on the lower edge is the confidence
    interval of the setting; an end without a cap extends beyond the settings that were tried.

    Args:
        dialled: the result of `dial_in`.
        ax: axes to draw on; by default those of a new figure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing, `argument` for anything but a `SettingFit`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.40)
    >>> axes = pourline.plot_dial(dialled)
    >>> axes.get_xlabel(), axes.get_ylabel()
    ('setting', 'measure')
    """
    needed(dialled, SettingFit, "dialled", "dial_in")
    ax = one_axes(ax, "plot_dial", (7.5, 4.8))
    _fits(ax, dialled)
    values = np.array([y.value for y in dialled.y])
    sds = np.array([y.sd for y in dialled.y])
    ax.errorbar(
        dialled.x,
        values,
        yerr=sds if sds.any() else None,
        fmt="o",
        color=ink(),
        markersize=4.5,
        markerfacecolor=paper(),
        elinewidth=0.9,
        label="brews ± sd" if sds.any() else "brews",
        zorder=4,
    )
    if dialled.target is not None:
        _target(ax, dialled, dialled.target)
    ax.set_xlabel(labelled(dialled.x_name, dialled.x_unit))
    ax.set_ylabel(labelled(dialled.y_name, dialled.y_unit))
    dress(ax)
    legend(ax)
    as_written(ax)
    return ax


def _fits(ax: Axes, dialled: SettingFit) -> None:
    if isinstance(dialled.line, Undefined) or isinstance(dialled.monotone, Undefined):
        ax.set_title(dialled.words[0], loc="left", fontsize=points(9))
        return
    rows = dialled.table()
    setting = rows[dialled.x_name]
    percent = f"{100 * dialled.level:g} %"
    shown = (("line", "mean", FLOW, "-"), ("monotone", "monotone", WATER, (0, (4, 1.6))))
    for name, interval, colour, dash in shown:
        colour = hue(colour)
        strong = name == dialled.preferred
        if strong:
            band = (rows[f"{interval}_low"], rows[f"{interval}_high"])
            ax.fill_between(setting, *band, color=colour, alpha=0.25, linewidth=0, label=f"its {percent} band")
        width, alpha = (1.9, 1.0) if strong else (1.0, 0.75)
        ax.plot(setting, rows[name], color=colour, linestyle=dash, label=name, linewidth=width, alpha=alpha)
    curve = dialled.monotone
    ax.plot(curve.settings, curve.values, "_", color=hue(WATER), markersize=9, markeredgewidth=1.6)
    if dialled.preferred == "neither":
        ax.set_title("neither fit is adequate: the measure is not monotone", loc="left", fontsize=points(9))


def _target(ax: Axes, dialled: SettingFit, target: float) -> None:
    ax.axhline(target, color=hue(EVENT), linewidth=0.9, linestyle=(0, (1, 1.5)))
    ax.annotate(
        f"target {target:g}",
        (1, target),
        xycoords=ax.get_yaxis_transform(),
        xytext=(0, 3),
        textcoords="offset points",
        ha="right",
        fontsize=points(8.5),
        color=hue(EVENT),
    )
    setting, possible = dialled.setting, dialled.interval
    if isinstance(setting, Estimate):
        ax.plot([setting.value], [target], "D", color=hue(EVENT), markersize=6, zorder=5, label=f"setting {setting}")
    else:
        ax.plot([], [], " ", label="no setting: see text")
    if not isinstance(possible, SettingInterval):
        return
    first, last = float(dialled.x.min()), float(dialled.x.max())
    room = 0.06 * (last - first)
    left, right = first - room, last + room
    low, high = possible.ends
    parts = [(left, low), (high, right)] if possible.shape == "outside" else [(low, high)]
    label = f"{100 * dialled.level:g} % interval"
    lane = ax.get_xaxis_transform()
    for start, end in parts:
        seen = max(start, left), min(end, right)
        if seen[0] >= seen[1] and possible.shape == "outside":
            continue
        ax.plot(seen, (0.03, 0.03), transform=lane, color=hue(EVENT), linewidth=3.5, solid_capstyle="butt", label=label)
        label = "_nolegend_"
        for edge in seen:
            if left < edge < right:
                ax.plot([edge], [0.03], "|", transform=lane, color=hue(EVENT), markersize=11, markeredgewidth=1.6)
    ax.set_xlim(left, right)
