"""A calibration as a report: its text, figure and page, the numbers of known masses, of noise and of stamps.

Expected numbers are arithmetic: the scale, the masses and the stamps are made here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest

import pourline

mpl.use("agg")


def log_of(scale: pourline.ScaleResponse, shows: float = 1.0, seed: int = 1, stamped: Any = None) -> pourline.Log:
    """Return the log of six masses of 100 g, put on and taken off; the noise is .06 g, white, in steps of .1 g."""
    random, time_s = np.random.default_rng(seed), np.arange(1300) / 10
    load = np.zeros_like(time_s)
    for k in range(12):
        moves = 10 * k + 8 + random.uniform(0, 0.1) + random.uniform(0.1, 0.4) * np.linspace(0, 1, 15)
        load += 100 * shows * (-1) ** k * np.mean([[scale.shown(t - s) for t in time_s] for s in moves], axis=0)
    shown = (load + 0.06 * random.normal(size=time_s.size)).round(1)
    return pourline.Log(time_s if stamped is None else stamped(time_s), shown)


@pytest.fixture(scope="module")
def mine() -> pourline.Calibration:
    return pourline.calibrate(log_of(pourline.ScaleResponse.average(0.6), shows=1.003), masses_g=[100])


def test_known_masses_give_the_sensitivity(mine: pourline.Calibration) -> None:
    known = mine.linearity
    assert isinstance(known, pourline.Linearity)
    off = known.sensitivity_deviation_pct
    assert known.n_masses == 12
    assert abs(off.value - 0.3) < 3 * off.sd < 0.06
    assert all(abs(step.deviation_g.value - 0.3) < 4 * step.deviation_g.sd for step in mine.steps)  # type: ignore[union-attr]


def test_a_wrong_number_of_masses_is_an_error_that_lists_them() -> None:
    log = log_of(pourline.ScaleResponse.average(0.6))
    with pytest.raises(pourline.PourlineError, match=r"3 masses are given, but 6 were put on: 100 g at 8\.\d s, "):
        pourline.calibrate(log, masses_g=[100, 100, 100])
    with pytest.raises(pourline.PourlineError, match="check the order and unit"):
        pourline.calibrate(log, masses_g=[50])


def test_white_noise_is_white_and_its_spectrum_adds_up_to_its_variance(mine: pourline.Calibration) -> None:
    correlation = mine.noise_correlation
    assert isinstance(correlation, pourline.Estimate)
    assert abs(correlation.value) < 3 * correlation.sd < 0.15
    # Rounding adds step**2/12 (JCGM 100:2008, 4.3.7); the spectrum has 5 Hz of it.
    variance = 0.06**2 + 0.1**2 / 12
    assert np.mean(mine.curves.noise_g2_per_hz) * 5 == pytest.approx(variance, rel=0.15)


def test_the_measured_step_response_is_that_of_the_scale(mine: pourline.Calibration) -> None:
    scale = pourline.ScaleResponse.average(0.6)
    expected = [scale.shown(t) for t in mine.curves.after_s]
    assert np.max(np.abs(mine.curves.shown - expected)) < 0.03


def test_packets_are_recognised_and_the_delay_is_found_all_the_same() -> None:
    def stamped(time_s: Any) -> Any:
        # Four readings arrive with the last of them, .1 ms apart.
        return np.repeat(time_s[3::4], 4) + np.tile([0, 1e-4, 2e-4, 3e-4], len(time_s) // 4)

    found = pourline.calibrate(log_of(pourline.ScaleResponse.average(0.6), stamped=stamped))
    assert found.stamps.rows_per_packet == pytest.approx(4)
    # The first of four is .3 s late, the last not at all.
    assert found.stamps.late_s == pytest.approx(0.15, abs=0.02)
    assert found.stamps.interval_s == pytest.approx(0.1, abs=1e-3)
    assert abs(found.response.delay_s.value - 0.3) < 0.02


def test_the_text_opens_with_the_answer(mine: pourline.Calibration) -> None:
    first, *_ = str(mine).splitlines()
    assert first.startswith("Delay ")
    assert float(first.split()[1]) == pytest.approx(0.3, abs=0.02)
    assert "a moving average (average" in first
    assert "Of a pour of 6 g/s it resolves the half-rise to 0.0" in str(mine)
    assert "sensitivity" in str(mine)


def test_two_scales_stand_side_by_side(mine: pourline.Calibration, tmp_path: Path) -> None:
    other = pourline.calibrate(log_of(pourline.ScaleResponse.lag(0.3), seed=2))
    both = {"mine": mine, "<other>": other}
    axes = pourline.plot_calibration(both)
    assert [len(ax.lines) for ax in axes] == [4, 2, 2]
    text = pourline.report(both, tmp_path / "both.html").read_text(encoding="utf-8")
    assert "&lt;other&gt;" in text
    assert "<other>" not in text
    assert "masses_g is not given" in text
    assert text.count("<circle") > 60
    alone = pourline.report(mine, tmp_path / "one.html").read_text(encoding="utf-8")
    assert "Calibration of a scale" in alone
    figure = mine.plot()[0].get_figure(root=True)
    assert figure is not None
    figure.savefig(tmp_path / "one.png")
    with pytest.raises(pourline.PourlineError, match="1 to 4 are needed"):
        pourline.plot_calibration({})
    with pytest.raises(pourline.PourlineError, match="a result of calibrate"):
        pourline.plot_calibration({"a": 1})  # type: ignore[dict-item]


def test_a_calibration_comes_back_from_its_file(mine: pourline.Calibration) -> None:
    text = mine.to_toml()
    assert len(text) < 12_000
    assert pourline.Calibration.parse(text) == mine
