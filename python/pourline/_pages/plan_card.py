"""In: a followed plan. Out: its card for a notebook: score, main deviation, one row per pour. All text is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._text.plan import NOTE, PLAN_COLUMNS, plan_rows
from .._text.words import name_of
from .cards import BOX, scrolled, table, texts

if TYPE_CHECKING:
    from .._pourline import PlanResult


def plan_card(followed: PlanResult) -> str:
    """Return the card of a followed plan."""
    title = f"{name_of(followed.meta)} against {followed.plan or 'the plan'}"
    parts = [
        f"<div><strong>{escape(title)}</strong></div>",
        f"<div style='opacity:.75;font-size:.85em'>{escape(followed.meta._known)}</div>",
        f"<div>{escape(followed.head)}</div>",
        scrolled(table(PLAN_COLUMNS, texts(plan_rows(followed))), "pours"),
        f"<div style='opacity:.75;font-size:.85em'>{escape(NOTE)}</div>",
    ]
    return f'<div style="{BOX}">{"".join(parts)}</div>'
