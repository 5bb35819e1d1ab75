"""README's table has every column of `brew.table()`, in its order and with unit and meaning as described, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pourline
from pourline._descriptions import rows

README = Path(__file__).parents[2] / "README.md"
SECTION = "## What you get\n"


def without_sd(columns: list[str]) -> list[str]:
    """Leave out the sd of the columns before them: `mass_sd_g` after `mass_g`, `smoothness_sd` after `smoothness`."""
    kept: list[str] = []
    for column in columns:
        if not (kept and re.sub(r"_sd(?=_|$)", "", column) == kept[-1] and column != kept[-1]):
            kept.append(column)
    return kept


def test_the_table_has_every_column_in_order_as_it_is_described(brew: pourline.Brew) -> None:
    columns = without_sd(brew.table().columns)
    assert not any("_sd" in column for column in columns)
    _, _, after = README.read_text(encoding="utf-8").partition(SECTION)
    (table, *_) = re.findall(r"^\| column .*?\n(?=\n)", after, re.MULTILINE | re.DOTALL)
    assert table == rows(columns), "run make columns"


def test_every_sd_has_the_unit_of_what_it_belongs_to(brew: pourline.Brew) -> None:
    table = brew.table()
    for column in table.columns:
        if (of := re.sub(r"_sd(?=_|$)", "", column)) != column:
            assert table.units[column] == table.units[of]
