"""In: the schedule of a study. Out: its table as CSV text, and the rows of the sheet to print."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .._pourline import Schedule

# Columns of the sheet to fill in by hand.
BY_HAND = ("started at", "done", "note")


def csv_of(schedule: Schedule) -> str:
    """Return the table as CSV text: a row per brew, joined to the logs by the column `file`.

    >>> import pourline
    >>> csv_of(pourline.design({"kettle": ["thin", "wide"]}, repeats=1, seed=3)).splitlines()[0]
    'file,planned_order,day,kettle'
    """
    table = schedule.table().to_dict()
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(table)
    writer.writerows(zip(*table.values(), strict=True))
    return text.getvalue()


def sheets_of(schedule: Schedule) -> dict[int, tuple[list[str], list[list[str]]]]:
    """Return the heads and rows of the sheet of each day.

    >>> import pourline
    >>> heads, rows = sheets_of(pourline.design({"kettle": 2}, repeats=1, days=2))[2]
    >>> heads, len(rows)
    (['brew', 'kettle', 'file', 'started at', 'done', 'note'], 2)
    """
    table = schedule.table().to_dict()
    factors = list(schedule.factors)
    heads = ["brew", *factors, "file", *BY_HAND]
    sheets: dict[int, tuple[list[str], list[list[str]]]] = {}
    columns = (table["planned_order"], *(table[name] for name in factors), table["file"])
    for day, *cells in zip(table["day"], *columns, strict=True):
        sheet = sheets.setdefault(int(day), (heads, []))
        sheet[1].append([*map(str, cells), "", "", ""])
    return sheets
