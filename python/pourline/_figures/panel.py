"""In: a data range and a rectangle on the page. Out: its lines, bands, ticks and labels as SVG text.

Lines are written to a hundredth of a unit of the page, so that a script can read values from them. They have as few
points as keep every sample within a small height of its line: WITHIN, or a share of its sd if that is more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .._escape import escape
from .._text.words import clock

if TYPE_CHECKING:
    from numpy.typing import NDArray

CLOCK = "time, min:s"
TEXT, SMALL = 12.0, 11.0
# Hundredths of a unit of the page, of which an eye sees no six, and a share of the sd; twice that for edges of bands.
WITHIN, OF_SD = 6.0, 0.15
# How far a figure may shrink, as a share of its width, before its words are too small: beyond that it is scrolled.
LEGIBLE = 0.78
# How wide a sign of `system-ui` is on average, as a share of the size of the text.
WIDE = 0.55


class Panel(NamedTuple):
    """A rectangle on the page with the data range that it shows."""

    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]
    # The instant from which the written times count; None keeps the clock of the log.
    zero_s: float | None = None
    # How many times coarser than usual its lines may be; 0 keeps every sample on its line.
    coarse: int = 1

    @property
    def right(self) -> float:
        """Right edge on the page."""
        return self.left + self.width

    @property
    def base(self) -> float:
        """Lower edge on the page."""
        return self.top + self.height

    def across(self, x: float) -> float:
        """Return the x position of a time on the page."""
        return self.left + (x - self.x[0]) / (self.x[1] - self.x[0]) * self.width

    def up(self, y: float) -> float:
        """Return the y position of a value on the page."""
        return self.base - (y - self.y[0]) / (self.y[1] - self.y[0]) * self.height

    def seen(self, x: NDArray[np.float64], *values: NDArray[np.float64]) -> list[NDArray[np.float64]]:
        """Return the part of a series that lies within the range of x, cut at its ends."""
        first = max(int(np.searchsorted(x, self.x[0])) - 1, 0)
        last = int(np.searchsorted(x, self.x[1], side="right")) + 1
        part = [series[first:last].astype(np.float64) for series in (x, *values)]
        for place, other in ((0, 1), (-1, -2)):
            edge = float(np.clip(part[0][place], *self.x)) if len(part[0]) > 1 else None
            if edge is not None and edge != part[0][place]:
                share = (edge - part[0][place]) / (part[0][other] - part[0][place])
                for series in part:
                    series[place] += share * (series[other] - series[place])
        return part

    def placed(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
        """Return the positions of points on the page, in hundredths, clipped to the height of the panel."""
        across = self.left + (x - self.x[0]) / (self.x[1] - self.x[0]) * self.width
        up = self.base - (np.clip(y, *self.y) - self.y[0]) / (self.y[1] - self.y[0]) * self.height
        return np.rint(100 * across).astype(int), np.rint(100 * up).astype(int)

    def line(self, x: NDArray[np.float64], y: NDArray[np.float64], sd: NDArray[np.float64] | None = None) -> str:
        """Return the path of a line, broken at missing numbers, with no more points than the page can show."""
        within = self._within(sd)
        x, y = self.seen(x, y)
        parts = []
        for run in runs(np.isfinite(y)):
            keep = run[extremes(y[run], int(self.width))]
            across, up = self.placed(x[keep], y[keep])
            few = sparse(within, across, up)
            parts.append(steps(across[few], up[few]))
        return "".join(parts)

    def band(self, x: NDArray[np.float64], y: NDArray[np.float64], sd: NDArray[np.float64]) -> str:
        """Return the path of a band of two sd around a line."""
        within = 2 * self._within(sd)
        x, y, half = self.seen(x, y, 2 * sd)
        parts = []
        for run in runs(np.isfinite(y) & np.isfinite(half)):
            keep = run[extremes(y[run], int(self.width))]
            (across, top), (_, bottom) = self.placed(x[keep], (y + half)[keep]), self.placed(x[keep], (y - half)[keep])
            few = sparse(within, across, top, bottom)
            across, top, bottom = across[few], top[few], bottom[few]
            parts.append(steps(np.append(across, across[::-1]), np.append(top, bottom[::-1])) + "Z")
        return "".join(parts)

    def _within(self, sd: NDArray[np.float64] | None) -> float:
        """Return the height within which a line passes its samples, in hundredths of a unit of the page."""
        known = np.array([]) if sd is None else sd[np.isfinite(sd)]
        per_unit = 100 * self.height / (self.y[1] - self.y[0])
        return self.coarse * (max(WITHIN, OF_SD * float(np.median(known)) * per_unit) if len(known) else WITHIN)

    def axes(self, label: str, ticks: int) -> str:
        """Return the ticks of the values with their faint lines, and the label."""
        parts = []
        for value in nice(self.y, ticks):
            at = self.up(value)
            parts.append(
                f'<path d="M{self.left:.1f} {at:.1f}h{self.width:.1f}" stroke="currentColor" stroke-opacity=".12"/>'
                f'<text x="{self.left - 6:.1f}" y="{at + 4:.1f}" text-anchor="end">{value:g}</text>'
            )
        parts.append(f'<text x="{self.left:.1f}" y="{self.top - 7:.1f}" font-style="italic">{escape(label)}</text>')
        return "".join(parts)

    def time_axis(self) -> str:
        """Return the ticks of the time below the panel."""
        zero_s, base = self.zero_s or 0.0, self.base
        name = "time of the log, s" if self.zero_s is None else CLOCK
        span = (self.x[0] - zero_s, self.x[1] - zero_s)
        count = max(2, int(self.width / 70))
        ticks = nice(span, count) if self.zero_s is None else clock_ticks(span, count)
        parts = [f'<path d="M{self.left:.1f} {base:.1f}h{self.width:.1f}" stroke="currentColor" stroke-opacity=".6"/>']
        for value in ticks:
            at, text = self.across(value + zero_s), f"{value:g}" if self.zero_s is None else tick_text(value)
            word = f'<text class="pourline-time" x="{at:.1f}" y="{base + 16:.1f}" text-anchor="middle">{text}</text>'
            parts.append(f'<path d="M{at:.1f} {base:.1f}v4" stroke="currentColor" stroke-opacity=".6"/>')
            parts.append(word if at < self.right - wide(name, TEXT) - 18 else "")
        parts.append(
            f'<text class="pourline-time" x="{self.right:.1f}" y="{base + 16:.1f}" text-anchor="end" '
            f'font-style="italic">{name}</text>'
        )
        return "".join(parts)


def wide(text: str, size: float = SMALL) -> float:
    """Return the approximate width of a text."""
    return WIDE * size * len(text)


def runs(defined: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Return the indices of each run without a gap."""
    places = np.flatnonzero(defined)
    return [run for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1) if len(run)]


def extremes(y: NDArray[np.float64], columns: int) -> NDArray[np.intp]:
    """Return the samples that draw the same line on this number of columns: the lowest and highest of each."""
    if len(y) <= 4 * columns:
        return np.arange(len(y))
    keep: set[int] = {0, len(y) - 1}
    edges = np.linspace(0, len(y), columns + 1).astype(int)
    for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        part = y[first:last]
        keep |= {first + int(np.argmin(part)), first + int(np.argmax(part))}
    return np.array(sorted(keep))


def sparse(within: float, x: NDArray[np.int_], *series: NDArray[np.int_]) -> list[int]:
    """Return the places of the points to keep: straight lines between them pass every point within a height.

    From each kept point on, the slopes that pass all later points form a cone; the last point inside it is kept next.

    >>> import numpy as np
    >>> sparse(6, np.arange(0, 60, 10), np.array([0, 1, 0, 0, 300, 600]))
    [0, 3, 5]
    """
    at = x.tolist()
    lines = [one.tolist() for one in series]
    kept = [0]
    while kept[-1] < len(at) - 1:
        first = best = kept[-1]
        cones = [(-np.inf, np.inf)] * len(lines)
        for place in range(first + 1, len(at)):
            away = at[place] - at[first]
            if away == 0:
                # Points above each other keep their order.
                best = best if best > first else place
                break
            rises = [line[place] - line[first] for line in lines]
            if all(low <= rise / away <= high for (low, high), rise in zip(cones, rises, strict=True)):
                best = place
            cones = [
                (max(low, (rise - within) / away), min(high, (rise + within) / away))
                for (low, high), rise in zip(cones, rises, strict=True)
            ]
            if any(low > high for low, high in cones):
                break
        kept.append(best)
    return kept


def steps(x: NDArray[np.int_], y: NDArray[np.int_]) -> str:
    """Return a path from hundredths: the first point, then relative steps."""
    pairs = [
        f"{across}{'' if up.startswith('-') else ' '}{up}"
        for across, up in zip(map(short, np.diff(x).tolist()), map(short, np.diff(y).tolist()), strict=True)
    ]
    joined = "".join(pair if k == 0 or pair.startswith("-") else f" {pair}" for k, pair in enumerate(pairs))
    return f"M{short(int(x[0]))} {short(int(y[0]))}" + (f"l{joined}" if pairs else "h0")


def short(hundredths: int) -> str:
    """Return hundredths as a number with as few characters as SVG allows.

    >>> short(1250), short(-47), short(300)
    ('12.5', '-.47', '3')
    """
    whole, part = divmod(abs(hundredths), 100)
    text = f"{whole or ''}.{part:02d}".rstrip("0") if part else str(whole)
    return f"-{text}" if hundredths < 0 else text


def clock_ticks(span: tuple[float, float], count: int) -> list[float]:
    """Return about `count` instants within a span at which a clock of minutes and seconds is round, s."""
    least = (span[1] - span[0]) / count
    if least <= 1:
        return nice(span, count) if least > 0 else []
    step = next((s for s in (2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 900, 1800) if s >= least * 0.999), 0)
    step = step or 3600 * int(np.ceil(least / 3600))
    return [float(k * step) for k in range(int(np.ceil(span[0] / step)), int(np.floor(span[1] / step)) + 1)]


def tick_text(at_s: float) -> str:
    """Return an instant as a clock, or in seconds if it is between two of them."""
    return clock(at_s) if at_s == int(at_s) else f"{at_s:g} s"


def nice(span: tuple[float, float], count: int) -> list[float]:
    """Return about `count` round values within a span."""
    step = (span[1] - span[0]) / count
    scale = 10.0 ** np.floor(np.log10(step))
    step = float(scale * next(m for m in (1, 2, 5, 10) if m * scale >= step * 0.999))
    first = int(np.ceil(span[0] / step - 1e-9))
    return [i * step for i in range(first, int(np.floor(span[1] / step + 1e-9)) + 1)]
