"""In: a comparison. Out: the text that its figure and its card share."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .._pourline import Comparison


def counts(comparison: Comparison) -> list[str]:
    """Return the number of independent units of each group, with their name."""
    word = comparison.independent
    return [f"{n} {word}{'' if n == 1 else 's'}" for n in comparison.groups_table()["units"].tolist()]
