"""In: a plan and a brew. Out: the figure of both on matplotlib axes: water over time, and each deviation divided by its
tolerance.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._pourline import Brew, Estimate, Plan
from .._text.words import name_of
from .axes import TEXT_CONTRAST, as_written, dress, head, hue, ink, legend, needed, paper, points, two_axes
from .looks import EVENT, FLOW, HELD, POUR, WATER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from .._pourline import PlannedPourResult, PlanResult, Undefined

# Differences beyond this are drawn at it, with an arrow.
FARTHEST = 4.0


def plot_plan(plan: Plan, brew: Brew, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes]:
    """Draw a brew against its plan: water planned and poured above, each difference in tolerances below.

    Time runs from the start of the plan's first pour. Above, the grey windows are the tolerances of the starts; a
    pour without a planned flow is a vertical line. Below, markers in the grey band are within tolerance; bars are two
    sd; a marker at the edge with a number lies beyond the axis.

    Args:
        plan: the plan.
        brew: what `analyze` returns.
        ax: two axes to draw on; without them a new figure is made.

    Returns:
        The two axes.

    Raises: PourlineError: kind `install` where matplotlib is missing, `argument` where `ax` is not two axes,
    `column` where the water was not weighed.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(40, 70, 6)])
    >>> water, off = pourline.plot_plan(plan, brew)
    >>> water.get_ylabel(), off.get_xlabel()
    ('water, g', 'time since the first pour, s')
    >>> water.figure.savefig("/dev/null", format="png")
    """
    needed(plan, Plan, "plan", "Plan")
    needed(brew, Brew, "brew", "analyze")
    followed = plan.follow(brew)
    look = {"nrows": 2, "sharex": True, "gridspec_kw": {"height_ratios": (5, 3)}}
    water_ax, off_ax = two_axes(ax, "plot_plan", ("the water", "the differences"), (9, 5.4), **look)
    _water(water_ax, plan, brew, followed)
    _differences(off_ax, plan, followed)
    dress(water_ax, grid=None)
    dress(off_ax)
    title = f"{name_of(brew.meta)} against {plan.name or 'the plan'}"
    head(water_ax, title, followed.head)
    as_written(water_ax, off_ax)
    return water_ax, off_ax


def _water(ax: Axes, plan: Plan, brew: Brew, followed: PlanResult) -> None:
    zero_s = followed.zero_s.value if isinstance(followed.zero_s, Estimate) else 0.0
    pours = brew.pours
    last_s = max(
        [p.end_s.value - zero_s for p in pours] + [p.start_s + p.mass_g / (p.flow_g_per_s or 6.0) for p in plan.pours]
    )
    first_s = min([0.0, *(p.start_s.value - zero_s for p in pours)])
    room = 0.06 * (last_s - first_s)
    ax.set_xlim(first_s - room, last_s + 2 * room)

    time_s, water_g = [first_s - room], [0.0]
    for place, pour in enumerate(plan.pours, 1):
        until = pour.start_s + (pour.mass_g / pour.flow_g_per_s if pour.flow_g_per_s else 0.0)
        low, high = pour.start_s - pour.start_within_s, pour.start_s + pour.start_within_s
        ax.axvspan(low, high, color=ink(), alpha=0.08, linewidth=0, zorder=0)
        time_s += [pour.start_s, until]
        water_g += [water_g[-1], water_g[-1] + pour.mass_g]
        ax.annotate(
            str(place),
            (pour.start_s, 1),
            xycoords=ax.get_xaxis_transform(),
            xytext=(0, -3),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=points(9),
            fontweight="bold",
        )
    time_s.append(last_s + 2 * room)
    water_g.append(water_g[-1])
    ax.plot(time_s, water_g, color=ink(), linestyle=(0, (5, 2)), linewidth=1.2, label=f"planned {water_g[-1]:.0f} g")
    flow = brew.flow
    if flow is not None:
        poured_g = f"poured {brew.water_g.value:.0f} g" if isinstance(brew.water_g, Estimate) else "poured"
        ax.plot(flow.time_s - zero_s, flow.water_g, color=hue(WATER), linewidth=1.8, label=poured_g)
        top = float(np.nanmax(flow.water_g, initial=1.0))
        ax.set_ylim(-0.03 * max(top, water_g[-1]), 1.14 * max(top, water_g[-1]))
    for one in followed.extra:
        found = pours[one.pour - 1]
        start, end = found.start_s.value - zero_s, found.end_s.value - zero_s
        ax.axvspan(start, end, facecolor=POUR, alpha=0.5, hatch="///", edgecolor=paper(), linewidth=0, zorder=0)
        ax.annotate(
            "not planned",
            ((start + end) / 2, 0.86),
            xycoords=ax.get_xaxis_transform(),
            ha="center",
            va="top",
            fontsize=points(8),
            rotation=90,
            color=hue(EVENT),
        )
    ax.set_ylabel("water, g")
    legend(ax, bbox_to_anchor=(1.0, 0.85))


def _differences(ax: Axes, plan: Plan, followed: PlanResult) -> None:
    ax.axhspan(-1, 1, color=ink(), alpha=0.08, linewidth=0, zorder=0)
    ax.axhline(0, color=ink(), linewidth=0.8, zorder=1)
    start, end = ax.get_xlim()
    step = 0.019 * (end - start)
    # The size makes the marks look alike in weight.
    kinds = [
        ("start", "late is up", EVENT, "D", 5.5),
        ("mass", "too much is up", WATER, "s", 6.0),
        ("flow", "fast is up", FLOW, "^", 7.5),
    ]
    if any(pour.time_near_plateau_pct is not None for pour in plan.pours):
        kinds.append(("steadiness", "steady is up", HELD, "o", 6.0))
    for kind, (name, side, colour, marker, size) in enumerate(kinds):
        style: dict[str, Any] = {
            "color": hue(colour),
            "markersize": size,
            "markeredgecolor": paper(),
            "markeredgewidth": 0.6,
        }
        ax.plot([], [], marker, label=f"{name}: {side}", **style)
        for row in followed.pours:
            difference = _in_tolerances(row)[kind]
            if difference is None:
                continue
            z, sd = difference
            x, y = row.planned.start_s + (kind - 1) * step, float(np.clip(z, -FARTHEST, FARTHEST))
            if y == z:
                ax.plot(
                    [x, x], [max(z - 2 * sd, -FARTHEST), min(z + 2 * sd, FARTHEST)], color=hue(colour), linewidth=1.4
                )
            else:
                ax.annotate(
                    f"{z:+.0f}",
                    (x, y),
                    xytext=(0, -9 if z > 0 else 5),
                    textcoords="offset points",
                    ha="center",
                    va="top" if z > 0 else "bottom",
                    fontsize=points(8),
                    color=hue(colour, TEXT_CONTRAST),
                )
            ax.plot(x, y, marker, zorder=3, **style)
    for place in followed.missed:
        ax.annotate(
            "missed",
            (plan.pours[place - 1].start_s, 1.3),
            ha="center",
            fontsize=points(8.5),
            color=hue(EVENT),
            rotation=90,
        )
    ax.set_ylim(-1.15 * FARTHEST, 1.15 * FARTHEST)
    ax.set_yticks([-3, -1, 0, 1, 3])
    ax.set_ylabel("off by, tolerances")
    ax.set_xlabel("time since the first pour, s")
    legend(ax, bbox_to_anchor=(1.0, 0.6))


def _in_tolerances(row: PlannedPourResult) -> list[tuple[float, float] | None]:
    """Return start, mass, flow and steadiness, poured less planned, with their sd, in tolerances."""
    planned = row.planned
    return [
        _over(row.start_deviation_s, planned.start_within_s),
        _over(row.mass_deviation_g, planned.mass_within_g),
        _over(row.flow_deviation_g_per_s, planned.flow_within_g_per_s),
        _over(row.time_near_plateau_deviation_pct, planned.time_near_plateau_within_pct),
    ]


def _over(by: Estimate | Undefined, within: float) -> tuple[float, float] | None:
    return (by.value / within, by.sd / within) if isinstance(by, Estimate) else None
