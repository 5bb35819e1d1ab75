"""In: a brew and its log. Out: its part of a page: the answer, figure, legend and pours; all else folds. All text is
escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._figures.legend import legend
from .._figures.svg import brew_figure
from .._text.pours import DASH, Cell, brief
from .._text.provenance import brew_provenance
from .._text.words import budget_rows, event_rows, name_of
from .cards import groups, numbers, scrolled, table, texts

if TYPE_CHECKING:
    from collections.abc import Iterable

    from .._pourline import Brew, Log

# Titles of parts, below the title of the page or of a brew.
PART, BREW_PART = '<h2 class="part">{}</h2>', "<h3>{}</h3>"
WIDTH, HEIGHT = 800.0, 500.0
OVERVIEW = (
    *("brew", "pours", "water, g", "time", "flow, g/s", "near its flow, %"),
    *("drawdown ends", "yield, %", "warnings"),
)


def brew_part(place: int, brew: Brew, log: Log | None, is_alone: bool) -> str:
    """Return the section of a brew; the only brew of a page has the page's title."""
    part = PART if is_alone else BREW_PART
    title = "" if is_alone else f"<h2>{escape(name_of(brew.meta))}</h2>"
    known = f'<p class="small">{escape(brew.meta._known)}</p>' if brew.meta._known else ""
    warnings = "".join(f'<p class="warning">{escape(line)}</p>' for line in brew._further)
    first = brief(brew)
    pours = scrolled(table(first.heads, first.rows, inline=False), "pours") if first.rows else ""
    figure = brew_figure(brew, WIDTH, HEIGHT, zero_s=brew.time_zero_s)
    return (
        f'<section class="brew" id="brew-{place}">{title}<p class="answer">{escape(brew.head)}</p>{known}{warnings}'
        f"{scrolled(figure, 'figure', 'figure')}{legend(brew)}{pours}{_folds(brew, part)}"
        f"{facts(brew_provenance(brew, log), part)}</section>"
    )


def _folds(brew: Brew, part: str) -> str:
    heads = ["kind", "on", "from, s", "to, s", "size, g", "samples", "action"]
    events = (
        scrolled(table(heads, texts(event_rows(brew)), inline=False), "events", "text")
        if brew.events
        else "<p>No repair was needed.</p>"
    )
    shares = ["input", "value", "adds to the sd of the yield, points", "share of its variance, %"]
    rows = budget_rows(brew)
    budget = scrolled(table(shares, texts(rows), inline=False), "inputs of the yield") if rows else ""
    totals = f"{part.format('The brew')}<dl>{numbers(brew._totals, inline=False)}</dl>"
    count = f" ({len(brew.events)} event{'' if len(brew.events) == 1 else 's'})" if brew.events else ""
    return (
        fold("All numbers with their sd", f"{groups(brew, part, inline=False)}{totals}")
        + fold("Uncertainty", f"{listed(brew._uncertainty)}{budget}")
        + fold(f"Samples and repairs{count}", f"{listed(brew._samples)}{events}")
    )


def overview(brews: list[Brew]) -> str:
    """Return one row per brew, each with a link to its section."""
    heads = "".join(f'<th scope="col"{" class=t" if head == "brew" else ""}>{head}</th>' for head in OVERVIEW)
    rows = "".join(f"<tr>{_row(place, brew)}</tr>" for place, brew in enumerate(brews, 1))
    return scrolled(f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>", "brews", "pourline-sorted")


def _row(place: int, brew: Brew) -> str:
    water, time, flow, near, drained, _, extracted = (Cell(text or DASH) for text in brew._in_brief)
    warned = Cell(str(len(brew.warnings)), "; ".join(brew.warnings))
    cells = [Cell(str(len(brew.pours))), water, time, flow, near, drained, extracted, warned]
    name = f'<td class="t"><a href="#brew-{place}">{escape(name_of(brew.meta))}</a></td>'
    return name + "".join(
        f'<td title="{escape(one.why)}">{escape(one.text)}</td>' if one.why else f"<td>{escape(one.text)}</td>"
        for one in cells
    )


def fold(title: str, inside: str) -> str:
    """Return a section that is closed at first."""
    return f"<details><summary>{escape(title)}</summary>{inside}</details>"


def facts(lines: Iterable[str], part: str = PART) -> str:
    """Return the provenance."""
    return f'<div class="digest small">{part.format("Provenance")}{listed(lines)}</div>'


def listed(lines: Iterable[str]) -> str:
    """Return a list of sentences."""
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"
