"""In: a control chart. Out: its figure: days and moving average with their limits, and the days that pass one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import ControlChart
from .axes import as_written, dress, head, hue, ink, legend, needed, one_axes
from .looks import EVENT, FLOW, WATER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DASHED = (0, (5, 3))
DOTTED = (0, (1.5, 1.5))


def plot_control_chart(chart: ControlChart, ax: Axes | None = None, label: str = "score, 0 to 100") -> Axes:
    """Draw the mean of each day and the moving average, each with its limits; days that pass one are marked.

    Args:
        chart: the result of `control_chart`.
        ax: axes to draw on, by default those of a new figure.
        label: name and unit of the measure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for anything but a `ControlChart`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> ax = pourline.plot_control_chart(pourline.control_chart([(day, 50 + day % 3) for day in range(9)]))
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('days since the first', 'score, 0 to 100')
    """
    needed(chart, ControlChart, "chart", "control_chart")
    ax = one_axes(ax, "plot_control_chart", (9, 4))
    first = chart.points[0].day
    day = [point.day - first for point in chart.points]
    ax.plot(day, [point.mean for point in chart.points], "o-", color=hue(WATER), markersize=5, linewidth=1, label="day")
    ax.plot(day, [point.ewma for point in chart.points], color=hue(FLOW), linewidth=1.8, label="moving average")
    ax.axhline(chart.center, color=ink(), linewidth=0.9)
    for edge in chart.limits:
        ax.axhline(edge, color=hue(WATER), linewidth=1.2, linestyle=DASHED)
    for edge in chart.ewma_limits:
        ax.axhline(edge, color=hue(FLOW), linewidth=1.2, linestyle=DOTTED)
    out = [point for point in chart.points if point.signals]
    if out:
        at, means = [point.day - first for point in out], [point.mean for point in out]
        ax.plot(at, means, "s", color=hue(EVENT), markersize=10, markerfacecolor="none", label="passes a limit")
    ax.set_xlabel("days since the first")
    ax.set_ylabel(label)
    ax.locator_params(axis="x", integer=True)
    dress(ax)
    head(ax, "Control chart", chart.says)
    legend(ax)
    as_written(ax)
    return ax
