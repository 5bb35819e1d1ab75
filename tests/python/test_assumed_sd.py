"""An sd that nobody stated is marked where it decides, and not in the head.

The yield is strength times beverage over dose. With a strength of 1.40 % and its assumed sd of 0.03 points, the strength
has 99 % of the yield's variance: (0.03 / 1.40)^2 against (0.029 / 7.5)^2 of the dose and less of the beverage.
"""

from __future__ import annotations

import re

import pourline
from pourline._pages.report import page
from pourline._text.pours import full_lines

MARKS = ("% (sd assumed)", "This sd is assumed: state tds_sd_pct.")


def told(brew: pourline.Brew) -> list[str]:
    """Return the page and the full text, each in one line."""
    return [re.sub(r"\s+", " ", text) for text in (page(brew), " ".join(full_lines(brew)))]


def with_meta(log: pourline.Log, **meta: float) -> pourline.Brew:
    return pourline.analyze(pourline.Log(log.time_s, log.water_g, log.beverage_g, **meta))  # type: ignore[arg-type]


def test_an_assumed_sd_that_decides_is_marked(brew: pourline.Brew) -> None:
    assert brew.extraction.assumed_sd == ["tds_pct", "dose_g"]
    for face in told(brew):
        assert [mark for mark in MARKS if mark not in face] == []
    assert "1.400 ± 0.030 (assumed)</td>" in page(brew)
    assert "assumed" not in brew.head
    kept = pourline.Brew.from_json(brew.to_json())
    assert kept.extraction.assumed_sd == brew.extraction.assumed_sd


def test_a_stated_sd_is_not_marked(log: pourline.Log) -> None:
    stated = with_meta(log, dose_g=7.5, dose_sd_g=0.05, tds_pct=1.4, tds_sd_pct=0.03)
    assert stated.extraction.assumed_sd == []
    for face in told(stated):
        assert "assumed" not in face


def test_an_assumed_sd_that_does_not_decide_is_marked_in_its_own_row_alone(log: pourline.Log) -> None:
    brew = with_meta(log, dose_g=7.5, tds_pct=1.4, tds_sd_pct=0.05)
    assert brew.extraction.assumed_sd == ["dose_g"]
    for face in told(brew):
        assert [mark for mark in MARKS if mark in face] == []
    assert "7.500 ± 0.029 (assumed)</td>" in page(brew)


def test_a_stated_retention_with_an_assumed_sd_is_marked(log: pourline.Log) -> None:
    options = pourline.Options(extraction={"retention_g_per_g": 2.0})
    alone = pourline.Log(log.time_s, log.water_g, dose_g=7.5, tds_pct=1.4, tds_sd_pct=0.005)
    brew = pourline.analyze(alone, options)
    assert "retention_g_per_g" in brew.extraction.assumed_sd
    for face in told(brew):
        assert "g (not weighed, sd assumed)" in face
        assert "state retention_sd_g_per_g" in face
