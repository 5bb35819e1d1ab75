"""In: a `Crossed`. Out: its figure: the sd of each variance component with its interval, by both methods."""

from __future__ import annotations

from textwrap import shorten, wrap
from typing import TYPE_CHECKING, NamedTuple

from .._pourline import Component, Components, Crossed, Interval, Undefined
from .axes import TEXT_CONTRAST, as_written, dress, head, hue, ink, legend, needed, one_axes, paper, points
from .looks import BEVERAGE, OTHERS, WATER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# An interval that extends beyond this many times the largest sd is cut, and its end is written as a number.
FARTHEST = 3.0
METHODS = (("anova", "ANOVA", WATER, "o", -0.17), ("reml", "REML", BEVERAGE, "s", 0.17))


class _Source(NamedTuple):
    """One variance component by one method."""

    sd: Interval | Undefined
    share_pct: float | None


def plot_crossed(
    found: Crossed, ax: Axes | None = None, label: str = "value", rows: str = "rows", columns: str = "columns"
) -> Axes:
    """Draw the sd of each variance component with its 95 % interval, by analysis of variance and by restricted maximum
    likelihood.

    Components are rows, columns, their interaction, and brews within a cell. The last is split into the part of the
    measurement, from the stated sd of the values, and the remainder. Percentages are of the total variance. Undefined
    components are named with their reason.

    Args:
        found: the result of `crossed`.
        ax: axes to draw on; by default those of a new figure.
        label: name and unit of the values.
        rows: name of the rows, such as `people`.
        columns: name of the columns, such as `kettles`.

    Returns:
        The axes.

    Raises:
        PourlineError: kind `install` if matplotlib is missing, `argument` for anything but a `Crossed`.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> logs = [pourline.datasets.load(name) for name in pourline.datasets.names()]
    >>> study = pourline.gather(pourline.analyze_many(logs))
    >>> found = pourline.crossed(study, rows="person", columns="kettle", measure="yield_pct")
    >>> pourline.plot_crossed(found, label="yield, %", rows="people", columns="kettles").get_xlabel()
    'sd of yield, %'
    """
    needed(found, Crossed, "found", "crossed")
    ax = one_axes(ax, "plot_crossed", (9, 4))
    names = [
        f"{rows}\n{shorten(', '.join(found.rows), 34, placeholder=' ...')}",
        f"{columns}\n{shorten(', '.join(found.columns), 34, placeholder=' ...')}",
        f"interaction of\n{rows} and {columns}",
        "brews alike\n(repeatability)",
        "of these:\nthe measurement",
        "of these:\nhand and coffee",
    ]
    methods = {name: getattr(found, name) for name, *_ in METHODS}
    far = _far([one for one in methods.values() if isinstance(one, Components)])
    for name, word, colour, marker, off in METHODS:
        by = methods[name]
        if isinstance(by, Components):
            _method(ax, by, word, (colour, marker, off), far)
    made = next((one for one in methods.values() if isinstance(one, Components)), None)
    if made is not None:
        _same_for_all(ax, made, far)
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.5, -0.6)
    ax.axhline(3.5, color=ink(), linewidth=0.6, linestyle=(0, (1, 2)))
    ax.set_xlim(-0.02 * far, far)
    ax.set_xlabel(f"sd of {label}")
    dress(ax, grid="x")
    why = [f"no {word}: {methods[name].reason}" for name, word, *_ in METHODS if not methods[name]]
    mean = f", mean {found.mean}" if found.mean else ""
    head(ax, "Sources of spread", f"{found.brews} brews{mean}; bars are 95 % intervals", *why)
    if len(why) < len(METHODS):
        _side_text(ax, "share of variance", -0.6, ink())
        legend(ax, loc="lower left", bbox_to_anchor=(1.0, 0.0))
    else:
        reason = "\n".join(wrap("undefined: " + methods["reml"].reason, 60))
        ax.annotate(reason, (0.5, 0.5), xycoords="axes fraction", ha="center", va="center", color=ink())
        ax.set_xticks([])
    as_written(ax)
    return ax


def _sources(by: Components) -> list[_Source]:
    parts = [by.rows, by.columns, by.interaction, by.repeatability]
    found = [_Source(one.sd, one.share_pct) if isinstance(one, Component) else _Source(one, None) for one in parts]
    return [*found, _Source(by.of_hand_sd, None)]


def _far(methods: list[Components]) -> float:
    """Return the end of the axis: one very wide interval must not compress all others."""
    sds = [one.sd for by in methods for one in _sources(by) if isinstance(one.sd, Interval)]
    largest = max([*(sd.value for sd in sds), *(by.of_scale_sd for by in methods)], default=0.0) or 1.0
    return 1.05 * max([1.3 * largest, *(sd.high for sd in sds if sd.high <= FARTHEST * largest)])


def _method(ax: Axes, by: Components, word: str, look: tuple[str, str, float], far: float) -> None:
    colour, marker, off = hue(look[0], TEXT_CONTRAST), look[1], look[2]
    filled = paper() if marker == "s" else colour
    places = (0, 1, 2, 3, 5)
    for place, source in zip(places, _sources(by), strict=True):
        y = place + off
        if isinstance(source.sd, Undefined):
            continue
        low, high = source.sd.low, min(source.sd.high, 0.98 * far)
        cut = source.sd.high > high
        ax.plot([low, high], [y, y], color=colour, linewidth=2, solid_capstyle="butt", zorder=2)
        ax.plot([low], [y], "|", color=colour, markersize=8, zorder=2)
        ax.plot([high], [y], ">" if cut else "|", color=colour, markersize=6 if cut else 8, zorder=2, clip_on=False)
        ax.plot([source.sd.value], [y], marker, color=colour, markersize=6.5, markerfacecolor=filled, zorder=3)
        if cut:
            ax.annotate(
                f"reaches {source.sd.high:.3g}",
                (high, y),
                xytext=(-8, 2.5),
                textcoords="offset points",
                ha="right",
                fontsize=points(7.5),
                color=colour,
            )
        if source.share_pct is not None:
            _side_text(ax, f"{source.share_pct:.0f} %", y, colour)
    ax.plot([], [], color=colour, marker=marker, markerfacecolor=filled, linewidth=2, label=word)


def _same_for_all(ax: Axes, by: Components, far: float) -> None:
    """Draw the results that do not depend on the method: the measurement's share and the reason for no interaction."""
    if by.of_scale_sd > 0:
        ax.plot([by.of_scale_sd], [4], "d", color=hue(OTHERS), markeredgecolor=ink(), markersize=7, zorder=3)
        word = f"{by.of_scale_sd:.3g}, by the stated sd of the values"
    else:
        word = "unknown: the values have no sd"
    ax.annotate(
        word,
        (by.of_scale_sd, 4),
        xytext=(9, 0),
        textcoords="offset points",
        va="center",
        fontsize=points(8),
        color=ink(),
    )
    if isinstance(by.interaction, Undefined):
        ax.annotate(
            f"undefined: {by.interaction.reason}", (0.01 * far, 2), va="center", fontsize=points(8), color=ink()
        )


def _side_text(ax: Axes, text: str, y: float, colour: str) -> None:
    lane = ax.get_yaxis_transform()
    ax.annotate(
        text,
        (1, y),
        xycoords=lane,
        xytext=(8, 0),
        textcoords="offset points",
        va="center",
        fontsize=points(8),
        color=colour,
    )
