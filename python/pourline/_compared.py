"""In: a comparison. Out: its figure on matplotlib axes (every value by its group, and the differences), and its card for a notebook."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np

from ._cards import BOX, head, table, texts
from ._errors import PourlineError
from ._looks import FLOW, WATER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from ._pourline import Comparison, Contrast, Estimate, Undefined

PAIRS_SHOWN = 12


def plot_comparison(comparison: Comparison, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes]:
    """Draw a comparison: every value by its group on the left, the differences with their intervals on the right.

    A dot is a value; its thin line is two sd of the measurement itself. The bar beside is the group's mean with two standard errors. On the
    right, the intervals of several pairs hold together (Tukey and Kramer); p is by dealing the groups anew, and near its bar the two may differ.

    Args:
        comparison: what `compare` returns.
        ax: two axes to draw on, that of the values and that of the differences; without them a new figure is made.

    Returns:
        The two axes.

    Raises:
        PourlineError: kind `install` where matplotlib is missing, `argument` where `ax` is not two axes.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> own = pourline.Table({"kettle": ["Fernspout", "Broadlip"] * 4, "flow": [6.1, 6.9, 6.3, 7.0, 6.2, 6.8, 6.5, 7.3]})
    >>> values, differences = pourline.plot_comparison(pourline.compare(own, "flow", by="kettle"))
    >>> values.get_ylabel(), differences.get_xlabel()
    ('flow', 'difference')
    """
    values_ax, pairs_ax = _axes(ax, min(len(comparison.pairs), PAIRS_SHOWN))
    _values(values_ax, comparison)
    _differences(pairs_ax, comparison)
    for axes in (values_ax, pairs_ax):
        axes.spines[["top", "right"]].set_visible(False)
        axes.set_axisbelow(True)
    return values_ax, pairs_ax


def _axes(ax: Sequence[Axes] | None, pairs: int) -> tuple[Axes, Axes]:
    if ax is None:
        try:
            import matplotlib.pyplot as plt
        except ImportError as missing:
            message = 'plot_comparison needs matplotlib: pip install "pourline[plot]"'
            raise PourlineError(message, "install") from missing
        _, ax = plt.subplots(1, 2, figsize=(9, max(3.2, 1.8 + 0.45 * pairs)), layout="constrained")
    try:
        values_ax, pairs_ax = ax
    except (TypeError, ValueError):
        raise PourlineError("ax: two axes are needed, for the values and the differences", column="ax") from None
    return values_ax, pairs_ax


def _with_unit(word: str, unit: str) -> str:
    return f"{word}, {unit}" if unit else word


def _measure(comparison: Comparison) -> str:
    """Return the name of the measure without the unit that ends it, and the unit."""
    ending = "_" + comparison.unit.replace("/", "_per_").replace("%", "pct")
    word = comparison.measure.removesuffix(ending) if comparison.unit else comparison.measure
    return _with_unit(word.replace("_", " "), comparison.unit)


def _values(ax: Axes, comparison: Comparison) -> None:
    values, groups = comparison.values_table(), comparison.groups_table()
    names = groups[comparison.by].tolist()
    number, sd = (values[name] for name in values.columns[-2:])
    for place, name in enumerate(names):
        mine = np.flatnonzero(values[comparison.by] == name)
        # Side by side in the order of the study, so that a drift from brew to brew is seen.
        x = place + np.linspace(-0.22, 0.12, len(mine)) if len(mine) > 1 else np.array([place - 0.05])
        ax.errorbar(x, number[mine], 2 * sd[mine], fmt="o", color=WATER, markersize=4, elinewidth=0.8, alpha=0.75)
        mean, error = groups["mean"][place], groups["mean_sd"][place]
        shown = 2 * error if np.isfinite(error) else None
        ax.errorbar(
            place + 0.28, mean, shown, fmt="D", color="#222222", markersize=5, elinewidth=2.2, capsize=4, zorder=3
        )
    ax.set_xticks(range(len(names)), [f"{name}\n{n}" for name, n in zip(names, _counts(comparison), strict=True)])
    ax.set_xlim(-0.6, len(names) - 0.4)
    ax.set_ylabel(_measure(comparison))
    ax.grid(axis="y", color="#000000", alpha=0.1, linewidth=0.6)


def _counts(comparison: Comparison) -> list[str]:
    word = comparison.independent
    return [f"{n} {word}{'' if n == 1 else 's'}" for n in comparison.groups_table()["units"].tolist()]


def _differences(ax: Axes, comparison: Comparison) -> None:
    pairs = comparison.pairs[:PAIRS_SHOWN]
    ax.axvline(0, color="#222222", linewidth=1)
    if pairs[0].equivalence is not None:
        margin = pairs[0].equivalence.margin
        ax.axvspan(-margin, margin, color=FLOW, alpha=0.15, linewidth=0)
    for place, pair in enumerate(pairs):
        ends = pair.interval if len(comparison.pairs) == 1 else pair.tukey_interval
        if not isinstance(ends, tuple):
            ends = pair.interval
        middle = pair.difference.value
        if isinstance(ends, tuple):
            ax.plot(ends, [place, place], color=WATER, linewidth=2.4, solid_capstyle="butt")
        ax.plot([middle], [place], "D", color="#222222", markersize=6)
        ax.annotate(_chance(pair), (middle, place), xytext=(0, 8), textcoords="offset points", ha="center", fontsize=8)
    ax.set_yticks(range(len(pairs)), [f"{pair.b}\nless {pair.a}" for pair in pairs])
    ax.set_ylim(len(pairs) - 0.4, -0.7)
    ax.set_xlabel(_with_unit("difference", "percentage points" if comparison.unit == "%" else comparison.unit))
    ax.margins(x=0.12)
    ax.grid(axis="x", color="#000000", alpha=0.1, linewidth=0.6)


def _chance(pair: Contrast) -> str:
    p = pair.p_holm
    if not p:
        return "no p"
    return "p < 0.001" if p.value < 0.001 else f"p = {p.value:.3f}"


def comparison_card(comparison: Comparison) -> str:
    """Return the card of a comparison. All text is escaped."""
    unit = comparison.unit
    groups = comparison.groups_table()
    counts = _counts(comparison)
    means = [
        [str(name), count, f"{mean:.4g}", f"{error:.2g}", f"{sd:.2g}"]
        for name, count, mean, error, sd in zip(
            groups[comparison.by].tolist(),
            counts,
            groups["mean"].tolist(),
            groups["mean_sd"].tolist(),
            groups["sd"].tolist(),
            strict=True,
        )
    ]
    rows = [[f"{p.b} less {p.a}", str(p.difference), _ends(p.interval), _p(p.p_holm)] for p in comparison.pairs]
    blocks = f" within {' and '.join(comparison.blocks)}" if comparison.blocks else ""
    said = "".join(f"<p style='margin:6px 0'>{escape(sentence)}</p>" for sentence in comparison.sentences)
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in comparison.cautions)
    level = f"{100 * comparison.level:.0f} % interval"
    parts = [
        head(f"{comparison.measure} by {comparison.by}", f"each {comparison.independent} counts once{blocks}"),
        said,
        table([comparison.by, "n", _with_unit("mean", unit), "standard error", "sd"], texts(means)),
        table(["pair", _with_unit("difference", unit), level, "p (Holm)"], texts(rows)),
        f"<ul style='margin:6px 0'>{cautions}</ul>" if cautions else "",
    ]
    return f'<div style="{BOX}">{"".join(parts)}</div>'


def _ends(interval: tuple[float, float] | Undefined) -> str:
    return f"{interval[0]:+.3g} to {interval[1]:+.3g}" if isinstance(interval, tuple) else "undefined"


def _p(p: Estimate | Undefined) -> str:
    return "undefined" if not p else "< 0.001" if p.value < 0.001 else f"{p.value:.3f}"
