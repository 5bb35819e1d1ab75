"""In: the live state at a sample, and a plan. Out: one line of text, or large digits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .._pourline import Estimate
from .words import clock

if TYPE_CHECKING:
    from .._pourline import Brew, LiveState, Plan

# Each digit is five rows of three dots.
DOTS = {
    "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###",
    "2": "### ..# ### #.. ###",
    "3": "### ..# ### ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###",
    "6": "### #.. ### #.# ###",
    "7": "### ..# ..# ..# ..#",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ###",
    "-": "... ... ### ... ...",
    ".": ". . . . #",
    ":": ". # . # .",
}
ROWS = 5
# The digits keep their size while the numbers grow.
GAP = "  "
WIDEST = ("8:88", "88.8", "888")
# A start while the pour runs and its analysis are at most this far apart, s.
SAME_S = 1.5


class Clock:
    """The time of the brew, which counts from the start of its first pour."""

    def __init__(self) -> None:
        """Begin before the first pour."""
        self.starts_s: list[float] = []

    def see(self, now: LiveState) -> None:
        """Record the start of a pour, or remove the last start if its pour was withdrawn."""
        if now.began is not None:
            self.starts_s.append(now.began)
        if now.withdrawn is not None and self.starts_s:
            self.starts_s.pop()

    def time(self, now: LiveState) -> str:
        """Return the time since the first start; a dash before it."""
        return clock(now.time_s - self.starts_s[0]) if self.starts_s else "-:--"


def now_words(now: LiveState, at: str) -> str:
    """Return time, state, flow, mass of the current pour and the total mass."""
    rate = f"{_flow(now)} g/s"
    aside = "" if now.flag in ("used", "after_gap") else f"  ({now.flag})"
    if now.pour is None:
        return f"{at:>5}  rest    {'':>8}  {now.poured_g:5.1f} g poured{aside}"
    return f"{at:>5}  pour {now.pour:<2} {rate:>8}  {now.mass_g or 0.0:5.1f} g of {now.poured_g:.1f} g{aside}"


def ended_words(brew: Brew, start_s: float) -> str:
    """Return what the pour of that start is judged by, in a line; empty if the analysis does not have it."""
    near = [place for place, pour in enumerate(brew.pours) if abs(pour.start_s.value - start_s) < SAME_S]
    if not near:
        return ""
    pour, row = brew.pours[near[-1]], brew.metrics.pours[near[-1]]
    share, flow = row.time_near_plateau_pct, pour.mean_flow_g_per_s
    rate = f" at {flow.value:.1f} g/s" if isinstance(flow, Estimate) else ""
    steady = f", {share.value:.0f} % of it near its own flow" if isinstance(share, Estimate) else ""
    return f"pour {near[-1] + 1}: {pour.mass_g.value:.1f} g{rate}{steady}"


class PlanClock:
    """The deviation of a brew from its plan while it is poured; time 0 is the start of the first detected pour."""

    def __init__(self, plan: Plan, clock: Clock) -> None:
        """Begin before the first pour."""
        self._plan = plan
        self._clock = clock

    def left_g(self, now: LiveState) -> float | None:
        """Return the mass that is left of the current pour, or of the next one at rest; None without one."""
        pours, done = self._plan.pours, len(self._clock.starts_s)
        if now.pour is None:
            return pours[done].mass_g if done < len(pours) else None
        return sum(pour.mass_g for pour in pours[:done]) - now.poured_g if done <= len(pours) else None

    def words(self, now: LiveState) -> str:
        """Return mass left and delay of the current pour; at rest, the deviation and the time of the next pour."""
        starts_s = self._clock.starts_s
        pours, done = self._plan.pours, len(starts_s)
        if done > len(pours):
            return f"not in the plan, which has {len(pours)}"
        due_g = sum(pour.mass_g for pour in pours[:done])
        left_g = due_g - now.poured_g
        if now.pour is not None:
            late_s = starts_s[-1] - starts_s[0] - pours[done - 1].start_s
            late = "" if done == 1 else f", began {abs(late_s):.1f} s {'late' if late_s >= 0 else 'early'}"
            return f"{left_g:.1f} g to go{late}" if left_g >= 0 else f"{-left_g:.1f} g too much{late}"
        deviation = "" if done == 0 else f"{abs(left_g):.1f} g {'short' if left_g >= 0 else 'too much'}"
        if done == len(pours):
            return deviation
        if done == 0:
            return f"{pours[0].mass_g:g} g to begin with"
        wait_s = starts_s[0] + pours[done].start_s - now.time_s
        due = f"due in {wait_s:.0f} s" if wait_s >= 0 else f"due {-wait_s:.0f} s ago"
        return f"{deviation}, pour {done + 1} of {pours[done].mass_g:g} g {due}"


def large(now: LiveState, at: str, left_g: float | None, width: int) -> list[str]:
    """Return rows for a screen that is read across a room: the time, the flow, and the mass, each under its head.

    The mass is that left of the planned pour, else that of the pour or of the brew. Dots are as wide as they fit.
    """
    if left_g is None:
        head, mass_g = ("this pour, g", now.mass_g) if now.mass_g is not None else ("poured, g", now.poured_g)
    else:
        head, mass_g = ("to go, g" if now.pour is not None else "next pour, g"), left_g
    parts = [("time", at.replace("-:--", "--")), ("flow, g/s", _flow(now)), (head, f"{mass_g or 0.0:.0f}")]
    wide = next((dots for dots in (4, 3, 2) if sum(_wide(text, dots) for text in WIDEST) + 2 * len(GAP) < width), 1)
    sizes = [max(_wide(text, wide), len(title)) for title, text in parts]
    rows = [[title, *_digits(text, wide)] for title, text in parts]
    return [
        GAP.join(f"{row[place]:<{size}}" for row, size in zip(rows, sizes, strict=True)).rstrip()[: width - 1]
        for place in range(ROWS + 1)
    ]


def _flow(now: LiveState) -> str:
    flow = now.flow_g_per_s.value
    return "-" if math.isnan(flow) else f"{max(flow, 0.0):.1f}"


def _digits(text: str, wide: int) -> list[str]:
    glyphs = [DOTS[sign].split() for sign in text if sign in DOTS]
    return [
        (" " * wide).join("".join(("█" if dot == "#" else " ") * wide for dot in glyph[row]) for glyph in glyphs)
        for row in range(ROWS)
    ]


def _wide(text: str, wide: int) -> int:
    return max(map(len, _digits(text, wide)), default=0)
