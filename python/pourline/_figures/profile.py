"""In: brews, or profiles of groups of brews. Out: their flow on matplotlib axes, over time or over the poured water.

The lines of groups differ in lightness and dash, and have a name, so they are distinguishable in grey and without red
and green.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from .._pourline import Brew, Profile, ProfileDifference, profile
from .._text.words import name_of
from ..errors import PourlineError
from .axes import as_written, dress, hue, ink, legend, needed, one_axes
from .looks import GROUPS, OTHERS, POUR
from .svg_difference import pouring

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

AXIS = {"time": "time since the first pour's start, s", "water": "water poured, g"}
SIZE = (9.0, 3.6)


def plot_profile(
    profiles: Profile | Sequence[Profile] | Mapping[str, Profile], ax: Axes | None = None, landmarks: bool = False
) -> Axes:
    """Draw the mean flow of one group of brews, or of several, each with its simultaneous band.

    Args:
        profiles: the result of `profile`, several of them, or a dict of them by the name of each group.
        ax: axes to draw on, by default those of a new figure.
        landmarks: whether to mark, under the flow, the mean half-rise and half-fall of each pour, with their sd
            between brews.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for groups on different axes, more than four
            or none.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> def group(kettle):
    ...     names = [f"{kettle}-ada-0{k}" for k in (1, 2, 3, 4)]
    ...     return pourline.profile(pourline.analyze_many([pourline.datasets.load(name) for name in names]))
    >>> ax = pourline.plot_profile({"fernspout": group("fernspout")})
    >>> ax.get_xlabel(), ax.get_ylabel()
    ("time since the first pour's start, s", 'flow at the bed, g/s')
    >>> ax.figure.savefig("/dev/null", format="png")
    """
    named = _named(profiles)
    ax = one_axes(ax, "plot_profile", SIZE)
    for (name, one), (colour, dash) in zip(named.items(), GROUPS, strict=False):
        low, high = one.low_g_per_s, one.high_g_per_s
        if isinstance(low, np.ndarray) and isinstance(high, np.ndarray):
            ax.fill_between(one.position, low, high, color=hue(colour), alpha=0.22, linewidth=0)
            ax.plot(one.position, low, color=hue(colour), linewidth=0.5, alpha=0.7)
            ax.plot(one.position, high, color=hue(colour), linewidth=0.5, alpha=0.7)
            text = f"{name}, {100 * one.level:g} % band"
        else:
            text = f"{name}, no band"
        ax.plot(one.position, one.flow_g_per_s, color=hue(colour), linestyle=dash, linewidth=1.8, label=text)
    _finish(ax, AXIS[next(iter(named.values())).axis])
    if landmarks:
        _landmarks(ax, list(named.values()))
    as_written(ax)
    return ax


def plot_overlay(brews: Iterable[Brew], ax: Axes | None = None, axis: Literal["time", "water"] = "time") -> Axes:
    """Draw the flow of many brews from the first pour's start over each other; median brew and outlier are named.

    Args:
        brews: the result of `analyze_many`.
        ax: axes to draw on; by default those of a new figure.
        axis: `time` or `water`.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for a brew without flow or pours, or fewer
            than two.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> names = ["fernspout-ada-01", "fernspout-ada-02", "fernspout-ada-03"]
    >>> ax = pourline.plot_overlay(pourline.analyze_many([pourline.datasets.load(name) for name in names]))
    >>> len(ax.lines)
    3
    >>> ax.figure.savefig("/dev/null", format="png")
    """
    brews = list(brews)
    found = profile(brews, axis=axis, align="start")
    ax = one_axes(ax, "plot_overlay", SIZE)
    odd = found.odd.brew if found.odd else None
    (middle_colour, _), (odd_colour, odd_dash) = GROUPS[:2]
    for place, brew in enumerate(brews):
        position, flow = _from_first_start(brew, axis)
        looks: dict[str, Any] = {"color": OTHERS, "linewidth": 0.9, "alpha": 0.8, "zorder": 2.0}
        if place == odd:
            looks = {"color": hue(odd_colour), "linestyle": odd_dash, "linewidth": 1.8, "zorder": 3.0}
            looks["label"] = f"odd one out: {found.brews[place]}"
        elif place == found.middle:
            looks = {
                "color": hue(middle_colour),
                "linewidth": 1.8,
                "zorder": 2.5,
                "label": f"in the middle: {name_of(brew.meta)}",
            }
        ax.plot(position, flow, **looks)
    others = next((line for line in ax.lines if line.get_color() == OTHERS), None)
    if others is not None:
        others.set_label(f"the others of {len(brews)}")
    _finish(ax, AXIS[axis])
    as_written(ax)
    return ax


def plot_profile_difference(difference: ProfileDifference, ax: Axes | None = None) -> Axes:
    """Draw the difference of two mean flows with its simultaneous band; where the band leaves zero is shaded.

    Args:
        difference: the result of `profile_difference`.
        ax: axes to draw on, by default those of a new figure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for anything but a `ProfileDifference`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> names = pourline.datasets.names()[8:16]
    >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
    >>> ax = pourline.plot_profile_difference(pourline.profile_difference({"Ada": brews[:4], "Bo": brews[4:]}))
    >>> ax.get_ylabel()
    'Bo less Ada, g/s'
    """
    needed(difference, ProfileDifference, "difference", "profile_difference")
    ax = one_axes(ax, "plot_profile_difference", SIZE)
    low, high, colour = difference.low_g_per_s, difference.high_g_per_s, GROUPS[0][0]
    for first, last in difference.stretches:
        ax.axvspan(first, last, color=POUR, alpha=0.4, linewidth=0)
    text = "difference, no band"
    if isinstance(low, np.ndarray) and isinstance(high, np.ndarray):
        poured = pouring(difference)
        ax.fill_between(difference.position, low, high, where=poured, color=hue(colour), alpha=0.22, linewidth=0)
        text = f"difference, {100 * difference.level:g} % band"
    ax.plot(difference.position, difference.difference_g_per_s, color=hue(colour), linewidth=1.8, label=text)
    ax.axhline(0, color=ink(), linewidth=0.8)
    _finish(ax, AXIS[difference.axis], f"{difference.b} less {difference.a}, g/s", None)
    as_written(ax)
    return ax


def _named(profiles: Profile | Sequence[Profile] | Mapping[str, Profile]) -> dict[str, Profile]:
    if isinstance(profiles, Profile):
        named = {f"mean of {len(profiles.brews)} brews": profiles}
    elif isinstance(profiles, Mapping):
        named = {f"{name} ({len(one.brews)})": one for name, one in profiles.items()}
    else:
        named = {f"group {place} ({len(one.brews)})": one for place, one in enumerate(profiles, 1)}
    if not 1 <= len(named) <= len(GROUPS):
        raise PourlineError(f"profiles: 1 to {len(GROUPS)} groups are needed, not {len(named)}", column="profiles")
    if len({one.axis for one in named.values()}) > 1:
        raise PourlineError("profiles: some are over time and some over water; draw them apart", column="profiles")
    return named


def _from_first_start(brew: Brew, axis: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    flow, zero_s = brew.flow, brew.pours[0].start_s.value
    assert flow is not None, "profile refuses a brew without flow"
    shown = (flow.time_s >= zero_s - 1) & (flow.time_s <= brew.pours[-1].end_s.value + 1)
    if axis == "time":
        return flow.time_s[shown] - zero_s, flow.flow_g_per_s[shown]
    water_g = np.maximum.accumulate(flow.water_g)
    return water_g[shown] - np.interp(zero_s, flow.time_s, water_g), flow.flow_g_per_s[shown]


def _landmarks(ax: Axes, profiles: Sequence[Profile]) -> None:
    """Mark half-rise and half-fall of each pour under the flow, one lane per group, with bars of one sd."""
    lane = 0.045 * ax.get_ylim()[1]
    for place, (one, (colour, _)) in enumerate(zip(profiles, GROUPS, strict=False), 1):
        halves = [mark for mark in one.landmarks if mark.kind in ("half_rise", "half_fall")]
        ax.errorbar(
            [mark.mean.value for mark in halves],
            [-lane * place] * len(halves),
            xerr=[mark.sd for mark in halves],
            color=hue(colour),
            marker="|",
            markersize=7,
            linestyle="none",
            linewidth=1.2,
        )
    ax.set_ylim(bottom=-lane * (len(profiles) + 0.7))
    ax.set_yticks([tick for tick in ax.get_yticks() if 0 <= tick <= ax.get_ylim()[1]])
    ax.axhline(0, color=ink(), alpha=0.3, linewidth=0.6, zorder=0)


def _finish(ax: Axes, label: str, upward: str = "flow at the bed, g/s", bottom: float | None = 0) -> None:
    ax.set_xlabel(label)
    ax.set_ylabel(upward)
    ax.margins(x=0)
    ax.set_ylim(bottom=bottom)
    dress(ax)
    legend(ax, loc="lower left", bbox_to_anchor=(0, 1), ncols=3, borderaxespad=0.2)
