"""The beat of a pour against scipy.signal: `lombscargle` on uneven stamps, `welch` on even ones, and against the
simulator's truth.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

import pourline

Array = NDArray[np.float64]
HZ = np.linspace(0.2, 2.5, 2301)
SHARE = 0.1


def beating(hz: float, jitter: float, seed: int, *, known: bool = False) -> tuple[pourline.Brew, pourline.Truth]:
    """Return a brew whose pours of about 15 s beat at one frequency, by a tenth of their flow.

    If `known`, the lag of the scale and the force of the stream are given.
    """
    recipe = pourline.recipe("clean")
    recipe["hand"] |= {"tremor": [SHARE, SHARE], "tremor_hz": [hz, hz], "tremor_waves": [1, 1]}
    recipe["hand"] |= {"mass_g": [120, 120], "flow_g_per_s": [8, 8], "pours": [2, 2]}
    recipe["scale"] |= {"jitter": jitter}
    log, truth = pourline.simulate(recipe, seed=seed)
    scale: Any = {
        "condition": {"scale_lag_s": truth.scale_lag_s},
        "segment": {"stream_lead_s": truth.stream_lead_s},
    }
    return pourline.analyze(log, pourline.Options(**scale) if known else None), truth


def inside(time_s: Array, values: Array, pour: pourline.TruePour) -> tuple[Array, Array]:
    keep = (time_s >= pour.plateau_start_s) & (time_s <= pour.plateau_end_s)
    return time_s[keep], values[keep]


def beat(time_s: Array, flow: Array) -> tuple[float, float]:
    """Return frequency and amplitude of the highest peak of scipy's generalised Lomb-Scargle periodogram."""
    size = np.abs(signal.lombscargle(time_s, flow, 2 * np.pi * HZ, floating_mean=True, normalize="amplitude"))
    return float(HZ[np.argmax(size)]), float(size.max())


@pytest.mark.parametrize(("hz", "seed"), [(0.55, 1), (0.9, 2), (1.3, 3)])
def test_on_uneven_stamps_the_beat_is_that_of_lombscargle(hz: float, seed: int) -> None:
    brew, truth = beating(hz, 0.12, seed)
    assert brew.flow is not None
    assert np.diff(brew.flow.time_s).std() > 0.005
    for row, pour in zip(brew.metrics.pours, truth.pours, strict=True):
        found_hz, _ = beat(*inside(brew.flow.time_s, brew.flow.flow_g_per_s, pour))
        true_hz, true_g_per_s = beat(*inside(truth.time_s, truth.flow_g_per_s, pour))
        assert true_hz == pytest.approx(hz, abs=0.01)
        assert float(row.pulsing_hz) == pytest.approx(found_hz, abs=0.02)
        assert float(row.pulsing_hz) == pytest.approx(true_hz, abs=0.02)
        amplitude = row.pulsing_amplitude_g_per_s
        assert isinstance(amplitude, pourline.Estimate)
        assert abs(amplitude.value - true_g_per_s) < 3 * amplitude.sd


@pytest.mark.parametrize(("hz", "seed"), [(0.55, 1), (0.9, 2), (1.3, 3)])
def test_the_amplitude_is_sharp_if_the_scale_is_known(hz: float, seed: int) -> None:
    # An unknown lag dominates the sd of a quick beat's amplitude.
    brew, truth = beating(hz, 0.12, seed, known=True)
    for row, pour in zip(brew.metrics.pours, truth.pours, strict=True):
        _, true_g_per_s = beat(*inside(truth.time_s, truth.flow_g_per_s, pour))
        amplitude = row.pulsing_amplitude_g_per_s
        assert isinstance(amplitude, pourline.Estimate)
        assert abs(amplitude.value - true_g_per_s) < 3 * amplitude.sd
        assert amplitude.sd < 0.1 * true_g_per_s


@pytest.mark.parametrize(("hz", "seed"), [(0.7, 4), (1.1, 5)])
def test_on_even_stamps_the_beat_is_that_of_welch(hz: float, seed: int) -> None:
    brew, truth = beating(hz, 0.0, seed)
    assert brew.flow is not None
    for row, pour in zip(brew.metrics.pours, truth.pours, strict=True):
        time_s, flow = inside(brew.flow.time_s, brew.flow.flow_g_per_s, pour)
        assert np.ptp(np.diff(time_s)) < 0.002
        rate_hz = 1 / float(np.median(np.diff(time_s)))
        found_hz, power = signal.welch(flow, rate_hz, nperseg=len(flow), nfft=16_384, detrend="linear")
        assert float(row.pulsing_hz) == pytest.approx(float(found_hz[np.argmax(power)]), abs=0.02)
