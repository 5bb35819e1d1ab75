"""In: a followed plan. Out: its rows as plain text, not escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import Estimate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from .._pourline import PlanResult, Undefined

PLAN_COLUMNS = (
    "start, s",
    "start deviation, s",
    "mass, g",
    "mass deviation, g",
    "flow, g/s",
    "flow deviation, g/s",
    "clearly outside",
)


def _text(number: Estimate | Undefined) -> str:
    return str(number) if isinstance(number, Estimate) else "-"


def _signed(deviation: Estimate | Undefined) -> str:
    above = isinstance(deviation, Estimate) and deviation.value > 0
    return f"{'+' if above else ''}{_text(deviation)}"


def plan_rows(followed: PlanResult) -> list[list[str]]:
    """Return one row per planned pour, in the order of the plan, then one row per pour that is not in the plan."""
    rows = []
    for place, row in enumerate(followed.pours, 1):
        judged = (
            ("start", row.start_within_tolerance),
            ("mass", row.mass_within_tolerance),
            ("flow", row.flow_within_tolerance),
        )
        numbers = (row.start_s, row.mass_g, row.flow_g_per_s)
        deviations = (row.start_deviation_s, row.mass_deviation_g, row.flow_deviation_g_per_s)
        pairs = zip(map(_text, numbers), map(_signed, deviations), strict=True)
        verdict = "missed" if row.pour is None else _outside(judged)
        rows.append([str(place), *(text for pair in pairs for text in pair), verdict])
    for one in followed.extra:
        rows.append(["-", _text(one.start_s), "-", _text(one.mass_g), "-", "-", "-", "not in the plan"])
    return rows


def _outside(judged: Sequence[tuple[str, str | None]]) -> str:
    """Return the quantities outside their tolerance; an undecided one has a question mark."""
    marks = {"no": "", "too near to tell": "?"}
    return ", ".join(f"{name}{marks[verdict]}" for name, verdict in judged if verdict in marks) or "-"
