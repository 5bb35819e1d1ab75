"""A log that holds several brews. All logs are arithmetic: 45 g and 100 g at 6 g/s."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import pourline
from pourline.cli import main


@pytest.fixture(scope="module")
def day() -> pourline.Log:
    """Return two brews; between them the vessel of 300 g is taken off, emptied, and put back after 20 s."""
    time_s = np.arange(0, 260, 0.1)
    poured = np.interp(time_s, [5, 12.5, 40, 40 + 100 / 6], [0, 45, 45, 145])
    again = np.interp(time_s, [150, 157.5, 185, 185 + 100 / 6], [0, 45, 45, 145])
    away = np.where(time_s < 100, 0, np.where(time_s < 120, -445, -145))
    return pourline.Log(time_s, np.round(poured + again + away, 1), dose_g=9.0, name="morning")


def test_each_brew_has_its_own_log_and_clock(day: pourline.Log) -> None:
    first, second = pourline.split(day)
    assert [log.meta.name for log in (first, second)] == ["morning, brew 1 of 2", "morning, brew 2 of 2"]
    assert first.time_s[-1] < 100 < 119 < second.time_s[0] < 122
    heads = [brew.head for brew in pourline.analyze_all(day)]
    assert [head.split("; ")[0] for head in heads] == ["2 pours, 145.0 g in 0:52, 6.0 g/s"] * 2
    assert [log.digest for log in pourline.split(first)] == [first.digest]


def test_analyze_takes_the_first_and_says_so(day: pourline.Log) -> None:
    brew = pourline.analyze(day)
    assert [pour.mass_g.value for pour in brew.pours] == pytest.approx([45, 100], abs=0.1)
    assert "another brew begins at 95 s" in brew.warnings[0]  # 100 s less the first start
    assert [event.kind for event in brew.events][-1] == "next_brew"
    assert repr(brew).endswith("; 1 warning>")


def test_the_command_line_prints_each(day: pourline.Log, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "day.csv"
    assert day.water_g is not None
    rows = zip(day.time_s, day.water_g, strict=True)
    path.write_text("time_s,water_g\n" + "".join(f"{t:.1f},{g:.1f}\n" for t, g in rows))
    assert main(["analyze", str(path), "-o", str(tmp_path / "pours.csv")]) == 0
    told = capsys.readouterr().out
    assert "day, brew 1 of 2: 2 pours, 145.0 g" in told
    assert "day, brew 2 of 2: 2 pours, 145.0 g" in told
    assert len((tmp_path / "pours.csv").read_text().splitlines()) == 1 + 4


def test_the_gap_that_begins_another_brew_is_an_option() -> None:
    time_s = np.arange(0, 260, 0.1)
    poured = np.interp(time_s, [5, 12.5, 40, 56.7, 150, 160], [0, 45, 45, 145, 145, 205])
    log = pourline.Log(time_s, np.round(poured - 145 * (time_s >= 140), 1))
    assert len(pourline.split(log)) == 1
    assert len(pourline.split(log, brew_gap_s=60)) == 2
    with pytest.raises(pourline.PourlineError, match="brew_gap_s"):
        pourline.split(log, brew_gap_s=0)
