"""In: a comparison. Out: its card for a notebook. All text is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._figures.axes import labelled
from .._text.comparison import counts, sentences_of
from .cards import BOX, head, scrolled, table, texts

if TYPE_CHECKING:
    from .._pourline import Comparison, Estimate, Undefined


def comparison_card(comparison: Comparison) -> str:
    """Return the card of a comparison."""
    blocks = f" within {' and '.join(comparison.blocks)}" if comparison.blocks else ""
    sentences = "".join(f"<p style='margin:6px 0'>{escape(sentence)}</p>" for sentence in sentences_of(comparison))
    warnings = "".join(f"<li>{escape(warning)}</li>" for warning in comparison.warnings)
    parts = [
        head(f"{comparison.measure} by {comparison.by}", f"each {comparison.independent} counts once{blocks}"),
        sentences,
        *(
            scrolled(table(heads, texts(rows)), heads[0])
            for heads, rows in (group_rows(comparison), pair_rows(comparison))
        ),
        f"<ul style='margin:6px 0'>{warnings}</ul>" if warnings else "",
    ]
    return f'<div style="{BOX}">{"".join(parts)}</div>'


def group_rows(comparison: Comparison) -> tuple[list[str], list[list[str]]]:
    """Return the heads and rows of the groups."""
    groups = comparison.groups_table()
    rows = [
        [str(name), count, f"{mean:.4g}", f"{error:.2g}", f"{sd:.2g}"]
        for name, count, mean, error, sd in zip(
            groups[comparison.by].tolist(),
            counts(comparison),
            groups["mean"].tolist(),
            groups["mean_sd"].tolist(),
            groups["sd"].tolist(),
            strict=True,
        )
    ]
    return [comparison.by, "n", labelled("mean", comparison.unit), "standard error", "sd"], rows


def pair_rows(comparison: Comparison) -> tuple[list[str], list[list[str]]]:
    """Return the heads and rows of the pairs."""
    rows = [[f"{p.b} less {p.a}", str(p.difference), _ends(p.interval), _p(p.p), p.verdict] for p in comparison.pairs]
    level = f"{100 * comparison.level:.0f} % interval"
    return ["pair", labelled("difference", comparison.unit), level, "p", "verdict"], rows


def _ends(interval: tuple[float, float] | Undefined) -> str:
    return f"{interval[0]:+.3g} to {interval[1]:+.3g}" if isinstance(interval, tuple) else "undefined"


def _p(p: Estimate | Undefined) -> str:
    return "undefined" if not p else "< 0.001" if p.value < 0.001 else f"{p.value:.3f}"
