"""Workbooks of a spreadsheet are read as the text of their sheets."""

from __future__ import annotations

import datetime as dt
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest

import pourline

TIME_S, WATER_G = [0.0, 0.5, 1.0, 1.5], [0.0, 0.4, 2.4, 5.1]


def book(path: Path, **sheets: Sequence[Sequence[Any]]) -> Path:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
    made.save(path)
    return path


def rows(stamps: Sequence[Any]) -> list[list[Any]]:
    return [["Zeit", "Gewicht (g)"], *([t, w] for t, w in zip(stamps, WATER_G, strict=True))]


def is_the_log(log: pourline.Log) -> bool:
    return log.water_g is not None and log.time_s.tolist() == TIME_S and log.water_g.tolist() == WATER_G


# ISO 8601: 1.5 s after 09:30:00 is 09:30:01.5.
START = dt.datetime(2041, 5, 4, 9, 30)


@pytest.mark.parametrize(
    "stamps",
    [
        [START + dt.timedelta(seconds=t) for t in TIME_S],
        [(START + dt.timedelta(seconds=t)).time() for t in TIME_S],
        [dt.timedelta(seconds=t) for t in TIME_S],
        [f"{t} s" for t in TIME_S],
        [f"00:{t:04.1f}" for t in TIME_S],
    ],
    ids=["dates", "times of day", "durations", "units in cells", "clocks as text"],
)
def test_a_sheet_is_read_whatever_its_stamps_are(stamps: Sequence[Any], tmp_path: Path) -> None:
    table = rows(stamps)
    log = pourline.read(book(tmp_path / "brew.xlsx", Data=[["Lantern Yard"], [], *table, ["Summe", 5.1]]), dose_g=15)
    assert is_the_log(log)
    assert (log.meta.name, log.meta.dose_g) == ("brew", 15.0)
    # A row of the sheet is a line of the text.
    assert [note for note in log.notes if note.startswith("line")] == [
        'line 1 ("Lantern Yard") holds no sample and was skipped',
        'line 8 ("Summe,5.1") holds no sample and was skipped',
    ]


def test_the_only_sheet_with_a_log_is_read_and_two_are_refused(tmp_path: Path) -> None:
    table = [["time_s", "water_g"], *zip(TIME_S, WATER_G, strict=True)]
    one = book(tmp_path / "one.xlsx", Notes=[["Ada"]], Data=table, Empty=[])
    log = pourline.read(one)
    assert is_the_log(log)
    assert log.notes == ['the sheet "Data" was read; no log is in "Notes"']
    with pytest.raises(pourline.PourlineError, match='the sheets "A", "B" each hold a log: save each of them'):
        pourline.read(book(tmp_path / "two.xlsx", A=table, B=table))
    with pytest.raises(pourline.PourlineError, match="holds no samples") as caught:
        pourline.read(book(tmp_path / "none.xlsx", A=[]))
    assert caught.value.kind == "empty"
    assert len(pourline.analyze(one).pours) == 0
    logs = pourline.read_many(tmp_path)
    assert [isinstance(log, pourline.Log) for log in logs] == [False, True, False]


def test_what_is_no_workbook_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "brew.xlsx"
    path.write_text("time_s,water_g\n")
    with pytest.raises(pourline.PourlineError, match="no workbook, or a damaged one: save the sheet as CSV"):
        pourline.read(path)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/sharedStrings.xml", b" " * (257 << 20))
    assert path.stat().st_size < 1 << 20
    with pytest.raises(pourline.PourlineError, match="more than 256 MiB unpacked"):
        pourline.read(path)
    with pytest.raises(pourline.PourlineError, match="No such file"):
        pourline.read(tmp_path / "none.xlsx")
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    with pytest.raises(pourline.PourlineError, match=r"pourline\[xlsx\]") as caught:
        pourline.read(path)
    assert caught.value.kind == "install"
