"""In: a log, initial labels, and edits. Out: the labels after each step, the brew analysed with them, and undo."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from .._figures.looks import time_span, weights_of
from .._pourline import Labels, analyze
from ..errors import PourlineError, _without_warnings

if TYPE_CHECKING:
    from .._pourline import Log, Options

# Duration of an added pour if there is room, and the least below which it is refused.
ADDED_S = 5.0
LEAST_S = 0.2


class Steps:
    """The edited edges of one log; a refused step changes nothing."""

    def __init__(self, log: Log, labels: Labels | None = None, options: Options | None = None) -> None:
        """Analyse the log without labels, and with them."""
        self.log = log
        self.options = options
        with _without_warnings():
            self.as_found = analyze(log, options)
        of = Labels.of(self.as_found, log)
        # The author and the sd of labels are retained after a reset to the detected edges.
        mine: dict[str, Any] = {} if labels is None else {"sd_s": labels.sd_s, "by": labels.by, "note": labels.note}
        self.found = Labels(of.pours, log_digest=of.log_digest, **mine)
        self.span_s = time_span(weights_of(log))
        self.past: list[Labels] = []
        self._take(labels or self.found)

    @property
    def by_hand(self) -> list[str]:
        """For each pour, which edges were labelled, not detected: `start`, `end`, `both` or `none`."""
        labelled = self.brew.labelled
        return labelled.by_hand if labelled is not None else ["none"] * len(self.brew.pours)

    def move(self, pour: int, start_s: float | None = None, end_s: float | None = None) -> None:
        """Set an edge of a pour; pours count from 1."""
        self._step(self.labels.moved(pour, start_s=start_s, end_s=end_s))

    def add(self, at_s: float) -> int:
        """Add a pour around an instant, limited by its neighbours; return its number."""
        low, high = self.span_s
        for place, (start_s, end_s) in enumerate(self.labels.pours, 1):
            if start_s <= at_s <= end_s:
                raise PourlineError(f"{at_s:.2f} s lies in pour {place}: move the line to a rest")
            low, high = (max(low, end_s), high) if end_s < at_s else (low, min(high, start_s))
        room = (high - low) / 20
        start_s, end_s = max(low + room, at_s - ADDED_S / 2), min(high - room, at_s + ADDED_S / 2)
        if end_s - start_s < LEAST_S:
            raise PourlineError(f"there is no room for a pour at {at_s:.2f} s")
        # Rounded inwards to a hundredth: the resolution of a pointer is no finer.
        added = self.labels.added(math.ceil(start_s * 100) / 100, math.floor(end_s * 100) / 100)
        self._step(added)
        return 1 + sum(end < at_s for _, end in self.labels.pours)

    def remove(self, pour: int) -> None:
        """Remove a pour."""
        self._step(self.labels.removed(pour))

    def undo(self, steps: int = 1) -> None:
        """Undo this number of steps, at most all."""
        if not self.past:
            raise PourlineError("there is no step to undo")
        steps = min(max(1, steps), len(self.past))
        self._take(self.past[-steps])
        del self.past[-steps:]

    def reset(self) -> None:
        """Reset all edges to the detected ones, as a further step."""
        self._step(self.found)

    def _step(self, labels: Labels) -> None:
        before = self.labels
        self._take(labels)
        self.past.append(before)

    def _take(self, labels: Labels) -> None:
        with _without_warnings():
            self.brew = self.as_found if labels == self.found else analyze(self.log, self.options, labels=labels)
        self.labels = labels
