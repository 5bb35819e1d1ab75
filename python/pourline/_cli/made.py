"""In: a level or recipe, or the log of a scale. Out: a simulated log with its true values; how the scale shows a load."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from .._io.files import MOST_BY_HAND, all_of, small_bytes, write_whole
from .._pages.report import page
from .._pourline import Log, Truth, calibrate, simulate
from ..errors import PourlineError
from .logs import may_write, read_log
from .output import ALL_GOOD


def run_simulate(arguments: argparse.Namespace) -> int:
    """Write a simulated log, and its true values if `--truth` is given."""
    output, of_truth = (Path(one) if one else None for one in (arguments.output, arguments.truth))
    if output is not None and output == of_truth:
        raise PourlineError("the log and its truth need two files", column="truth")
    for path in (output, of_truth):
        may_write(path, arguments)
    log, truth = simulate(_recipe(arguments.recipe), arguments.seed)
    text = log_text(log)
    if output is None:
        sys.stdout.write(text)
    else:
        write_whole(output, text.encode(), arguments.force)
    if of_truth is not None:
        write_whole(of_truth, truth_text(truth).encode(), arguments.force)
    return ALL_GOOD


def run_calibrate(arguments: argparse.Namespace) -> int:
    """Print how scales show a load, each found from a log of masses put on it; write one to a file, all to a page."""
    output, sheet = (Path(one) if one else None for one in (arguments.output, arguments.report))
    if output is not None and len(arguments.files) > 1:
        raise PourlineError("-o keeps one scale: give one log", column="output")
    for path in (output, sheet):
        may_write(path, arguments)
    found = {
        "" if len(arguments.files) == 1 else Path(file).stem: calibrate(
            read_log(file, arguments, {}), masses_g=arguments.masses or []
        )
        for file in arguments.files
    }
    for name, one in found.items():
        print(f"{name}:\n{one}" if name else one)
    if output is not None:
        write_whole(output, next(iter(found.values())).to_toml().encode(), arguments.force)
    elif len(found) == 1:
        print("keep it: -o my_scale.toml, then: pourline analyze brew.csv --scale my_scale.toml")
    if sheet is not None:
        write_whole(sheet, page(found).encode(), arguments.force)
    return ALL_GOOD


def log_text(log: Log) -> str:
    """Return a log as CSV that round-trips exactly; a missing reading is an empty cell."""
    columns = {"time_s": log.time_s, "water_g": log.water_g, "beverage_g": log.beverage_g}
    weighed = {name: values.tolist() for name, values in columns.items() if values is not None}
    meta: dict[str, Any] = log.meta.to_dict()
    meta |= {f"factors.{key}": value for key, value in meta.pop("factors", {}).items()}
    notes = [f"# {key}: {' '.join(str(value).splitlines())}" for key, value in meta.items()]
    rows = [
        ",".join("" if one != one else repr(one + 0.0) for one in row) for row in zip(*weighed.values(), strict=True)
    ]
    return "\n".join([*notes, ",".join(weighed), *rows]) + "\n"


def truth_text(truth: Truth) -> str:
    """Return the true values of a simulated log as JSON, without its arrays."""
    stated = {
        "pours": [pour.to_dict() for pour in truth.pours],
        "events": [
            {"kind": e.kind, "channel": e.channel, "start_s": e.start_s, "end_s": e.end_s, "size_g": e.size_g}
            for e in truth.events
        ],
        **{name: getattr(truth, name) for name in ("brew_start_s", "scale_lag_s", "noise_sd_g", "dose_g")},
        "retention_g_per_g": truth.retention_g_per_g,
        "beverage_end_s": truth.beverage_end_s,
    }
    return json.dumps(stated, indent=1) + "\n"


def _recipe(word: str) -> str | dict[str, Any]:
    """Return a level by its name, or a recipe from a JSON file or standard input."""
    if word != "-" and not word.lower().endswith(".json"):
        return word
    try:
        found = json.loads(all_of(sys.stdin.buffer, MOST_BY_HAND) if word == "-" else small_bytes(word))
    except PourlineError:
        raise
    except (ValueError, RecursionError) as failed:
        raise PourlineError(f"{word} is not JSON: {failed}", "parse") from failed
    if not isinstance(found, dict):
        raise PourlineError(f"{word}: a recipe is an object of objects", "parse")
    return found
