"""A newcomer's own CSV, in the shapes that loggers and spreadsheets write: it is read, or the error states what to do
next and that works.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest

import pourline

mpl.use("agg")
# 60 g at 6 g/s from 10 s, by arithmetic.
TIME_S = np.arange(400) / 10
WATER_G = np.round(6.0 * np.clip(TIME_S - 10, 0, 10), 1)
CUP_G = np.round(0.8 * WATER_G, 1)
BEGUN = dt.datetime(2041, 5, 4, 9, 30)
Stamp = Callable[[float], str]


def csv(head: str, *stamps: Stamp, sep: str = ",", cup: bool = False, comma: bool = False) -> str:
    """Return a file: a head, then for each row its stamps, the water and perhaps the cup."""
    lines = [head] if head else []
    for t, water, beverage in zip(TIME_S.tolist(), WATER_G, CUP_G, strict=True):
        row = sep.join([*(stamp(t) for stamp in stamps), f"{water:.1f}", *([f"{beverage:.1f}"] if cup else [])])
        lines.append(row.replace(".", ",") if comma else row)
    return "\n".join(lines) + "\n"


def s(t: float) -> str:
    return f"{t:.1f}"


def ms(t: float) -> str:
    return f"{1000 * t:.0f}"


def date(form: str) -> Stamp:
    return lambda t: (BEGUN + dt.timedelta(seconds=t)).strftime(form)


def clock(t: float) -> str:
    return f"{int(t) // 60:02}:{t % 60:04.1f}"


READ: dict[str, str | bytes] = {
    "semicolon and decimal comma": csv("time (s);weight (g)", s, sep=";", comma=True),
    "tab": csv("time_s\twater_g", s, sep="\t"),
    "byte order mark, CR LF": "\ufeff" + csv("time_s,water_g", s).replace("\n", "\r\n"),
    "ISO stamps": csv("timestamp,weight_g", date("%Y-%m-%dT%H:%M:%S.%f")),
    "ISO stamps with a blank": csv("time,weight (g)", date("%Y-%m-%d %H:%M:%S.%f")),
    "units in brackets": csv("Time [ms],Water [g]", ms),
    "more columns": csv("row,time_s,battery,water_g", s, s, lambda _: "87"),
    "other wording": csv("Elapsed (s),Total Weight (g)", s),
    "quoted": csv('"time_s";"water_g"', s, sep=";", comma=True).replace("10,5", '"10,5"'),
    "a comma at the end of each line": csv("time_s,water_g", s).replace("\n", ",\n"),
    "empty lines at the end": csv("time_s,water_g", s) + ",\n,\n",
    "Latin-1 beside": csv("time (s),weight (g)", s)
    .replace("weight (g)", "weight (g),température", 1)
    .encode("latin-1"),
    "another language": csv("Zeit (s);Gewicht (g)", s, sep=";", comma=True),
    "epoch milliseconds": csv("timestamp,weight (g)", lambda t: f"{2_250_000_000_000 + 1000 * t:.0f}"),
    "minutes and seconds": csv("time,weight (g)", clock),
    "day before month": csv("time,weight (g)", date("%d.%m.%Y %H:%M:%S.%f")),
    "units in the cells": csv("time_s,water_g", lambda t: f"{t:.1f} s"),
    "lines above the header": "Export of a logger\nBench scale\n" + csv("time_s,water_g", s),
    "sep= of a spreadsheet": "sep=;\n" + csv("time_s;water_g", s, sep=";"),
    "a sign between thousands": csv("time_ms,water_g", lambda t: f'"{1000 * t:,.0f}"'),
    "UTF-16": csv("time_s,water_g", s).encode("utf-16"),
}

# Shape: the file, a part of the error, and the arguments that then read it.
ARGUMENTS: dict[str, tuple[str, str, dict[str, Any]]] = {
    "no unit of time": (csv("Elapsed,Weight (g)", s), "time_unit: .* give one of", {"time_unit": "s"}),
    "no unit beside epoch milliseconds": (
        csv("timestamp,weight", lambda t: f"{2_250_000_000_000 + 1000 * t:.0f}"),
        "mass_unit: .* give one of",
        {"mass_unit": "g"},
    ),
    "units alone": (
        csv("ms,g", ms),
        'no time and no weight among the columns "ms", "g": name them with time=',
        {"time": "ms", "water": "g"},
    ),
    "a language that is not listed": (
        csv("Aika (s);Paino (g)", s, sep=";", comma=True),
        'no time and no weight among the columns "Aika .*: name them with time=.*perhaps time="1"',
        {"time": "Aika (s)", "water": "Paino (g)"},
    ),
    "two weights": (
        csv("time_s,weight_1_g,weight_2_g", s, cup=True),
        "could all be water: choose one with water=",
        {"water": "weight_1_g", "beverage": "weight_2_g"},
    ),
    "two stamps": (
        csv("timestamp,time_s,weight_g", date("%Y-%m-%dT%H:%M:%S"), s),
        "could all be time: choose one with time=",
        {"time": "time_s"},
    ),
    "no header": (
        csv("", s),
        'without a header: choose them by number, such as time="1", water="2"',
        {"time": 1, "water": 2, "time_unit": "s", "mass_unit": "g"},
    ),
}

# Shape: the file, a part of the error, and the change that it requests.
BY_HAND: dict[str, tuple[str | bytes, str, Callable[[Path], Any]]] = {
    "UTF-16 without its mark": (
        csv("time_s,water_g", s).encode("utf-16-le"),
        "text in UTF-16 without its mark: save the log as text in UTF-8",
        lambda path: path.read_text("utf-16-le").encode(),
    ),
    "two logs": (
        2 * csv("time_s,water_g", s),
        "line 402 repeats the header and time starts again below it: these are two logs, so split the file there",
        lambda path: "\n".join(path.read_text().splitlines()[:401]).encode(),
    ),
    "a clock without seconds": (
        csv("time (hh:mm),weight (g)", date("%H:%M")),
        'no time among the columns "time .hh:mm.", "weight .g."',
        lambda path: csv("time_s,weight (g)", s).encode(),
    ),
}


def put(text: str | bytes, folder: Path) -> Path:
    path = folder / "mine.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def check(log: pourline.Log) -> None:
    assert log.water_g is not None
    np.testing.assert_allclose(log.time_s - log.time_s[0], TIME_S, atol=1e-6)
    np.testing.assert_allclose(log.water_g, WATER_G, atol=1e-9)


@pytest.mark.parametrize("shape", READ)
def test_it_goes_from_a_file_to_a_figure_in_three_lines(shape: str, tmp_path: Path) -> None:
    path = put(READ[shape], tmp_path)
    log = pourline.read(path)
    brew = pourline.analyze(log)
    axes = pourline.plot(brew)
    check(log)
    assert len(brew.pours) == 1
    assert axes


@pytest.mark.parametrize("shape", ARGUMENTS)
def test_the_error_names_the_argument_that_settles_it(shape: str, tmp_path: Path) -> None:
    text, said, arguments = ARGUMENTS[shape]
    path = put(text, tmp_path)
    with pytest.raises(pourline.PourlineError, match=said):
        pourline.read(path)
    check(pourline.read(path, **arguments))


@pytest.mark.parametrize("shape", BY_HAND)
def test_the_error_says_what_to_change_in_the_file(shape: str, tmp_path: Path) -> None:
    text, said, repair = BY_HAND[shape]
    path = put(text, tmp_path)
    with pytest.raises(pourline.PourlineError, match=said):
        pourline.read(path)
    check(pourline.read(repair(path)))


@pytest.mark.parametrize("kind", ["timedelta64[us]", "timedelta64[ms]", "timedelta64[s]"])
def test_a_duration_is_in_seconds_whatever_its_column_is_called(kind: str) -> None:
    spans = pd.Series([0, 1, 3]).astype("timedelta64[s]").astype(kind)
    for name in ("time", "elapsed", "time_ms"):
        log = pourline.read(pd.DataFrame({name: spans, "water_g": [0.0, 1.0, 2.0]}))
        assert log.time_s.tolist() == [0.0, 1.0, 3.0]
    with pytest.raises(pourline.PourlineError, match="time_unit"):
        pourline.read(pd.DataFrame({"time": spans, "water_g": [0.0, 1.0, 2.0]}), time_unit="ms")


def test_a_time_of_day_is_in_seconds() -> None:
    import polars as pl

    frame = pl.DataFrame({"time": [dt.time(9, 30, 0, 500_000), dt.time(9, 30, 1), None], "water_g": [0.0, 1.0, 2.0]})
    with pytest.raises(pourline.PourlineError, match="row 3"):
        pourline.read(frame)
    log = pourline.read(pl.concat([frame[:2], frame[1:2]]))
    assert (log.time_s - log.time_s[0]).tolist() == [0.0, 0.5, 0.5]
