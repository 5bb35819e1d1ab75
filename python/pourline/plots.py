"""In: a brew. Out: its figure on matplotlib axes: weights with the pours shaded, flow with its band, one time axis."""

from __future__ import annotations

from textwrap import shorten
from typing import TYPE_CHECKING

import numpy as np

from ._errors import PourlineError
from ._looks import (
    BEVERAGE,
    EVENT,
    FLOW,
    POUR,
    WATER,
    flow_top,
    mass_span,
    time_span,
    told_events,
    weight_of,
    weights_of,
)
from ._words import known, name_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from ._pourline import Brew


def plot(brew: Brew, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes]:
    """Draw a brew: the weights above, the flow with its band of two sd below.

    Pours are shaded and numbered; samples that were not used are faint dots; events are marked under the weights.

    Args:
        brew: what `analyze` returns.
        ax: two axes to draw on, the weights' and the flow's; without them a new figure is made.

    Returns:
        The two axes.

    Raises:
        PourlineError: kind `install` where matplotlib is missing, `argument` where `ax` is not two axes.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> log, truth = pourline.simulate("usual", seed=7)
    >>> weights, flow = pourline.plot(pourline.analyze(log))
    >>> weights.get_ylabel(), flow.get_xlabel()
    ('weight, g', 'time, s')
    >>> weights.figure.savefig("/dev/null", format="png")
    """
    weights_ax, flow_ax = _axes(ax)
    _weights(weights_ax, brew)
    _flow(flow_ax, brew)
    for number, pour in enumerate(brew.pours, 1):
        start, end = pour.start_s.value, pour.end_s.value
        for axes in (weights_ax, flow_ax):
            axes.axvspan(start, end, color=POUR, alpha=0.3, linewidth=0, zorder=0)
        weights_ax.annotate(
            str(number),
            ((start + end) / 2, 1),
            xycoords=weights_ax.get_xaxis_transform(),
            xytext=(0, -4),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=9,
            fontweight="bold",
        )
    for axes in (weights_ax, flow_ax):
        axes.spines[["top", "right"]].set_visible(False)
        axes.grid(axis="y", color="#000000", alpha=0.1, linewidth=0.6)
        axes.set_axisbelow(True)
    weights_ax.set_title(name_of(brew.meta), loc="left", fontsize=11, fontweight="bold", pad=18)
    below = shorten(known(brew.meta), 110, placeholder=" ...")
    weights_ax.annotate(
        below, (0, 1), xycoords="axes fraction", xytext=(0, 6), textcoords="offset points", fontsize=8, color="#555555"
    )
    return weights_ax, flow_ax


def _axes(ax: Sequence[Axes] | None) -> tuple[Axes, Axes]:
    if ax is None:
        try:
            import matplotlib.pyplot as plt
        except ImportError as missing:
            raise PourlineError('plot needs matplotlib: pip install "pourline[plot]"', "install") from missing
        _, ax = plt.subplots(
            2, sharex=True, figsize=(9, 5.4), layout="constrained", gridspec_kw={"height_ratios": (5, 3)}
        )
    try:
        weights_ax, flow_ax = ax
    except (TypeError, ValueError):
        raise PourlineError("ax: two axes are needed, for the weights and for the flow", column="ax") from None
    return weights_ax, flow_ax


def _weights(ax: Axes, brew: Brew) -> None:
    weights = weights_of(brew)
    ax.set_ylim(*mass_span(weights, below=0.09))
    ax.set_xlim(*time_span(weights))
    for one in weights:
        colour, style = (WATER, "-") if one.channel == "water" else (BEVERAGE, (0, (4, 1.6)))
        unused = ~one.used
        ax.plot(one.time_s[unused], one.mass_g[unused], ".", color=colour, alpha=0.4, markersize=2.5)
        ax.plot(*one.line(), color=colour, linestyle=style, linewidth=1.5, label=f"{one.channel} {one.last_g:.0f} g")
    _events(ax, brew)
    ax.set_ylabel("weight, g")
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.85), frameon=False, fontsize=9)


def _events(ax: Axes, brew: Brew) -> None:
    """Mark the events on the lower edge: a bar for how long each took, and its word where there is room."""
    lane = ax.get_xaxis_transform()
    start, end = ax.get_xlim()
    free_from = -np.inf
    for event in told_events(brew.events):
        last = max(event.end_s, event.start_s + (end - start) / 300)
        ax.plot(
            [event.start_s, last],
            [0.012, 0.012],
            transform=lane,
            color=EVENT,
            alpha=weight_of(event),
            linewidth=4,
            solid_capstyle="butt",
        )
        if event.start_s >= free_from:
            ax.annotate(
                event.kind,
                (event.start_s, 0.012),
                xycoords=lane,
                xytext=(0, 4),
                textcoords="offset points",
                fontsize=7.5,
                color=EVENT,
                annotation_clip=True,
            )
            free_from = event.start_s + (end - start) * (0.011 * len(event.kind) + 0.01)


def _flow(ax: Axes, brew: Brew) -> None:
    ax.set_ylim(0, flow_top(brew))
    ax.set_ylabel("flow at the bed, g/s")
    ax.set_xlabel("time, s")
    flow = brew.flow
    if flow is None:
        ax.text(0.5, 0.5, "the water was not weighed", transform=ax.transAxes, ha="center", va="center")
        return
    q, sd = flow.flow_g_per_s, flow.flow_sd_g_per_s
    ax.fill_between(flow.time_s, q - 2 * sd, q + 2 * sd, color=FLOW, alpha=0.28, linewidth=0, label="± 2 sd")
    ax.plot(flow.time_s, q, color=FLOW, linewidth=1.2, label="flow")
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.8), frameon=False, fontsize=9)
