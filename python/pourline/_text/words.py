"""In: a brew. Out: its name, and the rows of its tables as plain text. Its sentences are those of the core."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .._pourline import Brew, Meta


def name_of(meta: Meta) -> str:
    """Return the name of a brew."""
    return meta.name or "unnamed brew"


def budget_rows(brew: Brew) -> list[list[str]]:
    """Return one row per input of the yield: its name, value, contribution and share."""
    budget = sorted(brew.extraction.budget, key=lambda row: -row.share)
    return [
        [row.name, str(row.value), f"{row.contribution_pct:.3f}", f"{100 * row.share:.1f}"]
        for row in budget
        if row.share > 0
    ]


def event_rows(brew: Brew) -> list[list[str]]:
    """Return one row per event."""
    return [
        [e.kind, e.channel, f"{e.start_s:.2f}", f"{e.end_s:.2f}", _size(e.size_g), str(e.samples), e.action]
        for e in brew.events
    ]


def _size(size_g: float) -> str:
    return f"{size_g:+.1f}" if size_g else ""
