"""In: a brew or a log. Out: the content of its figures: panels, weights, events, marks, ranges, colours.

Each colour has a contrast of at least 4.5 to white and to the shade of a pour. Lines of one panel differ in dash too, so
that they are distinguishable in grey.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .._pourline import BedCurve, Estimate, Log

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .._pourline import Brew, Event

WATER = "#326a99"
BEVERAGE = "#98591f"
FLOW = "#2f7068"
HELD = "#6f5da3"
LEAST_HELD_G = 1.0
LOOKS = {"water": (WATER, False), "beverage": (BEVERAGE, True)}
LEAST_G = 20.0
POUR = "#9fb9cf"
EVENT = "#a8455a"
OTHERS = "#9a9a9a"
# Colour and dash of each group of brews, the darkest first.
GROUPS: tuple[tuple[str, str | tuple[int, tuple[float, ...]]], ...] = (
    ("#1f4e79", "-"),
    ("#c9762b", (0, (5, 1.5))),
    ("#3f8580", (0, (1.5, 1.2))),
    ("#8d6aa8", (0, (6, 1.5, 1.5, 1.5))),
)


class Weights(NamedTuple):
    """One weight over time, with a mask of its used samples."""

    channel: str
    time_s: NDArray[np.float64]
    mass_g: NDArray[np.float64]
    used: NDArray[np.bool_]

    @property
    def last_g(self) -> float:
        """The last used reading."""
        used = self.mass_g[self.used]
        return float(used[-1]) if len(used) else 0.0

    def line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the used samples, with NaN in gaps of more than a second, so that the line breaks there."""
        time_s, mass_g = self.time_s[self.used], self.mass_g[self.used]
        apart = np.diff(time_s)
        breaks = np.flatnonzero(apart > max(1.0, 5.0 * float(np.median(apart)) if len(apart) else 1.0)) + 1
        return np.insert(time_s, breaks, time_s[breaks]), np.insert(mass_g, breaks, np.nan)


def weights_of(source: Brew | Log) -> list[Weights]:
    """Return the weights: conditioned with their flags for a brew, raw for a log."""
    found: list[Weights] = []
    if isinstance(source, Log):
        order = np.argsort(source.time_s, kind="stable")
        for channel, mass_g in (("water", source.water_g), ("beverage", source.beverage_g)):
            if mass_g is not None:
                used = np.isfinite(mass_g[order])
                found.append(Weights(channel, source.time_s[order], mass_g[order], used))
        return found
    trace = source.trace
    for channel, weighed in (("water", trace.water), ("beverage", trace.beverage)):
        if weighed is not None:
            found.append(Weights(channel, trace.time_s, weighed.mass_g, weighed.flag == "used"))
    return found


class Curve(NamedTuple):
    """A line of a figure: its full name, its name in the legend, its style, its numbers."""

    name: str
    word: str
    unit: str
    colour: str
    dashed: bool
    time_s: NDArray[np.float64]
    value: NDArray[np.float64]
    sd: NDArray[np.float64] | None = None
    # The sample of the line in the legend.
    last: str = ""


def weight_curves(weights: Sequence[Weights]) -> list[Curve]:
    """Return the weights."""
    return [
        Curve(one.channel, one.channel, "g", *LOOKS[one.channel], *one.line(), last=f"{one.last_g:.0f} g")
        for one in weights
    ]


def flow_curves(brew: Brew) -> list[Curve]:
    """Return the flow of water and of beverage, each with its sd, if they are defined."""
    found = []
    flow, curve = brew.flow, curve_of(brew)
    if flow is not None:
        q, sd = flow.flow_g_per_s, flow.flow_sd_g_per_s
        found.append(Curve("flow of water", "water", "g/s", FLOW, False, flow.time_s, q, sd))
    if curve is not None:
        q, sd = curve.beverage_flow_g_per_s, curve.beverage_flow_sd_g_per_s
        found.append(Curve("flow of beverage", "beverage", "g/s", BEVERAGE, True, curve.time_s, q, sd))
    return found


def held_curves(brew: Brew) -> list[Curve]:
    """Return the water held, if it is defined."""
    curve = curve_of(brew)
    return [] if curve is None else [Curve("held", "", "g", HELD, False, curve.time_s, curve.held_g, curve.held_sd_g)]


def close_span(curves: Sequence[Curve], span_s: tuple[float, float]) -> tuple[float, float] | None:
    """Return the range of the weights within a span of time, with a minimum that limits the zoom into noise."""
    inside = [one.value[(one.time_s >= span_s[0]) & (one.time_s <= span_s[1])] for one in curves]
    seen = np.concatenate([values[np.isfinite(values)] for values in inside])
    if not len(seen):
        return None
    low, high = float(seen.min()), float(seen.max())
    room = max(0.08 * (high - low), (LEAST_G - (high - low)) / 2, 1.0)
    return low - room, high + room


def mass_span(weights: Sequence[Weights], below: float = 0.02) -> tuple[float, float]:
    """Return the range of the used readings, with a margin above for the numbers of the pours and one below."""
    used = np.concatenate([w.mass_g[w.used] for w in weights])
    low, high = (float(used.min()), float(used.max())) if len(used) else (0.0, 1.0)
    room = max(high - low, 1.0)
    return min(0.0, low) - below * room, high + 0.12 * room


def time_span(weights: Sequence[Weights]) -> tuple[float, float]:
    """Return the range of the stamps."""
    low = min(float(w.time_s[0]) for w in weights)
    high = max(float(w.time_s[-1]) for w in weights)
    return low, max(high, low + 1e-6)


def curve_of(brew: Brew) -> BedCurve | None:
    """Return the curve of the bed over time, if it is defined."""
    curve = brew.bed.curve
    return curve if isinstance(curve, BedCurve) and np.isfinite(curve.beverage_g).any() else None


def panels_of(brew: Brew) -> list[str]:
    """Return the panels with data, from top to bottom."""
    curve = curve_of(brew)
    has_flow = brew.flow is not None or curve is not None
    holds = curve is not None and float(np.nanmax(np.abs(curve.held_g), initial=0.0)) > LEAST_HELD_G
    return ["weight", *(["flow"] if has_flow else []), *(["held"] if holds else [])]


def flow_top(brew: Brew, room: float) -> float:
    """Return the highest flow to show, g/s, with room for text above the pours as a fraction of it."""
    curve = curve_of(brew)
    flows = [brew.flow.flow_g_per_s] if brew.flow is not None else []
    flows += [curve.beverage_flow_g_per_s] if curve is not None else []
    return max(1.0, (1.0 + room) * max((float(np.nanmax(q, initial=0.0)) for q in flows), default=0.0))


def held_span(curve: BedCurve) -> tuple[float, float]:
    """Return the range of the water held, g, with room for text above."""
    low, high = float(np.nanmin(curve.held_g)), float(np.nanmax(curve.held_g))
    return min(0.0, 1.1 * low), max(1.0, 1.3 * high)


class Mark(NamedTuple):
    """A marked instant and its label."""

    word: str
    at_s: float


def marks_of(brew: Brew) -> list[Mark]:
    """Return first drip and the end of the drawdown, if they are defined."""
    found = (("first drip", brew.bed.first_drip_s), ("drawdown ends", brew.bed.drawdown_end_s))
    return [Mark(word, at.value) for word, at in found if isinstance(at, Estimate)]


def edges_by_hand(brew: Brew) -> list[float]:
    """Return the instants of the labelled edges, s."""
    words = brew.labelled.by_hand if brew.labelled else ["none"] * len(brew.pours)
    return [
        at.value
        for word, pour in zip(words, brew.pours, strict=True)
        for edge, at in (("start", pour.start_s), ("end", pour.end_s))
        if word in (edge, "both")
    ]


def weight_of(event: Event) -> float:
    """Return the opacity of an event: a long one is fainter, so that shorter ones within it are visible."""
    return 0.4 if event.kind in ("preparation", "drift", "next_brew") else 1.0


def distinct_events(events: Sequence[Event]) -> list[Event]:
    """Return the events; one that concerns both weights is listed once."""
    seen: set[tuple[str, float, float]] = set()
    distinct = []
    for event in events:
        key = (event.kind, event.start_s, event.end_s)
        if key not in seen:
            seen.add(key)
            distinct.append(event)
    return distinct
