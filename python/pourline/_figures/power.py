"""In: the power of a planned study by the number of brews. Out: its figure, with the band that the sd's uncertainty
gives.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import PowerCurve
from .axes import as_written, dress, head, hue, legend, needed, one_axes
from .looks import EVENT, WATER

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_power(curve: PowerCurve, ax: Axes | None = None) -> Axes:
    """Draw the power by the number of brews per group; the band is what the uncertainty of the sd makes of it.

    Args:
        curve: the result of `power_curve`.
        ax: axes to draw on, by default those of a new figure.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing; `argument` for anything but a `PowerCurve`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> ax = pourline.plot_power(pourline.power_curve(0.5, sd=pourline.Estimate(0.4, 0.1)))
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('brews per group', 'power')
    """
    needed(curve, PowerCurve, "curve", "power_curve")
    ax = one_axes(ax, "plot_power", (7, 4))
    if curve.sd_interval is not None:
        low, high = curve.sd_interval
        text = f"sd {low:.3g} to {high:.3g}, its 95 % interval"
        ax.fill_between(
            curve.brews, curve.power_low, curve.power_high, color=hue(WATER), alpha=0.2, linewidth=0, label=text
        )
    ax.plot(curve.brews, curve.power, "o-", color=hue(WATER), markersize=4, linewidth=1.8, label=f"sd {curve.sd:.3g}")
    ax.axhline(curve.power_wanted, color=hue(EVENT), linestyle=(0, (5, 3)), linewidth=1.2)
    ax.axvline(curve.needed, color=hue(EVENT), linestyle=(0, (5, 3)), linewidth=1.2, label=f"{curve.needed} brews")
    ax.set_ylim(0, 1.02)
    ax.set_xlabel("brews per group")
    ax.set_ylabel("power")
    ax.locator_params(axis="x", integer=True)
    dress(ax)
    head(ax, "Power", f"to find a difference of {curve.difference:g}")
    legend(ax)
    as_written(ax)
    return ax
