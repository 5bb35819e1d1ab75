"""Folders, patterns of paths and rules: every file is read, or is refused with its name and a reason, and others go on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import pourline
from pourline.cli import main

# 12 s at 10 Hz: 5 g/s from 2 s to 8 s, which are 30 g.
TIME_S = np.arange(120) / 10
WATER_G = np.round(5 * np.clip(TIME_S - 2, 0, 6), 1)


def text(head: str = "time_s,water_g", separator: str = ",", factor: float = 1.0) -> str:
    rows = (f"{t * factor:g}{separator}{w:.1f}" for t, w in zip(TIME_S, WATER_G, strict=True))
    return "\n".join([head, *rows]) + "\n"


def write(folder: Path, **files: str | bytes) -> Path:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        path = folder / name.replace("__", ".")
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    return folder


def is_the_log(log: object) -> bool:
    if not isinstance(log, pourline.Log) or log.water_g is None:
        return False
    return np.allclose(log.time_s, TIME_S, atol=1e-9) and np.allclose(log.water_g, WATER_G)


def test_a_folder_gives_its_logs_in_order_of_their_names_and_lists_other_files(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "brews", b__csv=text(), a__CSV=text(), c__txt=text("t [s];g").replace(",", ";"), d__md="notes"
    )
    logs = pourline.read_many(folder)
    assert [Path(file).name for file in logs.files] == ["a.CSV", "b.csv", "c.txt"]
    assert [isinstance(log, pourline.Log) for log in logs] == [True, True, False], "`g` alone is no name"
    assert [Path(file).name for file in logs.ignored] == ["d.md"]
    assert all(map(is_the_log, logs[:2]))


def test_a_refused_file_is_a_row_with_its_reason_and_the_others_go_on(tmp_path: Path) -> None:
    junk = bytes(range(256)) * 20
    folder = write(tmp_path / "brews", a__csv=text(), junk__csv=junk, one__csv="time_s,water_g\n0,0\n", z__csv=text())
    logs = pourline.read_many(folder)
    assert [isinstance(log, pourline.Log) for log in logs] == [True, False, False, True]
    table = logs.table()
    assert table["error_kind"].tolist() == ["", "format", "too_short", ""]
    assert table["duration_s"].tolist()[0] == 11.9
    for name, (path, error) in zip(("junk.csv", "one.csv"), logs.refused.items(), strict=True):
        assert path == str(folder / name)
        assert str(error).startswith(f"{folder / name}: ")
    assert "binary file" in table["error"][1]
    assert "at least 3 are needed" in table["error"][2]


def test_a_pattern_a_list_and_a_string_to_analyze_many_are_taken(tmp_path: Path) -> None:
    write(tmp_path / "one", a__csv=text(), b__csv=text())
    write(tmp_path / "two", a__csv=text())
    assert len(pourline.read_many(str(tmp_path / "*" / "a.csv"))) == 2
    assert len(pourline.read_many(str(tmp_path / "**" / "*.csv"))) == 3
    assert len(pourline.read_many([tmp_path / "one", tmp_path / "two" / "a.csv"])) == 3
    for source in (tmp_path / "one", str(tmp_path / "one"), str(tmp_path / "one" / "*.csv")):
        brews = pourline.analyze_many(source)
        assert [len(brew.pours) for brew in brews if isinstance(brew, pourline.Brew)] == [1, 1]
        assert len(list(pourline.analyze_each(source))) == 2


def test_rules_state_columns_units_and_the_factors_in_the_name(tmp_path: Path) -> None:
    rules = """
        [[files]]
        name = "{kettle}_{person}_{n}.csv"
        time = 1
        water = 2
        time_unit = "ms"
        mass_unit = "g"
        scale = "the green one"
        dose_g = 15
        factors = { roastery = "Lantern Yard" }

        [[files]]
        name = "factors.csv"
        skip = true
    """
    rows = text("", factor=1000).lstrip()
    folder = write(
        tmp_path / "brews",
        Broadlip_Ada_07__csv=rows,
        Fernspout_Bo_1__csv=rows,
        factors__csv="file\n",
        rules__toml=rules,
    )
    logs = pourline.read_many(folder)
    assert [Path(file).name for file in logs.ignored] == ["factors.csv"]
    assert all(map(is_the_log, logs))
    first = logs[0]
    assert isinstance(first, pourline.Log)
    assert first.meta.to_dict() == {
        "name": "Broadlip_Ada_07",
        "kettle": "Broadlip",
        "person": "Ada",
        "device": "the green one",
        "dose_g": 15.0,
        "factors": {"n": "07", "roastery": "Lantern Yard"},
    }
    given = pourline.read_many(folder, dose_g=18, factors={"day": "3"})[0]
    assert isinstance(given, pourline.Log)
    assert (given.meta.dose_g, given.meta.factors) == (18.0, {"n": "07", "roastery": "Lantern Yard", "day": "3"})


def test_rules_that_fit_no_file_or_a_file_twice_are_told_with_the_remedy(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "brews", a_1__csv=text(), b__csv=text(), rules__toml='[[files]]\nname = "{kettle}-{n}.csv"\n'
    )
    with pytest.raises(pourline.PourlineError, match="no file fits") as caught:
        pourline.read_many(folder)
    assert str(folder / "rules.toml") in str(caught.value)
    assert 'change the patterns: the folder has "a_1.csv", "b.csv"' in str(caught.value)

    write(folder, rules__toml='[[files]]\nname = "{kettle}_{n}.csv"\n[[files]]\nname = "*.csv"\n')
    logs = pourline.read_many(folder)
    assert [isinstance(log, pourline.Log) for log in logs] == [False, True]
    assert "a_1.csv: rules.toml: " in str(logs[0])
    assert 'fits two rules, "{kettle}_{n}.csv" and "*.csv": narrow one of the patterns' in str(logs[0])

    write(folder, rules__toml='[[files]]\nname = "{kettle}_{n}.csv"\n[[files]]\nname = "x*"\n[[files]]\nname = "b.csv"')
    with pytest.warns(UserWarning, match='rules.toml: no file fits "x\\*"; change or remove the rule'):
        assert len(pourline.read_many(folder)) == 2
    write(folder, rules__toml='[[files]]\nname = "{kettle}_{n}.csv"\n')
    with pytest.warns(UserWarning, match='rules.toml: no rule fits "b.csv", read without one'):
        assert len(pourline.read_many(folder)) == 2


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        ("[[files]\n", "rules.toml: line 1: "),
        ("", "there is no rule"),
        ("[[files]]\ntime = 1\n", "name: is missing in a rule"),
        ('[[files]]\nname = "*"\ncolour = "red"\n', "colour: is no key of a rule"),
        ('[[files]]\nname = "*"\ntime_unit = "fortnight"\n', "not a known unit"),
        ('[[files]]\nname = "{a}{b}.csv"\n', "two fields with nothing between"),
        ('[[rules]]\nname = "*"\n', "rules: is no key of rules"),
    ],
)
def test_rules_that_are_none_are_refused_by_their_file(rules: str, said: str, tmp_path: Path) -> None:
    folder = write(tmp_path / "brews", a__csv=text(), rules__toml=rules)
    with pytest.raises(pourline.PourlineError, match=r"rules\.toml") as caught:
        pourline.read_many(folder)
    assert said in str(caught.value)


def test_a_folder_without_logs_and_a_pattern_without_files_say_what_to_do(tmp_path: Path) -> None:
    folder = write(tmp_path / "brews", notes__md="x")
    with pytest.raises(
        pourline.PourlineError, match=r"no log is in this folder; the name of a log ends in .csv"
    ) as caught:
        pourline.read_many(folder)
    assert caught.value.kind == "empty"
    write(folder / "monday", a__csv=text())
    with pytest.raises(pourline.PourlineError, match=r"the folders in it have some: .*\*\*/\*.csv' reads them"):
        pourline.analyze_many(folder)
    with pytest.raises(pourline.PourlineError, match="no file fits this pattern"):
        pourline.read_many(str(tmp_path / "*.nothing"))
    with pytest.raises(pourline.PourlineError, match="no path was given"):
        pourline.read_many([])
    with pytest.raises(pourline.PourlineError, match="source: a folder, a pattern, a file"):
        pourline.read_many([b"brews"])  # type: ignore[list-item]
    with pytest.raises(pourline.PourlineError, match="files: 1 paths for 0 logs"):
        pourline.Logs([], ["a.csv"])
    (missing,) = pourline.read_many(str(tmp_path / "none.csv"))
    assert isinstance(missing, pourline.PourlineError)
    assert missing.kind == "io"
    with pytest.raises(pourline.PourlineError, match="read_many"):
        pourline.read(folder)


def test_a_name_with_factors_in_several_ways_is_refused(tmp_path: Path) -> None:
    folder = write(
        tmp_path / "brews", a_b_1__csv=text(), c_2__csv=text(), rules__toml='[[files]]\nname = "{kettle}_{n}.csv"\n'
    )
    bad, good = pourline.read_many(folder)
    assert isinstance(bad, pourline.PourlineError)
    assert "in several ways" in str(bad)
    assert is_the_log(good)


def test_the_command_line_takes_folders_and_goes_on_past_a_bad_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    rules = '[[files]]\nname = "{kettle}_{n}.csv"\n[[files]]\nname = "factors.csv"\nskip = true\n'
    write(tmp_path / "brews", A_1__csv=text(), B_1__csv=text() + "Total,30\n", rules__toml=rules, factors__csv="file\n")
    assert main(["analyze", "brews", "-o", "pours.csv"]) == 0
    told = capsys.readouterr()
    assert "A_1: " in told.out
    assert 'From the file: line 122 ("Total,30") holds no sample and was skipped.' in told.out
    rows = (tmp_path / "pours.csv").read_text().splitlines()
    assert len(rows) == 3
    assert "A" in rows[1].split(",")
    write(tmp_path / "brews", C_1__csv=b"\x00\x01\x02" * 99)
    assert main(["analyze", "brews/*.csv"]) == 1
    told = capsys.readouterr()
    assert "pourline: brews/C_1.csv: this is a binary file" in told.err
    assert main(["analyze", "brews/A_1.csv", "brews/factors.csv"]) == 0, "the rules hold for a named file too"
    write(tmp_path / "empty")
    capsys.readouterr()
    assert main(["analyze", "empty", "brews/A_1.csv"]) == 1
    assert "empty: no log is in this folder" in capsys.readouterr().err


def test_the_command_line_speaks_in_its_options(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("none.csv").write_text(text("", factor=1000).lstrip())
    assert main(["analyze", "none.csv"]) == 3
    told = capsys.readouterr().err
    assert "perhaps --time 1 (column 1 rises in every line), --water 2 (column 2 spans the most, 30.0)" in told
    Path("units.csv").write_text(text("time,weight", factor=10_000))
    assert main(["analyze", "units.csv"]) == 3
    told = capsys.readouterr().err
    assert '--time-unit: column "time" states no unit' in told
    assert "perhaps --time-unit ms: the log then lasts 119 s; --mass-unit: column" in told
    assert "_unit" not in told
    Path("gap.csv").write_text(text() + "12,\n12.1,30\n")
    assert main(["analyze", "gap.csv"]) == 3
    assert "--missing flag lets a missing weight" in capsys.readouterr().err
    assert main(["analyze", "gap.csv", "--missing", "flag"]) == 0
