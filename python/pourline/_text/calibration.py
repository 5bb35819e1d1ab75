"""In: a calibration. Out: its sentences and rows as plain text: the answer, what a brew on the scale resolves, the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import Estimate, Undefined
from .pours import wrapped

if TYPE_CHECKING:
    from .._pourline import Calibration, ScaleResponse

FAMILIES = {
    "none": "no lag is seen",
    "lag": "a lag",
    "two_lags": "two lags",
    "overshoot": "it swings beyond the load",
    "average": "a moving average",
    "lag_and_average": "a moving average behind a lag",
}
# Below so many of its sd a correlation, a drift or a creep is not told from none.
TOLD = 3.0
# Fewer rows per packet are those of single readings that were held up.
PACKETS = 1.1


def calibration_text(calibration: Calibration) -> str:
    """Return the text of a calibration: the answer, then one line per property."""
    width = max(len(name) for name, _ in calibration_rows(calibration))
    rows = [f"  {name.ljust(width)}  {says}" for name, says in calibration_rows(calibration)]
    return "\n".join([*(line for says in answer(calibration) for line in wrapped(says)), *rows])


def answer(calibration: Calibration) -> list[str]:
    """Return what a reader needs first: how a load is shown, and what a brew on the scale resolves."""
    response = calibration.response
    says = f"Delay {response.delay_s} s: {FAMILIES[response.family]}{_parts(response)}."
    lines = [says, f"100 g show within 0.1 g after {calibration.settling_s:.2f} s."]
    if not calibration.fits:
        lines.append(
            f"No response that is known fits: residuals are {calibration.misfit:.1f} sd of a reading, so the delay is "
            "hardly known. Check that the scale rests before and after each mass."
        )
    found = calibration.resolution()
    lines.append(
        f"Of a pour of 6 g/s it resolves the half-rise to {found.half_rise_sd_s:.3f} s, the flow over 1 s to "
        f"{found.flow_sd_g_per_s:.2f} g/s, flow_cv to {found.flow_cv_sd:.4f}, and variation up to "
        f"{found.resolved_to_hz:.1f} Hz."
    )
    return lines


def calibration_rows(calibration: Calibration) -> list[tuple[str, str]]:
    """Return the properties that the log shows, each with its words."""
    rows = [("noise at rest", f"{calibration.noise_sd_g} g, {_colour(calibration.noise_correlation)}")]
    step = f"steps of {calibration.step_g:g} g" if calibration.step_g else "no steps are seen"
    held = f"; held until it differs by {calibration.held_g:.2g} g" if calibration.held_g else ""
    zero = "; follows zero without load: slow flows from zero on are lost" if calibration.follows_zero else ""
    rows += [
        ("readout", f"{step}{held}{zero}"),
        ("drift", _told(calibration.drift_g_per_s, "g/s")),
        ("creep in 10 s", _told(calibration.creep_pct, "% of a load")),
    ]
    stamps = calibration.stamps
    packets = f"; packets of {stamps.rows_per_packet:.1f} readings" if stamps.rows_per_packet > PACKETS else ""
    late = f"; late by {stamps.late_s:.3f} s in the mean" if stamps.late_s else ""
    rows.append(("stamps", f"every {stamps.interval_s:.3f} s, jitter {stamps.jitter_s:.4f} s{packets}{late}"))
    known = calibration.linearity
    if isinstance(known, Undefined):
        rows.append(("known masses", known.reason))
    else:
        rows += [
            ("sensitivity", f"off by {known.sensitivity_deviation_pct} %, from {known.n_masses} known masses"),
            (
                "nonlinearity",
                f"{known.nonlinearity_g} g at most, at {known.nonlinearity_at_s:.1f} s under a load of "
                f"{known.nonlinearity_load_g:.0f} g",
            ),
            ("hysteresis", _told(known.hysteresis_g, "g")),
        ]
    n = len(calibration.steps)
    left_out = f"; {calibration.left_out} left out, put down in pieces or pushed" if calibration.left_out else ""
    rows.append(("from", f"{n} mass{'' if n == 1 else 'es'} put on or taken off{left_out}"))
    return rows


def _colour(correlation: Estimate | Undefined) -> str:
    if isinstance(correlation, Undefined):
        return correlation.reason
    white = abs(correlation.value) < TOLD * correlation.sd
    return f"{'white' if white else 'coloured'}: correlation of neighbours {correlation}"


def _told(number: Estimate | Undefined, unit: str) -> str:
    if isinstance(number, Undefined):
        return f"unknown: {number.reason}"
    told = abs(number.value) >= TOLD * number.sd
    return f"{number} {unit}" + ("" if told else ", not told from none")


def _parts(response: ScaleResponse) -> str:
    """Return the parameters of a response in words."""
    parts = [f"lag {response.lag_s:.3f} s"] if response.lag_s else []
    if isinstance(response.damping_ratio, Estimate):
        parts.append(f"damping ratio {response.damping_ratio.value:.2f}")
    if response.average_s:
        parts.append(f"average {response.average_s:.3f} s")
    return f" ({', '.join(parts)})" if parts else ""
