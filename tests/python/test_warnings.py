"""Warnings on a log as a whole are part of every display of a brew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pourline

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
