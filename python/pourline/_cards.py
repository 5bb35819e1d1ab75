"""In: a log or a brew. Out: its card for a notebook: figure, pours with their sd, events. All text is escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from ._svg import brew_figure, log_figure
from ._words import POUR_COLUMNS, known, name_of, pour_rows, told

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ._pourline import Brew, Log

EVENTS_SHOWN = 6
BOX = "font-family:system-ui,sans-serif;max-width:640px;line-height:1.45"
CELL = "padding:2px 14px 2px 0;white-space:nowrap"


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return an HTML table; heads and cells are plain text, columns of numbers stand to the right."""
    sides = ["right" if all(_is_number(row[i]) for row in rows) else "left" for i in range(len(heads))]
    cells = [f'style="{CELL};text-align:{side}"' for side in sides]
    head = "".join(f'<th scope="col" {cell}>{escape(text)}</th>' for cell, text in zip(cells, heads, strict=True))
    body = "".join(
        "<tr>" + "".join(f"<td {cell}>{escape(text)}</td>" for cell, text in zip(cells, row, strict=True)) + "</tr>"
        for row in rows
    )
    style = "border-collapse:collapse;font-size:.85em"
    return f'<table style="{style}"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'


def _is_number(text: str) -> bool:
    return not text or text[0] in "0123456789+-" or text.startswith("undefined")


def head(title: str, line: str) -> str:
    """Return the first lines of a card."""
    return f"<div><strong>{escape(title)}</strong></div><div style='opacity:.75;font-size:.85em'>{escape(line)}</div>"


def log_card(log: Log) -> str:
    """Return the card of a log."""
    time_s = log.time_s
    weighed = [word for word, mass in (("water", log.water_g), ("beverage", log.beverage_g)) if mass is not None]
    line = f"{len(log)} samples over {time_s.max() - time_s.min():.1f} s, {' and '.join(weighed)}"
    top = head(name_of(log.meta), "; ".join(part for part in (line, known(log.meta)) if part))
    return f'<div style="{BOX}">{top}{log_figure(log)}</div>'


def brew_card(brew: Brew) -> str:
    """Return the card of a brew."""
    events = brew.events
    number = brew.extraction.yield_pct
    parts = [
        head(name_of(brew.meta), known(brew.meta)),
        brew_figure(brew, width=600, height=270),
        table(["pour", *(head for head, _ in POUR_COLUMNS)], pour_rows(brew)) if brew.pours else "<div>no pours</div>",
        f"<div>water {escape(told(brew.water_g, 'g'))}, beverage {escape(told(brew.beverage_g, 'g'))}, "
        f"yield {escape(told(number, '%'))}</div>",
    ]
    if events:
        listed = "".join(
            f"<li>{escape(f'{e.start_s:.1f} s, {e.kind} on {e.channel}: {e.action}')}</li>"
            for e in events[:EVENTS_SHOWN]
        )
        rest = f"<li>and {len(events) - EVENTS_SHOWN} more</li>" if len(events) > EVENTS_SHOWN else ""
        parts.append(
            f"<details><summary>{len(events)} event{'s' if len(events) > 1 else ''}</summary><ul style='margin:2px 0'>{listed}{rest}</ul></details>"
        )
    return f'<div style="{BOX}">{"".join(parts)}</div>'
