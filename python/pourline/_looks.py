"""In: a brew or a log. Out: what every figure of it shows: the weights, the events to tell, the ranges, the colours.

The colours differ in lightness, so they can be told apart in grey and without red and green.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ._pourline import Log

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from ._pourline import Brew, Event

WATER = "#3b76a8"
BEVERAGE = "#b8763a"
FLOW = "#3f8580"
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
    """One weight over time, and which of its samples were used."""

    channel: str
    time_s: NDArray[np.float64]
    mass_g: NDArray[np.float64]
    used: NDArray[np.bool_]

    @property
    def last_g(self) -> float:
        """The last reading that was used."""
        used = self.mass_g[self.used]
        return float(used[-1]) if len(used) else 0.0

    def line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the used samples, with NaN where more than a second is missing, so that a line breaks there."""
        time_s, mass_g = self.time_s[self.used], self.mass_g[self.used]
        apart = np.diff(time_s)
        breaks = np.flatnonzero(apart > max(1.0, 5.0 * float(np.median(apart)) if len(apart) else 1.0)) + 1
        return np.insert(time_s, breaks, time_s[breaks]), np.insert(mass_g, breaks, np.nan)


def weights_of(source: Brew | Log) -> list[Weights]:
    """Return the weights that were taken: conditioned with their flags for a brew, as they were read for a log."""
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


def flow_top(brew: Brew) -> float:
    """Return the highest flow to show, g/s."""
    if brew.flow is None:
        return 1.0
    return max(1.0, 1.15 * float(np.nanmax(brew.flow.flow_g_per_s, initial=0.0)))


def weight_of(event: Event) -> float:
    """Return how strongly an event is drawn: what goes on for long is fainter, so that what happens within is seen."""
    return 0.4 if event.kind in ("preparation", "drift") else 1.0


def told_events(events: Sequence[Event]) -> list[Event]:
    """Return the events, those that concern both weights once."""
    seen: set[tuple[str, float, float]] = set()
    told = []
    for event in events:
        key = (event.kind, event.start_s, event.end_s)
        if key not in seen:
            seen.add(key)
            told.append(event)
    return told
