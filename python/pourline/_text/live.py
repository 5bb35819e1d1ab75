"""In: the live state at a sample, and a plan. Out: one line of text."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .._pourline import LiveState, Plan


def now_words(now: LiveState) -> str:
    """Return time, state, flow with its sd, mass of the current pour and the total mass."""
    flow = now.flow_g_per_s
    rate = f"{flow.value:5.1f} ± {flow.sd:3.1f} g/s" if flow.value == flow.value else f"{'-':>15}"
    state = "rest" if now.pour is None else f"pour {now.pour}"
    mass = "" if now.mass_g is None else f"{now.mass_g:.1f} of "
    aside = "" if now.flag in ("used", "after_gap") else f"  ({now.flag})"
    return f"{now.time_s:7.1f} s  {state:<8}{rate}  {mass:>9}{now.poured_g:5.1f} g{aside}"


class PlanClock:
    """The deviation of a brew from its plan while it is poured; time 0 is the start of the first detected pour."""

    def __init__(self, plan: Plan) -> None:
        """Begin before the first pour."""
        self._plan = plan
        self._starts_s: list[float] = []

    def see(self, now: LiveState) -> None:
        """Record the start of a pour, or remove the last start if its pour was withdrawn."""
        if now.began is not None:
            self._starts_s.append(now.began)
        if now.withdrawn is not None and self._starts_s:
            self._starts_s.pop()

    def words(self, now: LiveState) -> str:
        """Return mass left and delay of the current pour; at rest, the deviation and the time of the next pour."""
        pours, done = self._plan.pours, len(self._starts_s)
        if done > len(pours):
            return f"not in the plan, which has {len(pours)}"
        due_g = sum(pour.mass_g for pour in pours[:done])
        left_g = due_g - now.poured_g
        if now.pour is not None:
            late_s = self._starts_s[-1] - self._starts_s[0] - pours[done - 1].start_s
            late = "" if done == 1 else f", began {abs(late_s):.1f} s {'late' if late_s >= 0 else 'early'}"
            return f"{left_g:.1f} g to go{late}" if left_g >= 0 else f"{-left_g:.1f} g too much{late}"
        deviation = "" if done == 0 else f"{abs(left_g):.1f} g {'short' if left_g >= 0 else 'too much'}"
        if done == len(pours):
            return deviation
        if done == 0:
            return f"{pours[0].mass_g:g} g to begin with"
        wait_s = self._starts_s[0] + pours[done].start_s - now.time_s
        due = f"due in {wait_s:.0f} s" if wait_s >= 0 else f"due {-wait_s:.0f} s ago"
        return f"{deviation}, pour {done + 1} of {pours[done].mass_g:g} g {due}"
