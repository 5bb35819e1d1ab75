"""In: a log or a brew. Out: its card for a notebook: figure, pours with their sd, the brew, events. All text is
escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._figures.pointing import script
from .._figures.svg import brew_figure, log_figure
from .._text.pours import DASH, Cell, brief, groups_of
from .._text.words import name_of, word_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from .._pourline import Brew, Log

EVENTS_SHOWN = 6
BOX = "font-family:system-ui,sans-serif;max-width:840px;line-height:1.45"
SMALL = "opacity:.75;font-size:.8em"
TITLE = '<div style="font-weight:600;margin-top:.6em">{}</div>'
CELL = "padding:2px 11px 2px 0;white-space:nowrap"


def table(heads: Sequence[str], rows: Sequence[Sequence[Cell]], inline: bool = True) -> str:
    """Return an HTML table; heads and cells are plain text, columns of numbers are right-aligned.

    Its style is inline, or that of the page, whose cells of text have the class `t`.
    """
    numeric = [all(_is_number(row[i].text) for row in rows) for i in range(len(heads))]
    if inline:
        looks = [f' style="{CELL};text-align:{"right" if one else "left"}"' for one in numeric]
    else:
        looks = ["" if one else ' class="t"' for one in numeric]
    head = "".join(f'<th scope="col"{look}>{escape(text)}</th>' for look, text in zip(looks, heads, strict=True))
    body = "".join(
        "<tr>" + "".join(f"<td{look}{_why(one)}</td>" for look, one in zip(looks, row, strict=True)) + "</tr>"
        for row in rows
    )
    style = ' style="border-collapse:collapse;font-size:.85em"' if inline else ""
    return f"<table{style}><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def scrolled(inside: str, what: str, kind: str = "") -> str:
    """Return the content in a frame that scrolls by pointer and by keys if it is wider than the page."""
    attributes = f'class="wide {kind}" style="overflow-x:auto" tabindex="0" role="group"'
    return f'<div {attributes} aria-label="{escape(what)}">{inside}</div>'


def texts(rows: Iterable[Sequence[str]]) -> list[list[Cell]]:
    """Return rows of plain texts as cells."""
    return [[Cell(text) for text in row] for row in rows]


def groups(brew: Brew, title: str = TITLE, inline: bool = True) -> str:
    """Return the pours in groups of columns, each under its title, with the reasons for missing numbers below."""
    parts = []
    small = f'style="{SMALL}"' if inline else 'class="small"'
    for group in groups_of(brew):
        # A group without rows has no title: its notes carry the name.
        name = "" if group.rows else f"{group.title.split(':')[0]}: "
        if group.rows:
            parts.append(title.format(escape(group.title)))
            parts.append(scrolled(table(group.heads, group.rows, inline), group.title))
        parts += [f"<div {small}>{DASH} {escape(name + note)}</div>" for note in group.notes]
    return "".join(parts)


def numbers(found: Sequence[tuple[str, str, str]], inline: bool = True) -> str:
    """Return numbers by name, as a list of terms; the reason for a missing one follows its dash."""
    look, small = (" style='margin:0'", f'style="{SMALL}"') if inline else ("", 'class="small"')
    return "".join(
        f"<dt>{escape(name)}</dt><dd{look}>{escape(text)}"
        + (f" <span {small}>{escape(why)}</span>" if why else "")
        + "</dd>"
        for name, text, why in found
    )


def _why(one: Cell) -> str:
    return f' title="{escape(one.why)}">{escape(one.text)}' if one.why else f">{escape(one.text)}"


def _is_number(text: str) -> bool:
    return not text or text[0] in "0123456789+-<" or text == DASH


def head(title: str, line: str) -> str:
    """Return the first lines of a card."""
    return f"<div><strong>{escape(title)}</strong></div><div style='opacity:.75;font-size:.85em'>{escape(line)}</div>"


def answer(brew: Brew) -> str:
    """Return what a brew is read for: its head, five numbers per pour, warnings and notes."""
    first = brief(brew)
    known = brew.meta._known
    return (
        f"<div><strong>{escape(name_of(brew.meta))}</strong>: {escape(brew.head)}</div>"
        + (f'<div style="{SMALL}">{escape(known)}</div>' if known else "")
        + (scrolled(table(first.heads, first.rows), "pours") if first.rows else "")
        + "".join(f'<div style="{SMALL}">{escape(line)}</div>' for line in brew._further)
    )


def log_card(log: Log) -> str:
    """Return the card of a log."""
    time_s = log.time_s
    weighed = [word for word, mass in (("water", log.water_g), ("beverage", log.beverage_g)) if mass is not None]
    line = f"{len(log)} samples over {time_s.max() - time_s.min():.1f} s, {' and '.join(weighed)}"
    top = head(name_of(log.meta), "; ".join(part for part in (line, log.meta._known) if part))
    return f'<div style="{BOX}">{top}{scrolled(log_figure(log), "figure")}{script()}</div>'


def brew_card(brew: Brew) -> str:
    """Return the card of a brew."""
    events = brew.events
    grid = "display:grid;grid-template-columns:max-content 1fr;gap:0 1em;margin:0;font-size:.85em"
    all_numbers = f'{groups(brew)}{TITLE.format("The brew")}<dl style="{grid}">{numbers(brew._totals)}</dl>'
    parts = [
        answer(brew),
        scrolled(brew_figure(brew, width=700, height=470, zero_s=brew.time_zero_s), "figure"),
        f"<details><summary>all numbers</summary>{all_numbers}</details>",
    ]
    if events:
        listed = "".join(
            f"<li>{escape(f'{e.start_s - brew.time_zero_s:.1f} s, {word_of(e)} on {e.channel}: {e.action}')}</li>"
            for e in events[:EVENTS_SHOWN]
        )
        rest = f"<li>and {len(events) - EVENTS_SHOWN} more</li>" if len(events) > EVENTS_SHOWN else ""
        summary = f"<summary>{len(events)} event{'s' if len(events) > 1 else ''}</summary>"
        parts.append(f"<details>{summary}<ul style='margin:2px 0'>{listed}{rest}</ul></details>")
    return f'<div style="{BOX}">{"".join(parts)}{script()}</div>'
