"""In: comparisons of the same groups. Out: their part of a page: what differs, flows, measures; all else folds. All text
is escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._figures.svg_comparison import comparison_figure
from .._figures.svg_difference import difference_figure
from .._figures.svg_profile import profile_figure
from .._pourline import ProfileDifference
from .._text.comparison import (
    landmark_rows,
    measure_rows,
    name_of_measure,
    sentences_of,
    shared_warnings,
    ways,
    words_of,
)
from .brew_part import fold, listed
from .cards import scrolled, table, texts
from .comparison_card import group_rows, pair_rows

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from .._pourline import Comparison, Profile

LEGEND = (
    "A dot is a value with two sd of its measurement. A diamond is a mean with two standard errors or, in the lower "
    "part, a difference with its interval. "
)


def comparisons_part(
    comparisons: Sequence[Comparison], profiles: Mapping[str, Profile] | ProfileDifference | None
) -> str:
    """Return comparisons as HTML, without their provenance."""
    first = comparisons[0]
    parts = [f'<p class="faint">{escape(_how(first, len(comparisons)))}</p>']
    parts.append(listed(ways(comparisons)) if len(comparisons) > 1 else _paragraphs(sentences_of(first)))
    warnings = shared_warnings(comparisons)
    parts += [f'<p class="warning">{escape(text)}</p>' for text in warnings]
    if isinstance(profiles, ProfileDifference):
        parts.append(_flows(profiles))
    elif profiles:
        figure = scrolled(profile_figure(profiles), "mean flow", "figure")
        parts.append(f"{_part('Mean flow of each group')}{figure}")
    if len(comparisons) > 1:
        parts.append(f"{_part('Measures')}{_wide(*measure_rows(comparisons))}")
        parts += [
            fold(f"{_capital(words_of(one.measure))}: all values", _paragraphs(sentences_of(one)) + _details(one))
            for one in comparisons
        ]
    else:
        parts.append(_details(first))
    return "".join(parts)


def _flows(found: ProfileDifference) -> str:
    """Return the difference of the mean flows, and the landmarks in a fold."""
    figure = scrolled(difference_figure(found), "mean flow", "figure")
    warnings = "".join(f'<p class="warning">{escape(text)}</p>' for text in found.warnings)
    marks = "Intervals and p hold for all landmarks together."
    landmarks = fold("Landmarks of the pours", f"{_wide(*landmark_rows(found))}<p>{marks}</p>")
    return (
        f"{_part('Mean flow of each group, and their difference')}<p>{escape(found.says)}</p>{warnings}{figure}"
        f'<p class="faint">The flows are aligned on common landmarks. Where the band leaves zero, which is shaded, the '
        f"mean flows differ.</p>{landmarks if found.landmarks else ''}"
    )


def _details(comparison: Comparison) -> str:
    missing = comparison.missing_table()
    rows = [[_text(one) for one in row] for row in zip(*missing.to_dict().values(), strict=True)]
    left_out = _wide(list(missing.columns), rows, "text") if rows else "<p>Nothing is missing.</p>"
    together = "The intervals and p of all pairs hold together. " if len(comparison.pairs) > 1 else ""
    return (
        f"{scrolled(comparison_figure(comparison), 'figure', 'figure')}"
        f'<p class="faint">{LEGEND}{together}</p>'
        f"{_part('Groups')}{_wide(*group_rows(comparison))}{_part('Pairs')}{_wide(*pair_rows(comparison))}"
        f"{_part('Missing')}{left_out}"
    )


def _how(first: Comparison, measures: int) -> str:
    within = f", within {' and '.join(first.blocks)}" if first.blocks else ""
    what = name_of_measure(first.measure) if measures == 1 else f"{measures} measures"
    together = "" if measures == 1 else " Intervals and p hold for all measures together."
    return (
        f"{_capital(what)} by {first.by}, from {first.basis}; each {first.independent} counts once{within}.{together}"
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _paragraphs(sentences: Sequence[str]) -> str:
    return "".join(f"<p>{escape(sentence)}</p>" for sentence in sentences)


def _part(title: str) -> str:
    return f'<h2 class="part">{title}</h2>'


def _wide(heads: list[str], rows: list[list[str]], kind: str = "") -> str:
    return scrolled(table(heads, texts(rows), inline=False), heads[0], kind)


def _text(one: object) -> str:
    return "" if one is None or one != one else str(one)
