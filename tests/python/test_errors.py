"""Bad input ends in a `PourlineError` with kind, row, value and rule: never in a panic, a hang or a silent NaN."""

from __future__ import annotations

import contextlib
import math
import os
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import pourline

T = [0.0, 0.1, 0.2, 0.3]
W = [0.0, 1.0, 2.0, 3.0]


@pytest.mark.parametrize(
    ("columns", "kind", "row"),
    [
        (([], []), "empty", None),
        (([0.0], [1.0]), "too_short", None),
        ((T, W[:3]), "unequal_length", None),
        ((T, None, W[:3]), "unequal_length", None),
        ((T,), "column", None),
        ((T, [0.0, math.nan, 2.0, 3.0]), "not_finite", 2),
        ((T, [0.0, 1.0, math.inf, 3.0]), "not_finite", 3),
        (([0.0, math.nan, 0.2, 0.3], W), "not_finite", 2),
        (([1.0] * 4, W), "time", 2),
        ((T[::-1], W), "time", 2),
        ((T, [0.0, 1e308, 2.0, 3.0]), "out_of_range", 2),
        (([0.0, 0.1, 0.2, 1e308], W), "out_of_range", 4),
        ((T, [0.0, "1.0", 2.0, 3.0]), "argument", None),
        ((T, np.array([0.0, "x", 2.0, 3.0], dtype=object)), "not_a_number", 2),
        ((T, np.array([0.0, 10**400, 2.0, 3.0], dtype=object)), "not_a_number", 2),
        ((T, np.array([[0.0, 1.0]])), "argument", None),
        ((T, np.array(W, dtype=complex)), "argument", None),
        ((T, np.array(W, dtype=bool)), "argument", None),
        ((np.array([0, 1, 2, 3], dtype="datetime64[s]"), W), "argument", None),
        ((T, "0 1 2 3"), "argument", None),
        ((T, {"a": 1}), "argument", None),
        ((T, 5), "argument", None),
        ((T, [[0.0], [1.0, 2.0]]), "argument", None),
        ((None, W), "argument", None),
        ((object(), W), "argument", None),
    ],
)
def test_a_wrong_column_is_named_with_its_row(columns: tuple[Any, ...], kind: str, row: int | None) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Log(*columns)
    assert (caught.value.kind, caught.value.row) == (kind, row)
    assert str(caught.value)


@pytest.mark.parametrize(
    "meta", [{"tds_pct": 100.5}, {"tds_pct": 0}, {"dose_g": -1}, {"dose_g": math.nan}, {"dose_g": "15 g"},
             {"water_c": 130}, {"kettle": ["a"]}, {"factors": {"day": 2}}, {"factors": 3}, {"dose": 15}]
)  # fmt: skip
def test_wrong_metadata_is_refused(meta: dict[str, Any]) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Log(T, W, **meta)
    assert next(iter(meta)) in str(caught.value)


def test_a_dose_of_0_leaves_the_yield_undefined_and_the_rest_runs(log: pourline.Log) -> None:
    brew = pourline.analyze(pourline.Log(log.time_s, log.water_g, log.beverage_g, dose_g=0, tds_pct=1.3))
    assert len(brew.pours) == 2
    assert isinstance(brew.extraction.yield_pct, pourline.Undefined)
    assert "dose_g" in brew.extraction.yield_pct.reason


def test_a_log_without_a_pour_has_no_pours() -> None:
    time_s = np.arange(300) / 10
    brew = pourline.analyze(pourline.Log(time_s, np.zeros(300)))
    assert brew.pours == []
    assert isinstance(brew.water_g, pourline.Undefined)


def test_a_log_of_beverage_alone_has_no_flow(log: pourline.Log) -> None:
    brew = pourline.analyze(pourline.Log(log.time_s, beverage_g=log.beverage_g))
    assert brew.flow is None
    assert brew.pours == []
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.flow(brew.trace, brew.segments)
    assert caught.value.kind == "column"


FILES: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "empty"),
    "header_only": (b"time_s,water_g\n", "empty"),
    "one_row": (b"time_s,water_g\n0,1\n", "too_short"),
    "text_in_a_number": (b"time_s,water_g\n0,1\n1,full\n2,3\n3,4\n", "not_a_number"),
    "binary": (bytes(range(256)) * 40, "format"),
    "packed": (b"\x1f\x8b\x08" + bytes(100), "format"),
    "ragged": (b"time_s,water_g\n0,1\n1,2,3\n2,3\n3,4\n", "format"),
    "many_columns": (b"time_s," + b"x," * 1_000_000 + b"water_g\n", "column"),
    "long_line": (b"time_s,water_g\n" + b"1" * 3_000_000, "format"),
    "nulls": (b"\x00" * 5000, "format"),
    "open_quote": (b'time_s,water_g\n0,"1\n1,2\n2,3\n', "format"),
    "broken_json": (b'{"time_s": 0, "water_g": 1}\n{"time_s": 1, "wa\n', "format"),
    "no_unit": (b"time,water\n0,1\n1,2\n2,3\n3,4\n", "argument"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_bad_file_is_refused(name: str, tmp_path: Path) -> None:
    content, kind = FILES[name]
    path = tmp_path / f"{name}.csv"
    path.write_bytes(content)
    for source in (path, content):
        with pytest.raises(pourline.PourlineError) as caught:
            pourline.read(source)
        assert caught.value.kind == kind, str(caught.value)


def test_what_is_no_file_is_an_io_error(tmp_path: Path) -> None:
    for source in (tmp_path, tmp_path / "none.csv", Path("/dev/null"), tmp_path / "none.parquet", "a\0b.csv"):
        with pytest.raises(pourline.PourlineError) as caught:
            pourline.analyze(source)
        assert caught.value.kind == "io", str(caught.value)
    bad = tmp_path / "bad.parquet"
    bad.write_bytes(b"PAR1 but no more")
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.read(bad)
    assert caught.value.kind == "format"


@pytest.mark.parametrize("source", [3, None, 2.5, object(), [1, 2]])
def test_what_is_no_source_is_refused(source: Any) -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.read(source)
    assert caught.value.kind == "argument"
    with pytest.raises(pourline.PourlineError):
        pourline.analyze(source)


def test_among_many_logs_a_bad_one_stays_in_its_place(log: pourline.Log, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"\x00")
    before = pourline.PourlineError("read before", "io")
    told: list[tuple[int, int]] = []
    found = pourline.analyze_many([log, bad, "none.csv", 3, before, log], progress=lambda *n: told.append(n))  # type: ignore[list-item]
    kinds = [one.kind if isinstance(one, pourline.PourlineError) else len(one.pours) for one in found]
    assert kinds == [2, "format", "io", "argument", "io", 2]
    assert found[4] is before
    assert told[-1] == (6, 6)
    assert pourline.analyze_many([]) == []


def test_what_progress_raises_comes_through(log: pourline.Log) -> None:
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pourline.analyze_many([log], progress=stop)


ODD: list[Any] = [
    None, 0, -1, 2**70, 1e308, math.nan, math.inf, True, "", "x" * 1000, "\ud800", b"\xff", [], [1], [[1]], {}, {"a": {}},
    (), set(), object(), type, len, np.zeros(3), np.zeros((2, 2)), np.array("a"), np.array([None]), os, range(3),
]  # fmt: skip


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_no_odd_argument_panics(log: pourline.Log, brew: pourline.Brew) -> None:
    """Every public callable takes any odd value in any place and ends in an ordinary exception, or works."""
    draw = random.Random(3)
    truth = pourline.simulate("clean", 1)[1]
    good: list[Any] = [log, brew, brew.trace, brew.segments, log.meta, truth, brew.pours]
    callables = [
        getattr(pourline, name) for name in pourline.__all__ if not name.startswith(("report", "plot", "dataset"))
    ]
    callables = [one for one in callables if callable(one)]
    names = ["condition", "segment", "extraction", "time", "water", "missing", "recipe", "seed", "sd", "dose_g", "half"]
    names += ["by", "measure", "rows", "columns", "subjects", "raters", "study"]
    for _ in range(6000):
        function = draw.choice(callables)
        places = [draw.choice(draw.choice((ODD, good))) for _ in range(draw.randint(0, 3))]
        keywords = {draw.choice(names): draw.choice(ODD) for _ in range(draw.randint(0, 2))}
        if function in (pourline.repeatability, pourline.icc, pourline.crossed):
            needed = {"repeatability": ["by"], "icc": ["subjects", "raters"], "crossed": ["rows", "columns"]}
            keywords = {name: draw.choice(ODD) for name in needed[function.__name__]}
        with contextlib.suppress(ValueError, TypeError, OverflowError):
            function(*places, **keywords)


def test_no_random_log_panics() -> None:
    """Whatever the numbers are: a brew without NaN in its pours, or a `PourlineError`."""
    draw = np.random.default_rng(11)
    for _ in range(300):
        n = int(draw.integers(3, 400))
        time_s = np.cumsum(draw.choice([0.0, 0.1, 0.1, 0.1, -0.3, 5.0], n)) * draw.choice([1.0, 1e-6, 1e6])
        steps = draw.choice([0.0, 0.1, 0.5, -0.2, 300.0, -300.0], n, p=[0.3, 0.3, 0.3, 0.06, 0.02, 0.02])
        water_g = np.cumsum(steps) * draw.choice([1.0, 1e-5, 1e4])
        try:
            brew = pourline.analyze(pourline.Log(time_s, water_g, np.abs(water_g), dose_g=1e-9, tds_pct=99.0))
        except pourline.PourlineError:
            continue
        for pour in brew.pours:
            for name in ("start_s", "end_s", "half_rise_s", "half_fall_s", "mass_g", "mean_flow_g_per_s", "duration_s"):
                number = getattr(pour, name)
                if "half" in name and isinstance(number, pourline.Undefined):
                    assert number.reason
                    continue
                assert math.isfinite(number.value), (name, pour)
                assert math.isfinite(number.sd), (name, pour)
        brew.to_json()
        assert brew._repr_html_()


@pytest.mark.parametrize(
    ("time_by", "mass_by", "said"),
    [
        (1, -1, "falls by 150 g"),
        (1 / 60, 1, 'time_unit="min"'),
        (1000, 1, 'time_unit="ms"'),
        (1, 1e-3, 'mass_unit="kg"'),
        # The gram is exact: 28.349523125 g to the avoirdupois ounce (NIST Handbook 44, appendix C).
        (1, 1 / 28.349523125, 'mass_unit="oz"'),
    ],
)
def test_a_log_without_pours_says_what_it_looks_like(time_by: float, mass_by: float, said: str) -> None:
    time_s = np.arange(0, 120, 0.1)
    water_g = np.interp(time_s, [5, 15, 40, 60], [0, 50, 50, 150])
    if mass_by == pytest.approx(1 / 28.349523125):
        water_g = np.interp(time_s, [5, 115], [0, 50])
    brew = pourline.analyze(pourline.Log(time_s * time_by, water_g * mass_by))
    assert brew.head == "no pours"
    assert said in brew.warnings[0]
    assert len(brew.warnings[0].split()) <= 30
