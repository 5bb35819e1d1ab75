"""Keywords and dicts of options are typed: a type checker finds a misspelt one before the program runs."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import pourline

ROOT = Path(__file__).parents[2]
PARTS = (ROOT / "python" / "pourline" / "_pourline.pyi").read_text(encoding="utf-8")
RIGHT = """
import pourline

log = pourline.Log([0.0, 0.1, 0.2], [0.0, 0.0, 0.0], dose_g=15, kettle="Fernspout", factors={"day": "2"})
options = pourline.Options(condition={"scale_lag_s": 0.25}, segment={"mass_g": 5})
pourline.analyze(log, {"segment": {"mass_g": 5}, "bed": {"pour_c": [93.0]}})
pourline.analyze(log, pourline.Options(**options.to_dict()))
pourline.condition(log, gap_s=1)
"""
WRONG = {
    'pourline.Log([0.0], [0.0], kettel="Fernspout")': "kettle",
    'pourline.Options(segment={"mas_g": 5})': "_Segment",
    "pourline.Options(segments={})": "segment",
    'pourline.analyze(log, {"segment": {"mas_g": 5}})': "_Stages",
    "pourline.condition(log, gaps_s=1)": "gap_s",
    'pourline.read("brew.csv", dose=15)': "dose_g",
    'pourline.extraction(log.meta, 240.0, 200.0, convention="soaking")': "percolation",
    'pourline.profile([], axis="volume")': "water",
}


@pytest.mark.slow
def test_mypy_finds_a_misspelt_key_and_takes_the_right_ones(tmp_path: Path) -> None:
    file = tmp_path / "tried.py"
    file.write_text(RIGHT + "".join(f"{line}\n" for line in WRONG), encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path), "--no-error-summary", str(file)]
    config = tmp_path / "mypy.ini"
    config.write_text("[mypy]\nfollow_untyped_imports = True\n", encoding="utf-8")
    done = subprocess.run(
        [*command, "--config-file", str(config)],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=ROOT / "python",
        timeout=400,
    )
    found: dict[int, str] = {}
    for line, text in re.findall(r"tried\.py:(\d+): error: (.*)", done.stdout):
        found[int(line)] = found.get(int(line), "") + text
    first = RIGHT.count("\n") + 1
    assert sorted(found) == list(range(first, first + len(WRONG))), done.stdout + done.stderr
    for (call, expected), text in zip(WRONG.items(), (found[line] for line in sorted(found)), strict=True):
        assert expected in text, (call, text)


def keys(name: str) -> set[str]:
    """Return the keys of a typed dict of the stub."""
    body = re.search(
        rf'^{name} = TypedDict\(\s*"{name}",\s*\{{(.*?)\}},?\s*total=False', PARTS, re.MULTILINE | re.DOTALL
    )
    assert body is not None, name
    return set(re.findall(r'"(\w+)": ', body[1]))


def test_the_typed_keys_are_those_that_the_library_takes() -> None:
    stages: dict[str, Any] = {**pourline.Options().to_dict()}
    assert keys("_Stages") == set(stages)
    for stage, options in stages.items():
        assert keys(f"_{stage.capitalize()}") == set(options), stage
    log = pourline.Log([0, 1, 2], [0, 1, 2])
    functions: dict[str, Any] = {
        "_Meta": lambda **given: pourline.Meta(**given),
        "_Calibrate": lambda **given: pourline.calibrate(log, **given),
        "_Profile": lambda **given: pourline.profile([pourline.analyze(log)] * 2, **given),
        "_Contrast": lambda **given: pourline.contrast([1, 2, 3, 4], list("aabb"), **given),
    }
    for name, function in functions.items():
        # The message lists all names.
        with pytest.raises(pourline.PourlineError, match="all are: ") as refused:
            function(no_such_name=1)
        assert keys(name) == set(str(refused.value).split("all are: ")[1].split(", ")), name
