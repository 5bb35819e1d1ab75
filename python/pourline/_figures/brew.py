"""In: a brew. Out: its figure on matplotlib axes over one time axis: weights, flows with bands, the water held."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from textwrap import shorten
from typing import TYPE_CHECKING, Any

import numpy as np

from .._pourline import Estimate
from .._text.pours import plateau_lines, plateau_span
from .._text.words import clock, name_of, word_of
from ..errors import PourlineError
from .axes import as_written, dress, head, hue, inches, ink, legend, points, pyplot
from .looks import (
    BEVERAGE,
    EVENT,
    FLOW,
    HELD,
    POUR,
    WATER,
    curve_of,
    distinct_events,
    edges_by_hand,
    flow_top,
    held_span,
    marks_of,
    mass_span,
    panels_of,
    time_span,
    weight_of,
    weights_of,
)
from .panel import CLOCK, clock_ticks, tick_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from .._pourline import Brew

HEIGHTS = {"weight": 5.0, "flow": 4.0, "held": 2.6}
LABELS = 0.45
LANE = 0.13
TOP: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (1.0, 1.0)}


def plot(
    brew: Brew,
    ax: Mapping[str, Axes] | Iterable[Axes] | Axes | None = None,
    figsize: tuple[float, float] | None = None,
) -> dict[str, Axes]:
    """Draw a brew: weights, flow of water and beverage with bands of two sd, water held by the bed.

    Times count from the first start, `brew.time_zero_s` on the clock of the log.
    Pours are shaded and numbered. Above each are its plateau flow, its flow CV (or `<` and its upper bound) and its
    pulsing frequency, if there is room. Unused samples are faint dots; events are marked under the weights; dotted
    lines are first drip and the end of the drawdown. Labelled edges have a dashed line and a triangle. A panel
    without data is left out.

    Args:
        brew: the result of `analyze`.
        ax: axes to draw on: a dict by panel (any of `weight`, `flow` and `held`), a list or an array with one for each
            panel of a new figure, from top to bottom, or one alone, for the weights. Default: a new figure.
        figsize: width and height of a new figure, inches.

    Returns:
        The axes by panel, from top to bottom.

    Raises:
        PourlineError: kind `install` where matplotlib is missing, `argument` where `ax` is no such axes.

    >>> import matplotlib
    >>> matplotlib.use("agg")
    >>> import pourline
    >>> log, truth = pourline.simulate("usual", seed=7)
    >>> axes = pourline.plot(pourline.analyze(log))
    >>> [panel.get_ylabel() for panel in axes.values()]
    ['weight, g', 'flow, g/s', 'water held, g']
    >>> axes["weight"].figure.savefig("/dev/null", format="png")
    """
    axes = _new(brew, figsize) if ax is None else _given(brew, ax)
    if "weight" in axes:
        _weights(axes["weight"], brew)
    if "flow" in axes:
        _flow(axes["flow"], brew, numbered="weight" not in axes)
    if "held" in axes:
        _held(axes["held"], brew)
    every, zero_s = list(axes.values()), brew.time_zero_s
    if "weight" not in axes and "flow" not in axes:
        _numbers(every[0], brew)
    _title(every[0], brew)
    for name, one in axes.items():
        one.set_xlim(*_span(brew))
        for pour in brew.pours:
            one.axvspan(
                pour.start_s.value - zero_s, pour.end_s.value - zero_s, color=POUR, alpha=0.3, linewidth=0, zorder=0
            )
        for mark in marks_of(brew):
            below_words = 1 / (1 + LABELS) if name == "flow" else 1.0
            one.axvline(mark.at_s - zero_s, ymax=below_words, color=hue(BEVERAGE), linewidth=1, linestyle=(0, (1, 2)))
        dress(one)
    _clock(every[-1])
    _marks(every[-1], brew, low=list(axes) == ["flow"])
    _by_hand(axes, brew)
    as_written(*every)
    return axes


def _span(brew: Brew) -> tuple[float, float]:
    """Return the range of the stamps, from the first start."""
    start, end = time_span(weights_of(brew))
    return start - brew.time_zero_s, end - brew.time_zero_s


def _clock(ax: Axes) -> None:
    """Write the times of an axis as minutes and seconds, at round ones."""
    from matplotlib.ticker import FuncFormatter, Locator

    class Round(Locator):
        def __call__(self) -> list[float]:
            return self.tick_values(*ax.get_xlim())

        def tick_values(self, vmin: float, vmax: float) -> list[float]:
            return clock_ticks((vmin, vmax), 9)

    ax.set_xlabel(CLOCK)
    ax.xaxis.set_major_locator(Round())
    ax.xaxis.set_major_formatter(FuncFormatter(lambda at_s, _: tick_text(at_s)))


def axes_on(figure: Figure, brew: Brew) -> dict[str, Axes]:
    """Return new axes on a figure, one for each panel with data."""
    names = panels_of(brew)
    ratios = [HEIGHTS[name] for name in names]
    made = figure.subplots(len(names), sharex=True, squeeze=False, gridspec_kw={"height_ratios": ratios})
    return dict(zip(names, made[:, 0], strict=True))


def size(brew: Brew) -> tuple[float, float]:
    """Return the size of a figure of that brew, inches."""
    return 9.0, 0.8 + 0.55 * sum(HEIGHTS[name] for name in panels_of(brew))


def _new(brew: Brew, figsize: tuple[float, float] | None) -> dict[str, Axes]:
    return axes_on(pyplot("plot").figure(figsize=figsize or inches(*size(brew)), layout="constrained"), brew)


def _given(brew: Brew, ax: Mapping[str, Axes] | Iterable[Axes] | Axes) -> dict[str, Axes]:
    names = list(HEIGHTS)
    if isinstance(ax, Mapping):
        found = {name: ax[name] for name in names if name in ax} if set(ax) <= set(names) else {}
    elif hasattr(ax, "fill_between"):
        found = {"weight": ax}
    else:
        panels, given = panels_of(brew), list(np.ravel(np.asarray(ax, dtype=object)))
        found = dict(zip(panels, given, strict=True)) if len(panels) == len(given) else {}
    if not found or not all(hasattr(one, "fill_between") for one in found.values()):
        drawn = panels_of(brew)
        message = (
            f"ax: axes are needed: one, a dict by panel ({', '.join(names)}), or {len(drawn)} for {', '.join(drawn)}"
        )
        raise PourlineError(message, column="ax")
    return found


def _weights(ax: Axes, brew: Brew) -> None:
    weights, zero_s = weights_of(brew), brew.time_zero_s
    low, high = mass_span(weights)
    if brew.events:
        # Room for the lane of events, below all samples.
        ax.set_ylim(low - LANE * (high - low), high)
    else:
        ax.set_ylim(low, high)
    ax.set_xlim(*_span(brew))  # The lane of events needs it.
    for one in weights:
        colour, style = (hue(WATER), "-") if one.channel == "water" else (hue(BEVERAGE), (0, (4, 1.6)))
        unused = ~one.used & (one.mass_g >= low) & (one.mass_g <= high)
        ax.plot(one.time_s[unused] - zero_s, one.mass_g[unused], ".", color=colour, alpha=0.4, markersize=2.5)
        line_s, line_g = one.line()
        ax.plot(
            line_s - zero_s,
            line_g,
            color=colour,
            linestyle=style,
            linewidth=1.5,
            label=f"{one.channel} {one.last_g:.0f} g",
        )
    _events(ax, brew)
    ax.set_ylabel("weight, g")
    _numbers(ax, brew)
    legend(ax, **TOP)


def _title(ax: Axes, brew: Brew) -> None:
    lines = [line for line in (brew.head, shorten(brew.meta._known, 130, placeholder=" ...")) if line]
    head(ax, name_of(brew.meta), *lines)


def _numbers(ax: Axes, brew: Brew) -> None:
    """Write the number of each pour above it."""
    for number, pour in enumerate(brew.pours, 1):
        middle_s = (pour.start_s.value + pour.end_s.value) / 2 - brew.time_zero_s
        _word(ax, middle_s, str(number), fontsize=points(9), fontweight="bold")


def _word(ax: Axes, at_s: float, text: str, **look: Any) -> None:
    """Write at the top of the panel."""
    usual: dict[str, Any] = {
        "xy": (at_s, 1),
        "xytext": (0, -3),
        "textcoords": "offset points",
        "ha": "center",
        "va": "top",
        "annotation_clip": True,
    }
    ax.annotate(text, xycoords=ax.get_xaxis_transform(), **{**usual, **look})


def _events(ax: Axes, brew: Brew) -> None:
    """Mark the events on the lower edge: a bar for the duration of each, and its kind if there is room."""
    lane = ax.get_xaxis_transform()
    start, end = ax.get_xlim()
    free_from = -np.inf
    for event in distinct_events(brew.events):
        from_s, to_s = event.start_s - brew.time_zero_s, event.end_s - brew.time_zero_s
        last = max(to_s, from_s + (end - start) / 300)
        ax.plot(
            [from_s, last],
            [0.012, 0.012],
            transform=lane,
            color=hue(EVENT),
            alpha=weight_of(event),
            linewidth=4,
            solid_capstyle="butt",
        )
        if from_s >= free_from:
            word = word_of(event)
            wide = (end - start) * points(0.011) * len(word)
            late = from_s > end - wide
            ax.annotate(
                word,
                (last if late else from_s, 0.012),
                xycoords=lane,
                xytext=(1, 4),
                ha="right" if late else "left",
                textcoords="offset points",
                fontsize=points(7.5),
                color=ink(),
                annotation_clip=True,
            )
            free_from = from_s + wide + (end - start) * 0.01


def _flow(ax: Axes, brew: Brew, numbered: bool) -> None:
    ax.set_ylim(0, flow_top(brew, LABELS))
    ax.set_ylabel("flow, g/s")
    flow, curve = brew.flow, curve_of(brew)
    if flow is not None:
        _band(ax, flow.time_s - brew.time_zero_s, flow.flow_g_per_s, flow.flow_sd_g_per_s, FLOW, "water at the bed")
    if curve is not None:
        q, sd = curve.beverage_flow_g_per_s, curve.beverage_flow_sd_g_per_s
        _band(ax, curve.time_s - brew.time_zero_s, q, sd, BEVERAGE, "beverage", linestyle=(0, (4, 1.6)))
    _plateaus(ax, brew, numbered)
    ax.plot([], [], " ", label="bands: ±2 sd")
    legend(ax, **TOP)


def _plateaus(ax: Axes, brew: Brew, numbered: bool) -> None:
    """Draw the plateau flow of each pour, and as many of its metrics as there is room for, below its number."""
    start, end = _span(brew)
    free_from, label = -np.inf, "plateau flow"
    for number, (pour, row) in enumerate(zip(brew.pours, brew.metrics.pours, strict=True), 1):
        plateau, span = row.plateau_flow_g_per_s, [at_s - brew.time_zero_s for at_s in plateau_span(pour)]
        if isinstance(plateau, Estimate):
            ax.plot(span, [plateau.value] * 2, color=ink(), linewidth=1, linestyle=(0, (2, 1.5)), label=label)
            label = "_"
        lines = plateau_lines(row)
        wide = (end - start) * points(0.0092) * max(map(len, lines), default=0)
        middle = sum(span) / 2
        fits = middle - wide / 2 >= free_from
        if numbered:
            lines = [str(number), *(lines if fits else [])]
        if lines and (numbered or fits):
            _word(ax, middle, "\n".join(lines), fontsize=points(7), linespacing=1.1)
            free_from = middle + wide / 2


def _held(ax: Axes, brew: Brew) -> None:
    ax.set_ylabel("water held, g")
    curve = curve_of(brew)
    if curve is None:
        return
    ax.set_ylim(*held_span(curve))
    _band(ax, curve.time_s - brew.time_zero_s, curve.held_g, curve.held_sd_g, HELD, "in the bed")
    legend(ax, **TOP)


def _band(
    ax: Axes,
    t: NDArray[np.float64],
    y: NDArray[np.float64],
    sd: NDArray[np.float64],
    colour: str,
    label: str,
    **look: Any,
) -> None:
    ax.fill_between(t, y - 2 * sd, y + 2 * sd, color=hue(colour), alpha=0.25, linewidth=0)
    ax.plot(t, y, color=hue(colour), linewidth=1.2, label=label, **look)


def _by_hand(axes: Mapping[str, Axes], brew: Brew) -> None:
    """Mark the labelled edges: a dashed line through all panels, a triangle above the first, an entry in its legend."""
    at = [at_s - brew.time_zero_s for at_s in edges_by_hand(brew)]
    if not at:
        return
    for name, ax in axes.items():
        for at_s in at:
            below_words = 1 / (1 + LABELS) if name == "flow" else 1.0
            ax.axvline(at_s, ymax=below_words, color=ink(), linewidth=0.9, linestyle=(0, (5, 2)))
    upper = next(iter(axes.values()))
    look: dict[str, Any] = {"color": ink(), "linestyle": "", "marker": "v", "markersize": 6, "clip_on": False}
    upper.plot(at, [1.0] * len(at), transform=upper.get_xaxis_transform(), label="edge set by hand", **look)
    legend(upper, **TOP)


def _marks(ax: Axes, brew: Brew, low: bool) -> None:
    """Write what the dotted lines are, at the top or at the bottom of a panel."""
    start, end = ax.get_xlim()
    for mark in marks_of(brew):
        at_s = mark.at_s - brew.time_zero_s
        late = at_s > start + 0.6 * (end - start)
        look: dict[str, Any] = {"ha": "right" if late else "left", "xytext": (-4 if late else 4, -3)}
        if low:
            look |= {"xy": (at_s, 0), "xytext": (look["xytext"][0], 3), "va": "bottom"}
        _word(ax, at_s, f"{mark.word} {clock(at_s)}", fontsize=points(7.5), **look)
