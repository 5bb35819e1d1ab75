"""In: a followed plan. Out: its rows as plain text; whoever puts them on a page escapes them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import Estimate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from .._pourline import Followed, Undefined

PLAN_COLUMNS = ("start, s", "late by, s", "mass, g", "short by, g", "flow, g/s", "too fast by, g/s", "clearly outside")


def _told(number: Estimate | Undefined) -> str:
    return str(number) if isinstance(number, Estimate) else "-"


def plan_rows(followed: Followed) -> list[list[str]]:
    """Return a row a planned pour by its place in the plan, then a row a pour that is not in the plan."""
    rows = []
    for place, row in enumerate(followed.pours, 1):
        judged = (("start", row.start_kept), ("mass", row.mass_kept), ("flow", row.flow_kept))
        numbers = (row.start_s, row.late_by_s, row.mass_g, row.short_by_g, row.flow_g_per_s, row.too_fast_by_g_per_s)
        verdict = "missed" if row.pour is None else _outside(judged)
        rows.append([str(place), *map(_told, numbers), verdict])
    for one in followed.extra:
        rows.append(["-", _told(one.start_s), "-", _told(one.mass_g), "-", "-", "-", "not in the plan"])
    return rows


def _outside(judged: Sequence[tuple[str, str | None]]) -> str:
    """Return what is outside its tolerance; what is too near to tell has a question mark."""
    marks = {"no": "", "too near to tell": "?"}
    return ", ".join(f"{name}{marks[kept]}" for name, kept in judged if kept in marks) or "-"
