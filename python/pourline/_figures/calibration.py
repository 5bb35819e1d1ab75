"""In: calibrations of scales. Out: their figure on matplotlib axes: step responses, noise spectrum, stamp intervals."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from .._pourline import Calibration
from ..errors import PourlineError
from .axes import as_written, dress, head, hue, needed, pyplot
from .looks import GROUPS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

MARKERS = "osD^"


def plot_calibration(
    calibrations: Calibration | Mapping[str, Calibration], ax: Sequence[Axes] | None = None
) -> tuple[Axes, Axes, Axes]:
    """Draw how scales show a load, the noise at rest, and the intervals of the stamps; several side by side.

    Markers are measured: the mean of all masses, corrected for the time that the hand took. The line is the fitted
    response.

    Args:
        calibrations: what `calibrate` returns, or up to four of them by the names of the scales.
        ax: three axes to draw on; without them a new figure is made.

    Returns:
        The three axes.

    Raises: PourlineError: kind `install` where matplotlib is missing, `argument` where `calibrations` are none.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import numpy as np, pourline
    >>> time_s = np.arange(300) / 10
    >>> found = pourline.calibrate(pourline.Log(time_s, 100.0 * (time_s > 10)))
    >>> step, noise, stamps = pourline.plot_calibration({"one": found, "the other": found})
    >>> step.get_xlabel(), noise.get_ylabel()
    ('time after a mass, s', 'noise at rest, g²/Hz')
    """
    named = named_calibrations(calibrations)
    if ax is None:
        _, ax = pyplot("plot_calibration").subplots(1, 3, figsize=(12, 3.8), layout="constrained")
    try:
        step, noise, stamps = ax
    except (TypeError, ValueError):
        raise PourlineError("ax: three axes are needed, for step, noise and stamps", column="ax") from None
    for (name, one), (colour, dash), marker in zip(named.items(), GROUPS, MARKERS, strict=False):
        curves = one.curves
        fitted_s = np.linspace(curves.after_s[0], curves.after_s[-1], 200)
        shown = [one.response.shown(s) for s in fitted_s]
        step.plot(fitted_s, shown, color=hue(colour), linestyle=dash, label=name or "fitted")
        step.plot(
            curves.after_s, curves.shown, marker, color=hue(colour), markersize=3, label=None if name else "measured"
        )
        noise.plot(curves.frequency_hz, curves.noise_g2_per_hz, color=hue(colour), linestyle=dash, label=name)
        stamps.step(curves.interval_s, curves.n_intervals, where="mid", color=hue(colour), linestyle=dash, label=name)
    step.set(xlabel="time after a mass, s", ylabel="share of the mass shown")
    noise.set(xlabel="frequency, Hz", ylabel="noise at rest, g²/Hz", ylim=(0, None))
    stamps.set(xlabel="interval between stamps, s", ylabel="number", yscale="symlog")
    step.legend(frameon=False, fontsize=9, loc="lower right")
    for name, one in named.items():
        if not len(one.curves.frequency_hz):
            noise.annotate(f"{name} no rest is long enough".strip(), (0.02, 0.9), xycoords="axes fraction", fontsize=8)
    dress(step, noise, stamps)
    only = next(iter(named.values())) if len(named) == 1 else None
    title = f"delay {only.response.delay_s} s, settles in {only.settling_s:.2f} s" if only else "scales side by side"
    head(step, title)
    as_written(step, noise, stamps)
    return step, noise, stamps


def named_calibrations(calibrations: Calibration | Mapping[str, Calibration]) -> dict[str, Calibration]:
    """Return calibrations by the names of their scales; one alone has none."""
    named = dict(calibrations) if isinstance(calibrations, Mapping) else {"": calibrations}
    if not 0 < len(named) <= len(MARKERS):
        raise PourlineError(f"calibrations: 1 to {len(MARKERS)} are needed, not {len(named)}", column="calibrations")
    for one in named.values():
        needed(one, Calibration, "calibrations", "calibrate")
    return named
