"""The logger `pourline`: stages with their seconds, one record per brew, and warnings."""

from __future__ import annotations

import logging
import subprocess
import sys

import numpy as np
import pytest

import pourline

STAGES = ["condition", "segment", "flow", "metrics", "agitation", "bed", "extraction"]


def falling() -> pourline.Log:
    time_s = np.arange(0, 60, 0.1)
    return pourline.Log(time_s, np.interp(time_s, [10, 40], [200, 0]), name="upside\x1bdown")


def test_each_stage_is_a_record_and_their_sum_is_that_of_the_brew(
    log: pourline.Log, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.DEBUG, "pourline"):
        brew = pourline.analyze(log)
    stages = [record for record in caplog.records if record.levelno == logging.DEBUG]
    (whole,) = (record for record in caplog.records if record.levelno == logging.INFO)
    assert [record.args[1] for record in stages if isinstance(record.args, tuple)] == STAGES
    assert isinstance(whole.args, tuple)
    _, pours, seconds = whole.args
    assert pours == len(brew)
    parts = [record.args[2] for record in stages if isinstance(record.args, tuple)]
    assert all(isinstance(part, float) and part >= 0 for part in parts)
    assert seconds == pytest.approx(sum(float(str(part)) for part in parts))


def test_warnings_are_records_without_control_characters(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING, "pourline"):
        (brew,) = pourline.analyze_many([falling()], progress=False)
    assert isinstance(brew, pourline.Brew)
    assert brew.warnings
    assert [record.getMessage() for record in caplog.records] == [f"upside down: {text}" for text in brew.warnings]


def test_a_program_that_asks_for_no_records_prints_none() -> None:
    code = (
        "import logging, warnings, pourline\n"
        "warnings.simplefilter('ignore')\n"
        "pourline.analyze(pourline.Log([0.1 * i for i in range(600)], [200 - 0.3 * i for i in range(600)]))\n"
        "assert logging.getLogger('pourline').handlers\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True)
    assert (done.stdout, done.stderr) == ("", "")
