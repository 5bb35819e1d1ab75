"""In: the schedule of a study. Out: its sheet to print, a table per day with room to write. All text is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._text.schedule import sheets_of
from .cards import scrolled, table, texts

if TYPE_CHECKING:
    from .._pourline import Schedule

HOW = "Brew in this order, and name each log as its row says. Then: pourline compare *.csv --factors design.csv --by "


def schedule_part(schedule: Schedule) -> str:
    """Return the sheet as HTML."""
    blocks = "".join(f" --block {name}" for name in schedule.blocks)
    first = next(name for name in schedule.factors if name != "person")
    parts = [
        f"<p>{escape(schedule.says)}</p>",
        f'<p class="faint">{escape(HOW + first + blocks)}</p>',
        f'<p class="faint">Seed {schedule.seed}.</p>',
    ]
    for day, (heads, rows) in sheets_of(schedule).items():
        parts.append(f'<h2 class="part">Day {day}</h2>')
        parts.append(scrolled(table(heads, texts(rows), inline=False), f"day {day}"))
    return "".join(parts)
