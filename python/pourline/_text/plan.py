"""In: a followed plan. Out: its rows as plain text, not escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import Estimate

if TYPE_CHECKING:
    from .._pourline import PlanResult, Undefined

PLAN_COLUMNS = (
    "pour",
    "start, s",
    "late",
    "water, g",
    "over",
    "flow, g/s",
    "fast",
    "steady, %",
    "lost",
)
MARKS = {"no": "*", "too near to tell": "?"}
NOTE = "*: outside its tolerance; ?: too near to decide; -: early, short or slow"


def plan_rows(followed: PlanResult) -> list[list[str]]:
    """Return one row per planned pour, in the order of the plan, then one row per pour that is not in the plan."""
    rows = []
    for place, row in enumerate(followed.pours, 1):
        lost = f"{row.points_lost:.0f}" if row.points_lost >= 0.5 else ""
        if row.pour is None:
            rows.append([str(place), "missed", *[""] * 6, lost])
            continue
        steady = _number(row.time_near_plateau_pct, 0) + MARKS.get(row.time_near_plateau_within_tolerance or "", "")
        rows.append(
            [
                str(place),
                _number(row.start_s),
                _deviation(row.start_deviation_s, row.start_within_tolerance),
                _number(row.mass_g),
                _deviation(row.mass_deviation_g, row.mass_within_tolerance),
                _number(row.flow_g_per_s),
                _deviation(row.flow_deviation_g_per_s, row.flow_within_tolerance),
                steady,
                lost,
            ]
        )
    for one in followed.extra:
        rows.append(["-", _number(one.start_s), "", _number(one.mass_g), *[""] * 4, "extra"])
    return rows


def plan_lines(followed: PlanResult) -> list[str]:
    """Return the rows as lines that fit a terminal, with their heads, and the marks if there are any."""
    rows = [list(PLAN_COLUMNS), *plan_rows(followed)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    is_marked = any(cell.endswith(("*", "?")) for row in rows for cell in row)
    return ["  " + line.rstrip() for line in lines] + (["  " + NOTE] if is_marked else [])


def _number(number: Estimate | Undefined, digits: int = 1) -> str:
    return f"{number.value:.{digits}f}" if isinstance(number, Estimate) else ""


def _deviation(deviation: Estimate | Undefined, within: str | None) -> str:
    return f"{deviation.value:+.1f}{MARKS.get(within or '', '')}" if isinstance(deviation, Estimate) else ""
