"""In: a data range and a rectangle on the page. Out: its lines, bands, ticks and words as SVG text."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .._escape import escape

if TYPE_CHECKING:
    from numpy.typing import NDArray


class Panel(NamedTuple):
    """A rectangle on the page with the data range that it shows."""

    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def across(self, x: float) -> float:
        """Return where a time stands on the page."""
        return self.left + (x - self.x[0]) / (self.x[1] - self.x[0]) * self.width

    def up(self, y: float) -> float:
        """Return where a value stands on the page."""
        return self.top + self.height - (y - self.y[0]) / (self.y[1] - self.y[0]) * self.height

    def path(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> str:
        """Return the path of a line, broken where there is no number, with no more points than the page can show."""
        keep = extremes(y, int(self.width))
        parts, pen = [], "M"
        for xi, yi in zip(*bends(x[keep], y[keep], self.height / (self.y[1] - self.y[0])), strict=True):
            if yi != yi:
                pen = "M"
                continue
            parts.append(f"{pen}{self.across(xi):.1f} {self.up(yi):.1f}")
            pen = "L"
        return "".join(parts)

    def axes(self, label: str, ticks: int) -> str:
        """Return the ticks of the values with their faint lines, and the label."""
        parts = []
        for value in nice(self.y, ticks):
            at = self.up(value)
            parts.append(
                f'<path d="M{self.left:.1f} {at:.1f}h{self.width:.1f}" stroke="currentColor" stroke-opacity=".12"/>'
                f'<text x="{self.left - 6:.1f}" y="{at + 3.5:.1f}" text-anchor="end">{value:g}</text>'
            )
        parts.append(f'<text x="{self.left:.1f}" y="{self.top - 5:.1f}" font-style="italic">{escape(label)}</text>')
        return "".join(parts)

    def time_axis(self) -> str:
        """Return the ticks of the time below the panel."""
        base = self.top + self.height
        parts = [f'<path d="M{self.left:.1f} {base:.1f}h{self.width:.1f}" stroke="currentColor" stroke-opacity=".6"/>']
        for value in nice(self.x, 8):
            at = self.across(value)
            parts.append(
                f'<path d="M{at:.1f} {base:.1f}v4" stroke="currentColor" stroke-opacity=".6"/>'
                f'<text x="{at:.1f}" y="{base + 15:.1f}" text-anchor="middle">{value:g}</text>'
            )
        end = self.left + self.width
        parts.append(f'<text x="{end + 18:.1f}" y="{base + 15:.1f}" font-style="italic">time, s</text>')
        return "".join(parts)


def extremes(y: NDArray[np.float64], columns: int) -> NDArray[np.intp]:
    """Return the samples that draw the same line on so many columns: the lowest and highest of each."""
    if len(y) <= 4 * columns:
        return np.arange(len(y))
    keep: set[int] = {0, len(y) - 1}
    edges = np.linspace(0, len(y), columns + 1).astype(int)
    for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        part = y[first:last]
        keep |= {first + int(np.argmin(part)), first + int(np.argmax(part))}
    return np.array(sorted(keep))


def bends(x: NDArray[np.float64], y: NDArray[np.float64], scale: float) -> tuple[list[float], list[float]]:
    """Leave out the points inside a level stretch, seen at a tenth of a pixel."""
    level = np.round(y * scale, 1)
    same = level[1:] == level[:-1]
    keep = np.ones(len(y), dtype=bool)
    keep[1:-1] = ~(same[1:] & same[:-1])
    return x[keep].tolist(), y[keep].tolist()


def nice(span: tuple[float, float], count: int) -> list[float]:
    """Return about so many round values within a span."""
    step = (span[1] - span[0]) / count
    scale = 10.0 ** np.floor(np.log10(step))
    step = float(scale * next(m for m in (1, 2, 5, 10) if m * scale >= step * 0.999))
    first = int(np.ceil(span[0] / step - 1e-9))
    return [i * step for i in range(first, int(np.floor(span[1] / step + 1e-9)) + 1)]
