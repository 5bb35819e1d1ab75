"""In: a comparison. Out: its part of a page: sentences, figure, tables, warnings, missing values. All text is
escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._figures.svg_comparison import comparison_figure
from .cards import scrolled, table, texts
from .comparison_card import group_rows, pair_rows

if TYPE_CHECKING:
    from .._pourline import Comparison


def comparison_part(comparison: Comparison) -> str:
    """Return a comparison as HTML, without its provenance."""
    sentences = "".join(f"<p>{escape(sentence)}</p>" for sentence in comparison.sentences)
    warnings = "".join(f"<li>{escape(one)}</li>" for one in comparison.warnings) or "<li>None.</li>"
    within = f", within {' and '.join(comparison.blocks)}" if comparison.blocks else ""
    how = f"{comparison.measure} by {comparison.by}; each {comparison.independent} counts once{within}."
    missing = comparison.missing_table()
    rows = [[_text(one) for one in row] for row in zip(*missing.to_dict().values(), strict=True)]
    left_out = _wide(list(missing.columns), rows, "text") if rows else "<p>Nothing is missing.</p>"
    together = "The intervals and p of all pairs hold together. "
    return (
        f'<p class="faint">{escape(how)}</p>{sentences}'
        f"{scrolled(comparison_figure(comparison), 'figure', 'figure')}"
        f'<p class="faint">A dot is a value with two sd of its measurement. A diamond is a mean with two standard '
        f"errors or, in the lower part, a difference with its interval. "
        f"{together if len(comparison.pairs) > 1 else ''}</p>"
        f"{_part('Groups')}{_wide(*group_rows(comparison))}{_part('Pairs')}{_wide(*pair_rows(comparison))}"
        f"{_part('Warnings')}<ul>{warnings}</ul>{_part('Missing')}{left_out}"
    )


def _part(title: str) -> str:
    return f'<h2 class="part">{title}</h2>'


def _wide(heads: list[str], rows: list[list[str]], kind: str = "") -> str:
    return scrolled(table(heads, texts(rows), inline=False), heads[0], kind)


def _text(one: object) -> str:
    return "" if one is None else str(one)
