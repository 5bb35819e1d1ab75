"""The bundled brews give the numbers in `golden/brews.json` to the last bit, whatever the threads and by whichever
table they came and went.

`tests/rust/golden.rs` holds the same file without Python and in another profile of the compiler; `make versions`
runs this one with many versions. Where the system's mathematical library has other last digits (`.ci/golden.py`),
the numbers are held within 1e-9, and the bits against what one thread gives here.
"""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import pourline

ROOT = Path(__file__).parents[2]
SPEC = importlib.util.spec_from_file_location("golden", ROOT / ".ci" / "golden.py")
assert SPEC is not None
assert SPEC.loader is not None
golden = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(golden)
KEPT: dict[str, Any] = json.loads(golden.KEPT.read_text(encoding="utf-8"))
NAMES = pourline.datasets.names()
# Arguments of the rows of one table besides the weights.
NUMBERS = ("dose_g", "tds_pct", "water_c")
MEANT = "if that is meant, run make golden"


@pytest.fixture(scope="module")
def logs() -> list[pourline.Log]:
    return [pourline.datasets.load(name) for name in NAMES]


@pytest.fixture(scope="module")
def kept() -> dict[str, Any]:
    """Return the stored values if the mathematical library is the same; else those of one thread here, once its
    numbers are held.
    """
    if KEPT["mathematics"] == golden.mathematics():
        return KEPT
    here: dict[str, Any] = golden.found(golden.brews(1))
    for name, brew in KEPT["brews"].items():
        assert here["brews"][name]["log"] == brew["log"]
        for what in (*golden.OF_A_POUR, *golden.OF_A_BREW):
            assert here["brews"][name][what] == pytest.approx(brew[what], rel=0, abs=golden.APART), (name, what)
    return here


def long(logs: list[pourline.Log]) -> pourline.Table:
    """Return all logs in one table, one below the other."""
    columns: dict[str, Any] = {"log": np.repeat(NAMES, [len(log) for log in logs])}
    for name in ("time_s", "water_g", "beverage_g"):
        columns[name] = np.concatenate([getattr(log, name) for log in logs])
    for name in NUMBERS:
        columns[name] = np.concatenate([np.full(len(log), getattr(log.meta, name)) for log in logs])
    return pourline.Table(columns)


def columns_of(batches: Any) -> dict[str, np.ndarray[Any, Any]]:
    """Return the columns of an Arrow stream as numpy has them, null as NaN."""
    parts = list(batches)
    names = parts[0].schema.names
    values = {name: [value for part in parts for value in part[name].to_pylist()] for name in names}
    is_text = {name: any(isinstance(value, str) for value in column) for name, column in values.items()}
    return {name: np.array(values[name], dtype="U" if is_text[name] else "f8") for name in names}


@pytest.mark.parametrize("threads", [None, 1, 2, 5])
def test_the_bundled_brews_give_the_numbers_that_are_kept(threads: int | None, kept: dict[str, Any]) -> None:
    found = golden.found(golden.brews(threads))
    assert list(found["brews"]) == NAMES
    assert found == kept, MEANT


@pytest.mark.slow
@pytest.mark.parametrize("threads", [1, 2, 5])
@pytest.mark.parametrize("rows", ["pour", "brew"])
def test_rows_of_one_long_table_are_those_that_are_kept(
    rows: Any, threads: int, logs: list[pourline.Log], kept: dict[str, Any]
) -> None:
    batches = pourline.analyze_table(long(logs), rows=rows, meta=NUMBERS, threads=threads)
    found = golden.columns(columns_of(batches))
    expected = kept[f"rows a {rows}"]
    assert {name: found[name] for name in expected} == expected, MEANT


@pytest.mark.parametrize("by", ["pandas", "polars", "pyarrow"])
def test_a_log_that_comes_by_another_library_gives_the_same_brew(
    by: str, logs: list[pourline.Log], kept: dict[str, Any]
) -> None:
    library = pytest.importorskip(by)
    make = library.table if by == "pyarrow" else library.DataFrame
    for log, name in zip(logs, NAMES, strict=True):
        frame = make({"time_s": log.time_s, "water_g": log.water_g, "beverage_g": log.beverage_g})
        brew = pourline.analyze(pourline.read(frame))
        assert brew.log_digest == kept["brews"][name]["log"]
        assert brew.table(all=True)["half_rise_s"].tolist() == kept["brews"][name]["half_rise_s"]


@pytest.mark.parametrize("to", ["pandas", "polars", "pyarrow"])
def test_rows_arrive_in_another_library_to_the_last_bit(
    to: str, logs: list[pourline.Log], kept: dict[str, Any]
) -> None:
    library = pytest.importorskip(to)
    table = pourline.tables.stack(pourline.analyze(log).table(all=True) for log in logs)
    ways: dict[str, Callable[[], Any]] = {"pandas": table.to_pandas, "polars": table.to_polars}
    made = ways[to]() if to in ways else library.table(table)
    arrays = {name: np.asarray(made[name].to_numpy()) for name in table.columns}
    found = golden.columns({name: values for name, values in arrays.items() if values.dtype.kind in "fi"})
    assert found == kept["rows a pour"], MEANT


def test_a_brew_tells_version_options_and_the_digest_of_its_log(logs: list[pourline.Log]) -> None:
    options = pourline.Options(segment={"mass_g": 4.0})
    brew = pourline.analyze(logs[0], options)
    told = json.loads(brew.to_json())
    assert brew.version == told["version"] == pourline.__version__
    assert brew.options == options
    assert told["options"]["segment"]["mass_g"] == 4.0
    assert brew.log_digest == told["log_digest"] == logs[0].digest == KEPT["brews"][NAMES[0]]["log"]
