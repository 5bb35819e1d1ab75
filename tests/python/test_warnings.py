"""Warnings on a log as a whole are part of every display of a brew."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

import numpy as np
import pytest

import pourline
from pourline._cli.made import log_text
from pourline.cli import main

if TYPE_CHECKING:
    from pathlib import Path

WORDS = "the two columns look exchanged"


def exchanged() -> pourline.Log:
    """Return a log whose columns are exchanged."""
    log = pourline.datasets.load("fernspout-ada-01")
    return pourline.Log(log.time_s, log.beverage_g, log.water_g, name="exchanged", dose_g=15.0)


def test_the_bundled_brews_raise_no_caution() -> None:
    for name in pourline.datasets.names():
        assert pourline.analyze(pourline.datasets.load(name)).warnings == [], name


def test_card_and_report_tell_it(tmp_path: Path) -> None:
    brew = pourline.analyze(exchanged())
    assert WORDS in brew.warnings[0].lower()
    assert WORDS in brew._repr_html_().lower()
    page = tmp_path / "page.html"
    pourline.report([brew], page)
    assert WORDS in page.read_text(encoding="utf-8").lower()


def test_it_is_kept_in_json_and_absent_from_what_earlier_versions_wrote() -> None:
    brew = pourline.analyze(exchanged())
    assert pourline.Brew.from_json(brew.to_json()).warnings == brew.warnings
    without = brew.to_json().replace('"warnings":["the two', '"left_out":["the two', 1)
    assert pourline.Brew.from_json(without).warnings == []


def issued(call: object) -> list[str]:
    """Return the texts of the `PourlineWarning` that a call issues."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        call()  # type: ignore[operator]
    assert {one.category for one in caught} <= {pourline.PourlineWarning}
    assert {one.filename for one in caught} <= {__file__}
    return [str(one.message) for one in caught]


def test_analyze_issues_one_warning_per_log_with_its_name_and_first_words() -> None:
    expected = f"exchanged: {WORDS} (more in brew.warnings)"
    assert issued(lambda: pourline.analyze(exchanged())) == [expected]
    assert issued(lambda: pourline.analyze_all(exchanged())) == [expected]
    assert issued(lambda: pourline.analyze(pourline.datasets.load("fernspout-ada-01"))) == []
    assert repr(pourline.analyze(exchanged())).endswith("; 1 warning>")


def test_many_logs_issue_theirs_in_order_and_those_without_a_name_have_a_number() -> None:
    log, wrong = pourline.datasets.load("fernspout-ada-01"), exchanged()
    nameless = pourline.Log(wrong.time_s, wrong.water_g, wrong.beverage_g)
    logs: list[pourline.Log | str] = [log, exchanged(), "no-such-file.csv", nameless]
    for call in (lambda: pourline.analyze_many(logs), lambda: list(pourline.analyze_each(logs))):
        assert issued(call) == [f"{name}: {WORDS} (more in brew.warnings)" for name in ("exchanged", "log 4")]


def test_several_warnings_of_a_log_are_one() -> None:
    """Water of 20 g for a dose of 15 g, and a pause longer than the log beside it: two warnings of one log."""
    time_s = np.arange(0, 30, 0.1)
    later_s = time_s + np.where(time_s < 20, 0, 40)
    log = pourline.Log(later_s, np.interp(time_s, [5, 10], [0, 20]), name="paused", dose_g=15.0)
    (text,) = issued(lambda: pourline.analyze(log))
    brew = pourline.analyze(log)
    first, second = (warning.partition(": ")[0] for warning in brew.warnings)
    assert first.startswith("a pause of 40.1 s after row 200")
    assert second.endswith(" g of water is too little for 15 g of coffee")
    assert text == f"paused: {first}; {second} (more in brew.warnings)"


def test_a_filter_turns_it_into_an_error() -> None:
    with warnings.catch_warnings():
        warnings.filterwarnings("error", category=pourline.PourlineWarning)
        with pytest.raises(pourline.PourlineWarning, match=WORDS):
            pourline.analyze(exchanged())
        with pytest.raises(pourline.PourlineWarning, match=WORDS):
            pourline.analyze_many([exchanged()])
        assert pourline.analyze(pourline.datasets.load("fernspout-ada-01")).warnings == []
    assert issubclass(pourline.PourlineWarning, UserWarning)


def test_a_name_from_a_file_cannot_write_to_the_terminal() -> None:
    log = exchanged()
    odd = pourline.Log(log.time_s, log.water_g, log.beverage_g, name="\x1b[31m\0red\n")
    (text,) = issued(lambda: pourline.analyze(odd))
    assert text.isprintable()


def test_the_command_line_says_it_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "exchanged.csv").write_text(log_text(exchanged()))
    with warnings.catch_warnings():
        warnings.simplefilter("always")
        assert main(["analyze", str(tmp_path / "exchanged.csv")]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert " ".join(told.out.lower().split()).count(WORDS) == 1
