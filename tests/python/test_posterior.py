"""The public posterior in Python: sampled curves, joint covariance, spectrum, stretches of different flow."""

from __future__ import annotations

import json

import numpy as np
import pytest

import pourline


def test_sampled_curves_are_reproducible_and_survive_storage(brew: pourline.Brew) -> None:
    assert brew.flow is not None
    curves = brew.flow.sample(40, seed=3)
    assert curves.shape == (40, len(brew.flow))
    assert curves.dtype == np.float64
    assert (curves >= 0).all()
    np.testing.assert_array_equal(curves[:5], brew.flow.sample(5, seed=3))
    assert (curves != brew.flow.sample(40, seed=4)).any()
    again = pourline.Brew.from_json(brew.to_json())
    assert again.flow is not None
    np.testing.assert_array_equal(again.flow.sample(40, seed=3), curves)
    # 60 g at 6 g/s and 60 g at 5 g/s by construction; in the middle of a pour each curve has that flow.
    at = np.searchsorted(brew.flow.time_s, [15.0, 41.0])
    np.testing.assert_allclose(curves[:, at].mean(0), [6.0, 5.0], atol=0.05)
    water_g = np.sum(curves[:, 1:] * np.diff(brew.flow.time_s), axis=1)
    np.testing.assert_allclose(water_g, 120.0, atol=0.5)


@pytest.mark.parametrize("n", [0, 2**40])
def test_a_number_of_curves_out_of_range_is_refused(brew: pourline.Brew, n: int) -> None:
    assert brew.flow is not None
    with pytest.raises(pourline.PourlineError) as caught:
        brew.flow.sample(n)
    assert caught.value.kind == "out_of_range"


def test_the_covariance_has_names_and_the_variances_of_the_pours(brew: pourline.Brew) -> None:
    found = brew.segments.covariance
    matrix = found.matrix()
    assert matrix.shape == (len(found), len(found)) == (10, 10)
    np.testing.assert_array_equal(matrix, matrix.T)
    # A covariance matrix has no negative eigenvalue.
    scale = np.sqrt(np.outer(found.sd, found.sd))
    assert np.linalg.eigvalsh(matrix / scale).min() > -1e-9
    for place, pour in enumerate(brew.pours, 1):
        for name in ("start_s", "end_s", "half_rise_s", "half_fall_s", "mass_g"):
            number = getattr(pour, name)
            full = f"pour_{place}_{name}"
            assert found.entry(full, full) == pytest.approx(number.sd**2)
            assert found.sd[found.names.index(full)] == number.sd
    with pytest.raises(pourline.PourlineError, match="pour_1_mass_g"):
        found.entry("pour_1_mass", "pour_1_mass_g")


def test_numbers_of_pours_set_by_hand_are_not_in_the_covariance(log: pourline.Log, brew: pourline.Brew) -> None:
    moved = pourline.Labels.of(brew).moved(1, end_s=19.0)
    names = pourline.analyze(log, labels=moved).segments.covariance.names
    assert {name[:6] for name in names} == {"pour_2"}


def test_the_spectrum_is_one_sided_and_integrates_to_the_variance(brew: pourline.Brew) -> None:
    assert brew.flow is not None
    found = brew.flow.spectrum(brew.pours[0])
    assert isinstance(found, pourline.FlowSpectrum)
    step_hz = np.diff(found.frequency_hz)
    np.testing.assert_allclose(step_hz, step_hz[0])
    # Parseval: the same variance as that of curves on the plateau, up to the readings' own stamps.
    on = (brew.flow.time_s > found.from_s) & (brew.flow.time_s < found.to_s)
    variance = brew.flow.sample(300, seed=1)[:, on].var(axis=1).mean()
    assert found.density_g2_per_s.sum() * step_hz[0] == pytest.approx(variance, rel=0.3)
    # Scale with a first-order lag T: 1 / (1 + (2 pi f T)^2), averaged over what the log leaves open of T.
    assert found.transmission[0] == 1
    assert (np.diff(found.noise_g2_per_s) > 0).all()
    assert found.readings_to_hz == pytest.approx(5.0)
    table = found.table()
    assert table.columns == [
        "frequency_hz",
        "density_g2_per_s",
        "density_sd_g2_per_s",
        "noise_g2_per_s",
        "transmission",
    ]
    assert pourline.describe("noise_g2_per_s").unit == "g2/s"


def test_a_level_pour_is_one_stretch_and_steps_are_several(time_s: np.ndarray, brew: pourline.Brew) -> None:
    (one,) = brew.pours[0].flow_regimes
    assert isinstance(one, pourline.FlowRegime)
    assert one.start_s == brew.pours[0].start_s
    # 6, 3 and 8 g/s from 10, 20 and 30 to 40 s.
    steps = 6.0 * np.clip(time_s - 10, 0, 10) + 3.0 * np.clip(time_s - 20, 0, 10) + 8.0 * np.clip(time_s - 30, 0, 10)
    noise = np.random.default_rng(7).normal(0, 0.03, len(time_s))
    stepped = pourline.analyze(pourline.Log(time_s, np.round(steps + noise, 1)))
    table = stepped.segments.regimes()
    np.testing.assert_allclose(table["regime_flow_g_per_s"], [6, 3, 8], atol=0.1)
    np.testing.assert_allclose(table["regime_mass_g"], [60, 30, 80], atol=1.0)
    np.testing.assert_allclose(table["regime_end_s"], [20, 30, 40], atol=0.2)
    assert table["pour"].tolist() == [1, 1, 1]
    assert table["regime"].tolist() == [1, 2, 3]


def test_a_gentle_pour_has_no_half_edges_but_the_reason(time_s: np.ndarray) -> None:
    noise = np.random.default_rng(8).normal(0, 0.03, len(time_s))
    brew = pourline.analyze(pourline.Log(time_s, np.round(1.0 * np.clip(time_s - 10, 0, 30) + noise, 1)))
    (pour,) = brew.pours
    assert isinstance(pour.half_rise_s, pourline.Undefined)
    assert "below 1.2 g/s" in pour.half_rise_s.reason
    assert np.isnan(brew.table(all=True)["half_rise_s"]).all()
    assert brew._repr_html_()
    plan = pourline.Plan("gentle", [pourline.PlannedPour(0, 30)])
    assert plan.follow(brew).pours[0].pour == 1
    assert "reason" in json.loads(brew.to_json())["segments"]["pours"][0]["half_rise_s"]
