"""In: a `Progress`, and the brews that it was computed from. Out: its figure: brews with their sd, days, the trend with
its band or the reason for its absence.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from .._pourline import Estimate, PlanResult, Progress, Undefined
from ..errors import PourlineError
from .axes import as_written, dress, head, hue, ink, legend, needed, one_axes, paper, points
from .looks import EVENT, FLOW, OTHERS, WATER

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import TypeAlias

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    Number: TypeAlias = PlanResult | Estimate | Undefined | float
    Pair: TypeAlias = tuple[int | date, Number]
    Floats: TypeAlias = NDArray[np.float64]


def plot_progress(
    progress: Progress, ax: Axes | None = None, brews: Iterable[Pair] | None = None, label: str = "score, 0 to 100"
) -> Axes:
    """Draw a measure by day: each brew, the mean of each day, and the trend with its band.

    Without a verdict, no line is drawn, and the title gives the reason. The band is a confidence band of the line, not
    a prediction band of brews.

    Args:
        progress: the result of `progress`.
        ax: axes to draw on, by default those of a new figure.
        brews: the pairs of day and number passed to `progress`. With them, each brew is drawn with two sd, and dates
            are shown. Without them, only the means are drawn, over the days since the first.
        label: name and unit of the measure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for anything but a `Progress`, or for brews
            that it was not computed from.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> scores = [(1, 41), (1, 47), (3, 52), (4, 55), (7, 58)]
    >>> axes = pourline.plot_progress(pourline.progress(scores), brews=scores)
    >>> axes.get_xlabel(), axes.get_ylabel()
    ('day', 'score, 0 to 100')
    """
    needed(progress, Progress, "progress", "progress")
    pairs = None if brews is None else list(brews)
    ax = one_axes(ax, "plot_progress", (9, 4))
    first = progress.days[0].day if progress.days else 0
    zero = first if pairs is None else 0
    if pairs is not None:
        _brews(ax, progress, pairs)
    day = np.array([one.day - zero for one in progress.days])
    means = np.array([one.mean for one in progress.days])
    if isinstance(progress.slope_per_day, Estimate) and progress.interval_per_day is not None:
        _trend(ax, progress, day, means, progress.slope_per_day)
    ax.plot(day, means, "_", color=ink(), markersize=19, markeredgewidth=2.4, label="mean of a day", zorder=2.5)
    dress(ax)
    _days(ax, pairs, day)
    ax.set_ylabel(label)
    head(ax, "Progress", ". ".join([*([progress.says] if progress.slope_per_day else []), *_counted(progress)]))
    if len(day):
        legend(ax)
    else:
        ax.set(xticks=[], yticks=[])
    if not progress.slope_per_day:
        _word(ax, progress.slope_per_day.reason)
    as_written(ax)
    return ax


def _word(ax: Axes, reason: str) -> None:
    """Write the reason for the missing line under the brews."""
    low, high = ax.get_ylim()
    ax.set_ylim(low - 0.12 * (high - low), high)
    ax.annotate(reason, (0.5, 0.03), xycoords="axes fraction", ha="center", fontsize=points(10), color=hue(EVENT))


def _counted(progress: Progress) -> list[str]:
    brews, days = sum(one.brews for one in progress.days), len(progress.days)
    text = f"{brews} brew{'' if brews == 1 else 's'} on {days} day{'' if days == 1 else 's'}"
    return [text, f"{progress.left_out} left out, without the number"] if progress.left_out else [text]


def _brews(ax: Axes, progress: Progress, pairs: list[Pair]) -> None:
    numbers = [(_count(day), _number(number)) for day, number in pairs]
    given = [(day, number) for day, number in numbers if number is not None]
    by_day: dict[int, list[Estimate]] = {}
    for day, number in given:
        by_day.setdefault(day, []).append(number)
    means = [float(np.mean([one.value for one in by_day[day]])) for day in sorted(by_day)]
    same = [(one.day, one.brews) for one in progress.days] == [(day, len(by_day[day])) for day in sorted(by_day)]
    if not same or not np.allclose(means, [one.mean for one in progress.days]):
        raise PourlineError("brews: these are not the brews that progress was computed from", column="brews")
    span = max(by_day, default=0) - min(by_day, default=0) or 1
    gap = float(min(np.diff(sorted(by_day)), default=1))
    label = "brew, ± 2 sd"
    for day, found in by_day.items():
        # Side by side in their order, so that bars do not hide each other.
        reach = min(0.3 * gap, 0.008 * span * (len(found) - 1))
        across = np.linspace(-reach, reach, len(found)) if len(found) > 1 else np.zeros(1)
        ax.errorbar(
            day + across,
            [one.value for one in found],
            [2 * one.sd for one in found],
            fmt="o",
            color=hue(WATER),
            markersize=4.5,
            markerfacecolor=paper(),
            elinewidth=1,
            label=label,
            zorder=3,
        )
        label = "_nolegend_"


def _count(day: int | date) -> int:
    return day.toordinal() if isinstance(day, date) else int(day)


def _number(number: Number) -> Estimate | None:
    if isinstance(number, PlanResult):
        return number.score
    if isinstance(number, Undefined):
        return None
    return number if isinstance(number, Estimate) else Estimate(float(number))


def _trend(ax: Axes, progress: Progress, day: Floats, means: Floats, slope: Estimate) -> None:
    """Draw the line through the means. Its scatter and Student's factor are already in the slope's sd and interval."""
    middle = float(day.mean())
    spread = float(np.sum((day - middle) ** 2))
    scatter = slope.sd * np.sqrt(spread)
    low, high = progress.interval_per_day or (slope.value, slope.value)
    factor = 0.5 * (high - low) / slope.sd if slope.sd > 0 else 0.0
    x = np.linspace(day.min(), day.max(), 101)
    line = float(means.mean()) + slope.value * (x - middle)
    half = factor * scatter * np.sqrt(1 / len(day) + (x - middle) ** 2 / spread)
    clear = low > 0 or high < 0
    colour, dash = (hue(FLOW), "-") if clear else (hue(OTHERS), (0, (5, 3)))
    band = f"its {100 * progress.level:g} % band"
    ax.fill_between(x, line - half, line + half, color=colour, alpha=0.25, linewidth=0, label=band)
    name = "trend of the days" if clear else "trend, not clear"
    ax.plot(x, line, color=colour, linestyle=dash, linewidth=1.9, label=name, zorder=2)


def _days(ax: Axes, pairs: list[Pair] | None, day: Floats) -> None:
    if pairs is not None and any(isinstance(one, date) for one, _ in pairs):
        ticks: list[int] = []
        for one in map(int, day):
            # Labels closer than this would overlap.
            if not ticks or one - ticks[-1] >= 0.16 * (day[-1] - day[0]):
                ticks.append(one)
        ax.set_xticks(ticks, [date.fromordinal(one).isoformat() for one in ticks])
        ax.set_xlabel("date")
    else:
        ax.locator_params(axis="x", integer=True)
        if len(day) == 1:
            ax.set_xticks(day)
        ax.set_xlabel("days since the first" if pairs is None else "day")
    ax.margins(x=0.06)
