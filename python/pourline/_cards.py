"""In: a log or a brew. Out: its card for a notebook: a figure, the pours with their sd, the events. All text is escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from ._svg import brew_figure, log_figure
from ._words import POUR_COLUMNS, known, name_of, pour_rows, told

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from ._pourline import Brew, Log

EVENTS_SHOWN = 6
BOX = "font-family:system-ui,sans-serif;max-width:640px;line-height:1.45"
CELL = "padding:2px 12px 2px 0;text-align:right;white-space:nowrap"


def table(heads: Iterable[str], rows: Iterable[Sequence[str]]) -> str:
    """Return an HTML table; heads and cells are plain text."""
    head = "".join(f'<th scope="col" style="{CELL}">{escape(text)}</th>' for text in heads)
    body = "".join(
        "<tr>" + "".join(f'<td style="{CELL}">{escape(text)}</td>' for text in row) + "</tr>" for row in rows
    )
    return f'<table style="border-collapse:collapse;font-size:.85em"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'


def _head(title: str, line: str) -> str:
    return f"<div><strong>{escape(title)}</strong></div><div style='opacity:.75'>{escape(line)}</div>"


def log_card(log: Log) -> str:
    """Return the card of a log."""
    time_s = log.time_s
    weighed = [word for word, mass in (("water", log.water_g), ("beverage", log.beverage_g)) if mass is not None]
    line = f"{len(log)} samples over {time_s.max() - time_s.min():.1f} s, {' and '.join(weighed)}"
    head = _head(name_of(log.meta), "; ".join(part for part in (line, known(log.meta)) if part))
    return f'<div style="{BOX}">{head}{log_figure(log)}</div>'


def brew_card(brew: Brew) -> str:
    """Return the card of a brew."""
    events = brew.events
    number = brew.extraction.yield_pct
    parts = [
        _head(name_of(brew.meta), known(brew.meta)),
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
            f"<details><summary>{len(events)} events</summary><ul style='margin:2px 0'>{listed}{rest}</ul></details>"
        )
    return f'<div style="{BOX}">{"".join(parts)}</div>'
