"""In: a brew. Out: its pours in groups of columns as plain text, with the reasons for missing numbers below each group.

A column without any number is left out, and so is a group without a column; a note gives the reason.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from .._pourline import Estimate, Undefined

if TYPE_CHECKING:
    from .._pourline import Brew, Pour, PourMetrics

DASH = "–"
NOT_RESOLVED = "not distinguishable from 0, < is its upper bound"
# Longer endings first: `_g_per_s` before `_s`.
UNITS = {
    "_g2_per_s": "g²/s",
    "_g_per_s2": "g/s²",
    "_g_per_s": "g/s",
    "_g_per_g": "g/g",
    "_j_per_g": "J/g",
    "_m_per_s": "m/s",
    "_pct": "%",
    "_hz": "Hz",
    "_m2": "m²",
    "_mm": "mm",
    "_g": "g",
    "_s": "s",
    "_j": "J",
    "_w": "W",
    "_n": "N",
    "_m": "m",
}
EDGES = ("start_s", "end_s")
POUR = ("start_s", "end_s", "duration_s", "mass_g", "mean_flow_g_per_s")
EVENNESS = ("plateau_flow_g_per_s", "peak_flow_g_per_s", "time_near_plateau_pct", "flow_cv", "drift_g_per_s2")
RHYTHM = ("pulsing_hz", "pulsing_amplitude_pct", "smoothness", "rise_s", "fall_s", "pauses")
BED = (
    "holdup_at_start_g",
    "drained_fraction_before",
    "drawdown_s",
    "conductance_g_per_s",
    "conductance_ratio",
    "permeability_m2",
)
BY_FLOW = ("flow_impulse_g2_per_s", "peak_to_mean_flow", "time_above_s", "swirls", "lifts", "knocks", "splashes")
BY_STREAM = ("fall_height_m", "speed_m_per_s", "width_mm", "reynolds", "weber", "arrival")
BY_ENERGY = ("force_n", "power_w", "energy_j", "energy_j_per_g", "mixing_time_s")
# Omitted if undefined: few brews have the inputs that it needs.
SELDOM = {"permeability_m2"}
# Characters in a line of a terminal.
WIDTH = 80


class Cell(NamedTuple):
    """A number as text, and the reason if it is missing."""

    text: str
    why: str = ""


class Group(NamedTuple):
    """Columns that belong together: one cell per pour and head, and the notes below them."""

    title: str
    heads: list[str]
    rows: list[list[Cell]]
    notes: list[str]


def cell(number: Estimate | Undefined, unit: str = "") -> Cell:
    """Return a number with its sd and unit, or a dash and the reason why it is undefined."""
    if isinstance(number, Undefined):
        return Cell(DASH, number.reason)
    return Cell(f"{number if number.sd else format(number.value, '.4g')}{unit}")


def head(name: str) -> str:
    """Return the name of a column in words, and its unit.

    >>> head("plateau_flow_g_per_s"), head("flow_cv"), head("drained_fraction_before")
    ('plateau flow, g/s', 'flow CV', 'drained fraction before')
    """
    ending = next((ending for ending in UNITS if name.endswith(ending)), "")
    words = name.removesuffix(ending).replace("_", " ")
    for word in ("reynolds", "weber"):
        words = words.replace(word, word.capitalize())
    words = words.replace("flow cv", "flow CV")
    return f"{words}, {UNITS[ending]}" if UNITS.get(ending) else words


def cell_of(row: Any, name: str) -> Cell:
    """Return one number of one pour; an unresolved flow CV is replaced by its upper bound."""
    number = getattr(row if hasattr(row, name) else row.stream, name)
    if not isinstance(number, (Estimate, Undefined)):
        return Cell(str(number).replace("_", " "))
    if name == "flow_cv" and not row.flow_cv_resolved and isinstance(row.flow_cv_upper, Estimate):
        return Cell(f"< {row.flow_cv_upper.value:.3f}", NOT_RESOLVED)
    return cell(number)


def since_start(at_s: Estimate, brew: Brew) -> Estimate:
    """Return an instant of the log as pages and texts have it: counted from the first start."""
    return Estimate(at_s.value - brew.time_zero_s, at_s.sd)


def groups_of(brew: Brew) -> list[Group]:
    """Return the groups of pours, pouring, agitation (if analysed) and bed. Instants count from the first start."""
    found = [
        _group(
            "Pours",
            brew.pours,
            POUR,
            {name: [cell(since_start(getattr(pour, name), brew)) for pour in brew.pours] for name in EDGES},
        ),
        _group("Pouring: evenness", brew.metrics.pours, EVENNESS),
        _group("Pouring: rhythm", brew.metrics.pours, RHYTHM),
    ]
    rows = getattr(getattr(brew, "agitation", None), "pours", [])
    found += [
        _group("Agitation by the flow alone: ordinal proxies", rows, BY_FLOW),
        _group("Agitation, the stream at the bed: ordinal proxies", rows, BY_STREAM),
        _group("Agitation, what the stream brings: ordinal proxies", rows, BY_ENERGY),
        _group("The bed", brew.bed.pours, BED),
    ]
    return [group for group in found if group.rows or group.notes]


def brief(brew: Brew) -> Group:
    """Return the five numbers per pour that the head is followed by; each missing one carries its reason."""
    rows = [[Cell(*one) for one in row] for row in brew._brief]
    return Group("Pours in brief", brew._brief_heads if rows else [], rows, [])


def wrapped(text: str, indent: str = "") -> list[str]:
    """Return the text in lines that fit a terminal."""
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=f"{indent}    ") or [""]


def full_lines(brew: Brew) -> list[str]:
    """Return all numbers of a brew with their sd, in lines that fit a terminal."""
    lines = []
    for group in groups_of(brew):
        lines += ["", group.title, *_columns(group)]
        lines += [line for note in group.notes for line in wrapped(f"{DASH} {note}", "  ")]
    lines += ["", "The brew"]
    width = max(len(name) for name, _, _ in brew._totals)
    for name, text, why in brew._totals:
        lines += wrapped(f"{name:<{width}}  {text}{f' ({why})' if why else ''}", "  ")
    lines += ["", "Uncertainty", *(line for text in brew._uncertainty for line in wrapped(text, "  "))]
    return lines


def _columns(group: Group) -> list[str]:
    """Return the columns of a group, as many side by side as fit; the number of the pour leads each block."""
    columns = [[head, *(row[i].text for row in group.rows)] for i, head in enumerate(group.heads)]
    widths = [max(map(len, column)) + 2 for column in columns]
    blocks: list[list[int]] = []
    left = 0
    for i in range(1, len(columns)):
        if not blocks or widths[i] > left:
            blocks.append([0])
            left = WIDTH - widths[0]
        blocks[-1].append(i)
        left -= widths[i]
    return [
        "".join(f"{columns[i][place]:>{widths[i]}}" for i in block)
        for block in blocks
        for place in range(len(group.rows) + 1)
    ]


def _group(
    title: str, rows: Sequence[Any], names: Iterable[str], made: Mapping[str, list[Cell]] | None = None
) -> Group:
    made = made or {}
    columns = {head(name): made.get(name) or [cell_of(row, name) for row in rows] for name in names} if rows else {}
    for word in map(head, SELDOM):
        if all(one.why for one in columns.get(word, [])):
            columns.pop(word, None)
    shown = [word for word, cells in columns.items() if any(c.text != DASH for c in cells)]
    table = [[Cell(str(place)), *(columns[word][place - 1] for word in shown)] for place in range(1, len(rows) + 1)]
    return Group(title, ["pour", *shown], table if shown else [], notes(columns))


def notes(columns: dict[str, list[Cell]]) -> list[str]:
    """Return the reasons for missing numbers; columns and pours with the same reason share a sentence."""
    places: dict[tuple[str, str], list[int]] = {}
    for word, cells in columns.items():
        for place, one in enumerate(cells, 1):
            if one.why:
                found = places.setdefault((one.why.split(":")[0], word.split(",")[0]), [])
                # Two columns may differ only in their unit.
                if place not in found:
                    found.append(place)
    words: dict[tuple[str, tuple[int, ...]], list[str]] = {}
    for (why, word), found in places.items():
        words.setdefault((why, tuple(found)), []).append(word)
    count = max(map(len, columns.values()), default=0)
    return [
        f"{', '.join(some)}{'' if len(found) == count else _pours(found)}: {why}"
        for (why, found), some in words.items()
    ]


def _pours(places: Sequence[int]) -> str:
    return f" of pour{'s' if len(places) > 1 else ''} {', '.join(map(str, places))}"


def plateau_span(pour: Pour) -> tuple[float, float]:
    """Return the instants between which the plateau of a pour is drawn: its half-edges, or its edges without them."""
    rise, fall = pour.half_rise_s, pour.half_fall_s
    return (
        rise.value if isinstance(rise, Estimate) else pour.start_s.value,
        fall.value if isinstance(fall, Estimate) else pour.end_s.value,
    )


def plateau_lines(row: PourMetrics) -> list[str]:
    """Return the labels of a pour in a figure: plateau flow, flow CV or its upper bound, pulsing frequency."""
    flow, beat = row.plateau_flow_g_per_s, row.pulsing_hz
    cv = cell_of(row, "flow_cv").text
    if isinstance(row.flow_cv, Estimate) and row.flow_cv_resolved:
        cv = f"{row.flow_cv.value:.3f}"
    return [
        *([f"{flow.value:.2f} g/s"] if isinstance(flow, Estimate) else []),
        *([f"CV {cv}"] if cv != DASH else []),
        *([f"{beat.value:.2f} Hz"] if isinstance(beat, Estimate) else []),
    ]
