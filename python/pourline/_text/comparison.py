"""In: a comparison. Out: words that its figure and its card share."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .._pourline import Comparison


def counts(comparison: Comparison) -> list[str]:
    """Return for each group how many independent units it has, with their word."""
    word = comparison.independent
    return [f"{n} {word}{'' if n == 1 else 's'}" for n in comparison.groups_table()["units"].tolist()]
