"""The page of columns has every column of `brew.table(all=True)`, and an sd has the unit of what it belongs to."""

from __future__ import annotations

import re
from pathlib import Path

import pourline

PAGE = Path(__file__).parents[2] / "docs" / "columns.md"


def without_sd(columns: list[str]) -> list[str]:
    """Leave out the sd of the columns before them: `mass_sd_g` after `mass_g`, `smoothness_sd` after `smoothness`."""
    kept: list[str] = []
    for column in columns:
        if not (kept and re.sub(r"_sd(?=_|$)", "", column) == kept[-1] and column != kept[-1]):
            kept.append(column)
    return kept


def test_the_page_of_columns_has_every_column_with_its_meaning(brew: pourline.Brew) -> None:
    columns = without_sd(brew.table(all=True).columns)
    assert not any("_sd" in column for column in columns)
    page = PAGE.read_text(encoding="utf-8")
    for column in columns:
        if column not in brew.meta.factors:
            assert re.search(rf"^#+ {column}(?: \(.*\))?\n\n\S", page, re.MULTILINE), column


def test_every_sd_has_the_unit_of_what_it_belongs_to(brew: pourline.Brew) -> None:
    table = brew.table(all=True)
    for column in table.columns:
        if (of := re.sub(r"_sd(?=_|$)", "", column)) != column:
            assert table.units[column] == table.units[of]
