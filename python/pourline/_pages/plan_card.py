"""In: a followed plan. Out: its card for a notebook: score, main deviation, one row per pour. All text is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._text.plan import PLAN_COLUMNS, plan_rows
from .._text.words import name_of
from .cards import BOX, scrolled, table, texts

if TYPE_CHECKING:
    from .._pourline import PlanResult

# Only the deviations, so that the card is no wider than others; the table has the rest.
SHOWN = (0, 2, 4, 6, 7)


def plan_card(followed: PlanResult) -> str:
    """Return the card of a followed plan."""
    title = f"{name_of(followed.meta)} against {followed.plan or 'the plan'}"
    heads, rows = ("pour", *PLAN_COLUMNS), plan_rows(followed)
    parts = [
        f"<div><strong>{escape(title)}</strong></div>",
        f"<div style='opacity:.75;font-size:.85em'>{escape(followed.meta._known)}</div>",
        f"<div>{escape(followed.head)}</div>",
        scrolled(
            table([heads[place] for place in SHOWN], texts([row[place] for place in SHOWN] for row in rows)), "pours"
        ),
    ]
    return f'<div style="{BOX}">{"".join(parts)}</div>'
