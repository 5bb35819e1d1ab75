"""In: a brew. Out: its name, and the rows of its tables as plain text. Its sentences are those of the core."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .._pourline import Brew, Event, Meta


def name_of(meta: Meta) -> str:
    """Return the name of a brew."""
    return meta.name or "unnamed brew"


def budget_rows(brew: Brew) -> list[list[str]]:
    """Return one row per input of the yield: its name, value (marked if its sd is assumed), contribution and share."""
    assumed = set(brew.extraction.assumed_sd)
    budget = sorted(brew.extraction.budget, key=lambda row: -row.share)
    return [
        [
            row.name,
            f"{row.value}{' (assumed)' if row.name in assumed else ''}",
            f"{row.contribution_pct:.3f}",
            f"{100 * row.share:.1f}",
        ]
        for row in budget
        if row.share > 0
    ]


def event_rows(brew: Brew) -> list[list[str]]:
    """Return one row per event; instants count from the first start."""
    zero_s = brew.time_zero_s
    return [
        [
            word_of(e),
            e.channel,
            *(f"{t - zero_s:.1f}" for t in (e.start_s, e.end_s)),
            _size(e.size_g),
            str(e.samples),
            e.action,
        ]
        for e in brew.events
    ]


def word_of(event: Event) -> str:
    """Return the kind of an event in words."""
    return event.kind.replace("_", " ")


def clock(at_s: float) -> str:
    """Return a time as `m:ss`, as the head has it; from an hour on as `h:mm:ss`.

    >>> clock(114.6), clock(-3.0), clock(3600.0)
    ('1:55', '-0:03', '1:00:00')
    """
    minutes, seconds = divmod(int(abs(at_s) + 0.5), 60)
    hours, minutes = divmod(minutes, 60)
    sign = "-" if at_s <= -0.5 else ""
    return f"{sign}{hours}:{minutes:02}:{seconds:02}" if hours else f"{sign}{minutes}:{seconds:02}"


def _size(size_g: float) -> str:
    return f"{size_g:+.1f}" if size_g else ""
