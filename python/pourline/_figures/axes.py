"""In: axes from the caller, or none. Out: axes to draw on, and the style and labels that all figures share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from .._escape import UNFIT, fit
from ..errors import PourlineError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

# Least contrast of a line and of a text to what it is drawn on (WCAG 2.2, 1.4.11 and 1.4.3).
LINE_CONTRAST, TEXT_CONTRAST = 3.0, 4.5
# Endings of column names that stand for a unit.
ENDINGS = {"%": "pct", "C": "c"}


def ink() -> str:
    """Return the colour of texts in the style of the figure."""
    from matplotlib import rcParams

    return str(rcParams["text.color"])


def paper() -> str:
    """Return the colour that lines are drawn on in the style of the figure."""
    from matplotlib import rcParams

    return str(rcParams["axes.facecolor"])


def points(at_10: float) -> float:
    """Return a size in points that is `at_10` where the font has 10 points."""
    from matplotlib import rcParams

    return at_10 * float(rcParams["font.size"]) / 10


def inches(width: float, height: float) -> tuple[float, float]:
    """Return the size of a new figure: it grows with its texts."""
    return points(width), points(height)


def hue(colour: str, least: float = LINE_CONTRAST) -> str:
    """Return a colour with that contrast to the paper: itself, or mixed with white on dark paper, with black on light.

    >>> hue("#326a99"), hue("#ffffff")
    ('#326a99', '#8c8c8c')
    """
    from matplotlib.colors import to_hex, to_rgba

    red, green, blue, opaque = to_rgba(paper())
    behind = np.array([red, green, blue]) * opaque + 1 - opaque
    full = 1.0 if _luminance(behind) < 0.18 else 0.0
    own = np.array(to_rgba(colour)[:3])
    for share in np.linspace(0, 1, 21):
        mixed = own + share * (full - own)
        low, high = sorted((_luminance(mixed), _luminance(behind)))
        if (high + 0.05) / (low + 0.05) >= least:
            break
    return colour if share == 0 else to_hex(mixed)


def _luminance(rgb: NDArray[np.float64]) -> float:
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))


def pyplot(who: str) -> Any:
    """Return matplotlib's pyplot, or raise with the package to install."""
    try:
        import matplotlib.pyplot as plt
    except ImportError as missing:
        raise PourlineError(f'{who} needs matplotlib: pip install "pourline[plot]"', "install") from missing
    return plt


def one_axes(ax: Axes | None, who: str, size: tuple[float, float]) -> Axes:
    """Return the axes given, or those of a new figure of that size in inches."""
    if ax is None:
        made: Axes = pyplot(who).subplots(figsize=inches(*size), layout="constrained")[1]
        return made
    if not hasattr(ax, "fill_between"):
        raise PourlineError("ax: one pair of axes is needed", column="ax")
    return ax


def two_axes(
    ax: Sequence[Axes] | None, who: str, parts: tuple[str, str], size: tuple[float, float], **grid: Any
) -> tuple[Axes, Axes]:
    """Return the two axes given, or those of a new figure; `parts` names the content of each."""
    if ax is None:
        _, ax = pyplot(who).subplots(figsize=inches(*size), layout="constrained", **grid)
    try:
        first, second = ax
    except (TypeError, ValueError):
        raise PourlineError(f"ax: two axes are needed, for {parts[0]} and {parts[1]}", column="ax") from None
    return first, second


def needed(found: object, kind: type, name: str, maker: str) -> None:
    """Raise if the argument is not the result that the figure shows."""
    if not isinstance(found, kind):
        message = f"{name}: a result of {maker} is needed, not {type(found).__name__}"
        raise PourlineError(message, column=name)


def dress(*axes: Axes, grid: str | None = "y") -> None:
    """Apply the style of all figures to axes."""
    for ax in axes:
        ax.spines[["top", "right"]].set_visible(False)
        ax.set_axisbelow(True)
        if grid is not None:
            ax.grid(axis=grid, color=ink(), alpha=0.1, linewidth=0.6)  # type: ignore[arg-type]


def head(ax: Axes, title: str, *below: str) -> None:
    """Write a title with small lines below it."""
    ax.set_title(title, loc="left", fontsize=points(11), fontweight="bold", pad=points(7 + 11 * len(below)))
    ax.annotate(
        "\n".join(below),
        (0, 1),
        xycoords="axes fraction",
        xytext=(0, points(6)),
        textcoords="offset points",
        fontsize=points(8),
        color=ink(),
        alpha=0.75,
    )


def legend(ax: Axes, **look: Any) -> None:
    """Put the legend outside the axes, so that it hides no data."""
    ax.legend(**{"loc": "center left", "bbox_to_anchor": (1.0, 0.7), "frameon": False, "fontsize": points(9), **look})


def labelled(name: str, unit: str) -> str:
    """Return a name in words and its unit; a unit at the end of the name is removed."""
    ending = "_" + ENDINGS.get(unit, unit.replace("/", "_per_"))
    words = (name.removesuffix(ending) if unit else name).replace("_", " ")
    return f"{words}, {unit}" if unit else words


def as_written(*axes: Axes) -> None:
    """Draw every text literally: a name from a log is no formula, and a broken one would raise. Characters that a file
    may not hold are replaced.
    """
    for ax in axes:
        for text in ax.findobj(lambda artist: hasattr(artist, "set_parse_math")):
            word: str = text.get_text()  # type: ignore[attr-defined]
            if "$" in word:
                text.set_parse_math(False)  # type: ignore[attr-defined]
            if UNFIT.search(word):
                text.set_text(fit(word))  # type: ignore[attr-defined]
        for axis in (ax.xaxis, ax.yaxis):
            # Ticks take their labels from the axis at each drawing.
            words = (
                [one.get_text() for one in axis.get_majorticklabels()]
                if hasattr(axis.get_major_locator(), "locs")
                else []
            )
            if any(UNFIT.search(word) for word in words):
                axis.set_ticklabels([fit(word) for word in words])
