"""In: a log that grows. Out: one line on what is poured now, written over on a terminal; at the end the pours, analysed
whole.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .._io.growing import Growing, GrowingFile, GrowingInput
from .._pourline import Live, LiveState, Log, Plan
from .._text.live import PlanClock, now_words
from ..errors import PourlineError
from .logs import read_log
from .output import ALL_FAILED, SOME_FAILED, Lines, PlanLines, complain


class Screen:
    """One line that is written over on a terminal; a line after the other elsewhere, or where NO_COLOR asks for it."""

    def __init__(self) -> None:
        """Find out which."""
        self._over = sys.stdout.isatty() and not os.environ.get("NO_COLOR")

    def show(self, text: str) -> None:
        """Show the line as it is now."""
        if self._over:
            sys.stdout.write(f"\r{text[: shutil.get_terminal_size().columns - 1]}\x1b[K")
        else:
            sys.stdout.write(f"{text}\n")
        sys.stdout.flush()

    def clear(self) -> None:
        """Leave the place to what comes next."""
        if self._over:
            sys.stdout.write("\r\x1b[K")
            sys.stdout.flush()


class Watch:
    """A brew of which more becomes known."""

    def __init__(self, arguments: argparse.Namespace) -> None:
        """Begin before the first sample."""
        self._arguments = arguments
        self.live: Live | None = None
        self.error: PourlineError | None = None
        self._seen = 0

    def read(self, text: bytes) -> Iterator[LiveState]:
        """Read the log so far, and yield what is known at each sample that is new."""
        try:
            log = read_log(text, self._arguments, {})
        except PourlineError as error:
            # Of a log that has just begun too little is known yet.
            self.error = error
            return
        self.error = None
        if self.live is None:
            self.live = Live(**self._meta(log))
        columns = [log.water_g, log.beverage_g]
        for row in range(self._seen, len(log)):
            water_g, beverage_g = (None if column is None else float(column[row]) for column in columns)
            yield self.live.push(float(log.time_s[row]), water_g, beverage_g)
        self._seen = len(log)

    def _meta(self, log: Log) -> dict[str, Any]:
        meta: dict[str, Any] = log.meta.to_dict()
        if self._arguments.file != "-":
            meta.setdefault("name", Path(self._arguments.file).stem)
        return meta


def run_watch(arguments: argparse.Namespace) -> int:
    """Follow a log until it ends, or until somebody presses Ctrl-C; then analyse it whole."""
    if not arguments.every > 0:
        raise PourlineError(f"--every {arguments.every:g}: more than 0 s is needed", column="every")
    plan = Plan.read(arguments.plan) if arguments.plan else None
    growing = GrowingInput() if arguments.file == "-" else GrowingFile(arguments.file)
    watch, clock, screen = Watch(arguments), None if plan is None else PlanClock(plan), Screen()
    with contextlib.suppress(KeyboardInterrupt):
        _follow(growing, watch, clock, screen, arguments)
    screen.clear()
    if watch.live is None:
        complain(watch.error or "nothing has come")
        return ALL_FAILED
    lines, brew = Lines(), watch.live.finish()
    lines.tell(arguments.file, brew)
    lines.explain()
    if plan is not None:
        PlanLines().tell(arguments.file, plan.follow(brew))
    if watch.error is not None:
        # What came after the brew told above cannot be read.
        complain(watch.error)
        return SOME_FAILED
    return lines.code()


def _follow(
    growing: Growing, watch: Watch, clock: PlanClock | None, screen: Screen, arguments: argparse.Namespace
) -> None:
    grew_s = time.monotonic()
    while True:
        # The end is seen before what came before it is read, so that a last line without an end is read too.
        if growing.look() or growing.ended:
            grew_s = time.monotonic()
            now = None
            for now in watch.read(growing.lines()):
                if clock is not None:
                    clock.see(now)
            if now is not None:
                plan = "" if clock is None else f"  plan: {clock.words(now)}"
                screen.show(now_words(now) + plan)
        if growing.ended or time.monotonic() - grew_s > arguments.patience:
            return
        time.sleep(arguments.every)
