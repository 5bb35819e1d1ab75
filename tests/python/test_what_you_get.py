"""README's table names every column of `brew.table()`, in its order and with its unit, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pourline

README = Path(__file__).parents[2] / "README.md"
SECTION = "## What you get\n"


def told() -> tuple[list[str], dict[str, str]]:
    """Return the columns that the table names, in order, and their units."""
    _, _, after = README.read_text(encoding="utf-8").partition(SECTION)
    rows = re.findall(r"^\| (`.*?) \| ?(.*?) ?\| (.+) \|$", after.partition("\n## ")[0], re.MULTILINE)
    names: list[str] = []
    units: dict[str, str] = {}
    for columns, unit, meaning in rows:
        some = re.findall(r"`(\w+)`", columns)
        # One unit for all of a row, or one each.
        each = [part.strip() for part in unit.split(",")] if "," in unit else [unit] * len(some)
        assert len(each) == len(some), columns
        assert len(meaning) > 3, columns
        names += some
        units.update(zip(some, each, strict=True))
    return names, units


def without_sd(columns: list[str]) -> list[str]:
    """Leave out the sd of the columns before them: `mass_sd_g` after `mass_g`, `smoothness_sd` after `smoothness`."""
    kept: list[str] = []
    for column in columns:
        if not (kept and re.sub(r"_sd(?=_|$)", "", column) == kept[-1] and column != kept[-1]):
            kept.append(column)
    return kept


def test_the_table_names_every_column_in_order_with_its_unit(brew: pourline.Brew) -> None:
    table = brew.table()
    names, units = told()
    columns = without_sd(table.columns)
    assert not any("_sd" in column for column in columns)
    assert names == columns
    assert units == {column: table.units[column] for column in columns}


def test_every_sd_has_the_unit_of_what_it_belongs_to(brew: pourline.Brew) -> None:
    table = brew.table()
    for column in table.columns:
        if (of := re.sub(r"_sd(?=_|$)", "", column)) != column:
            assert table.units[column] == table.units[of]
