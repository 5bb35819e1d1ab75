"""Every column has its description, and the page of the guide says the same."""

from __future__ import annotations

from pathlib import Path

import pytest

import pourline
from pourline._descriptions import page

PAGE = Path(__file__).parents[2] / "docs" / "columns.md"


def test_every_column_of_a_brew_and_a_study_is_described_with_its_unit(brew: pourline.Brew) -> None:
    for table in (brew.table(), pourline.gather([brew]).table()):
        for name, unit in table.units.items():
            found = pourline.describe(name)
            assert found.unit == unit, name
            assert found.meaning
            assert found.valid_when


def test_every_number_of_a_brew_and_of_a_pour_is_described(brew: pourline.Brew) -> None:
    assert brew.agitation is not None
    wholes = (brew.extraction, brew.bed, brew.measures, brew.agitation)
    for part in (*wholes, brew.pours[0], brew.bed.pours[0], brew.measures.pours[0], brew.agitation.pours[0]):
        names = [name for name in dir(part) if not name.startswith("_")]
        numbers = [n for n in names if isinstance(getattr(part, n), pourline.Estimate | pourline.Undefined)]
        known = set(pourline.descriptions()["name"].tolist())
        assert [name for name in numbers if name not in known and name not in NOT_COLUMNS] == []


# They hold many numbers, and where they are undefined they say why in their own place.
NOT_COLUMNS = {"curve", "law", "stream"}


def test_the_page_is_what_is_described() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run make columns"


def test_a_name_that_does_not_exist_is_answered_with_the_nearest() -> None:
    with pytest.raises(pourline.PourlineError, match="the nearest is 'steadiness_cv'"):
        pourline.describe("steadyness_cv")
    with pytest.raises(pourline.PourlineError, match="no column 'brew_sd_g'"):
        pourline.describe("brew_sd_g")


def test_a_description_is_shown_as_text_and_in_a_notebook() -> None:
    found = pourline.describe("energy_j")
    assert str(found).startswith("energy_j\n  meaning: energy that the water brings\n  unit: J\n")
    assert "<dt>reference</dt><dd>balance of energy</dd>" in found._repr_html_()
