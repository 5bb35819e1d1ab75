"""A log in a wrong unit or upside down says what it looks like and what to do, and no file is replaced unasked.

The logs are arithmetic: 45, 65, 65 and 65 g at 5 to 6.5 g/s within 140 s, on a scale of 0.1 g.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import pourline
from pourline._cli.made import log_text
from pourline.cli import main

OUNCE_G = 28.349523125
TIME_S = np.arange(0, 140, 0.1)
NOISE = np.random.default_rng(2).normal(0, 0.03, len(TIME_S))
EXACT_G = np.interp(TIME_S, [5, 14, 40, 50, 70, 80, 100, 110], [0, 45, 45, 110, 110, 175, 175, 240])
WATER_G = np.round(EXACT_G + NOISE, 1)
# Factor of the stamps, factor of the weights, decimals of the scale; and what has to be said.
WRONG = {
    "minutes": (1 / 60, 1.0, 1, ('time_unit="min"', "240")),
    "milliseconds": (1000.0, 1.0, 1, ('time_unit="ms"', "240")),
    "kilograms": (1.0, 1 / 1000, 4, ('mass_unit="kg"', "0.24 g")),
    "kilograms of a coarse scale": (1.0, 1 / 1000, 2, ('mass_unit="kg"', "0.24 g")),
    "ounces": (1.0, 1 / OUNCE_G, 2, ('mass_unit="oz"', "8.4")),
    "milligrams": (1.0, 1000.0, 0, ("in milligrams", "read the file with the right mass_unit", "240")),
    "upside down": (
        1.0,
        -1.0,
        1,
        ("falls by 240 g", "the sign is inverted", "log the weight that the water is poured onto"),
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_unit_or_sign_is_the_first_warning_and_has_its_remedy(name: str) -> None:
    of_time, of_mass, decimals, said = WRONG[name]
    log = pourline.Log(TIME_S * of_time, np.round(WATER_G * of_mass, decimals), name=name)
    with pytest.warns(pourline.PourlineWarning, match=name):
        brew = pourline.analyze(log)
    assert [words for words in said if words not in brew.warnings[0]] == [], brew.warnings
    assert len(brew.warnings[0].split()) <= 35


def test_a_scale_under_the_kettle_is_upside_down() -> None:
    brew = pourline.analyze(pourline.Log(TIME_S, np.round(900 - WATER_G, 1)))
    assert "falls by 240 g. The scale weighs the kettle" in brew.warnings[0]


@pytest.mark.parametrize("vessel_g", [0.0, 350.0])
def test_a_zero_key_on_a_vessel_does_not_hide_the_unit(vessel_g: float) -> None:
    """The zero key takes 350 g off before the first pour; the rise between the ends is then -110 g."""
    readings_g = WATER_G + np.where(TIME_S < 3, vessel_g, 0.0)
    in_kg = pourline.analyze(pourline.Log(TIME_S, np.round(readings_g / 1000, 4)))
    assert 'mass_unit="kg"' in in_kg.warnings[0]
    in_minutes = pourline.analyze(pourline.Log(TIME_S / 60, readings_g))
    assert 'time_unit="min"' in in_minutes.warnings[0]


def test_the_remedy_works(tmp_path: Path) -> None:
    path = tmp_path / "kg.csv"
    path.write_text(
        "time_s,water_g\n" + "".join(f"{t:.1f},{w / 1000:.4f}\n" for t, w in zip(TIME_S, WATER_G, strict=True))
    )
    assert 'mass_unit="kg"' in pourline.analyze(path).warnings[0]
    path.write_text(path.read_text().replace("water_g", "water"))
    mended = pourline.analyze(pourline.read(path, mass_unit="kg"))
    assert mended.warnings == []
    assert len(mended.pours) == 4
    assert float(mended.water_g) == pytest.approx(240, abs=0.2)


@pytest.mark.parametrize(("seconds", "mass_g"), [((5, 9), 30.0), ((5, 20), 60.0), ((5, 200), 1000.0), ((5, 60), 300.0)])
def test_a_right_log_has_no_such_warning(seconds: tuple[int, int], mass_g: float) -> None:
    time_s = np.arange(0, seconds[1] + 20, 0.1)
    brew = pourline.analyze(pourline.Log(time_s, np.round(np.interp(time_s, seconds, [0, mass_g]), 1)))
    assert brew.warnings == []


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for k, name in enumerate(pourline.datasets.names()[6:10]):
        Path(f"{'ab'[k % 2]}{k}.csv").write_text(log_text(pourline.datasets.load(name)))
    Path("factors.csv").write_text("file,kettle\na0.csv,A\nb1.csv,B\na2.csv,A\nb3.csv,B\n")
    Path("plan.toml").write_text("[[pour]]\nstart_s = 0\nmass_g = 45\n")
    return tmp_path


COMPARE = "compare a0.csv b1.csv a2.csv b3.csv --factors factors.csv --by kettle --measure mean_flow_g_per_s"


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("command", "path"),
    [
        ("analyze a0.csv -o mine.csv", "mine.csv"),
        ("analyze a0.csv -o mine.parquet", "mine.parquet"),
        ("analyze a0.csv -o a0.csv", "a0.csv"),
        ("analyze a0.csv --report mine.html", "mine.html"),
        ("report a0.csv -o mine.html", "mine.html"),
        ("plan plan.toml a0.csv -o mine.json", "mine.json"),
        (f"{COMPARE} -o mine.csv", "mine.csv"),
        (f"{COMPARE} --report mine.html", "mine.html"),
        ("simulate clean -o mine.csv", "mine.csv"),
        ("simulate clean -o new.csv --truth mine.json", "mine.json"),
    ],
)
def test_no_command_replaces_a_file_without_force(command: str, path: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path(path).touch()
    before, others = Path(path).read_bytes(), set(Path().iterdir())
    assert main(command.split()) == 2
    assert path in capsys.readouterr().err
    assert Path(path).read_bytes() == before
    assert set(Path().iterdir()) == others
    assert main([*command.split(), "--force"]) == 0
    assert Path(path).read_bytes() != before
