"""In: a growing log. Out: one line with the current state, overwritten on a terminal; at the end the analysed pours."""

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
    """One line, overwritten on a terminal; successive lines otherwise, or if NO_COLOR is set."""

    def __init__(self) -> None:
        """Determine whether standard output is a terminal."""
        self._over = sys.stdout.isatty() and not os.environ.get("NO_COLOR")

    def show(self, text: str) -> None:
        """Show the current line."""
        if self._over:
            sys.stdout.write(f"\r{text[: shutil.get_terminal_size().columns - 1]}\x1b[K")
        else:
            sys.stdout.write(f"{text}\n")
        sys.stdout.flush()

    def clear(self) -> None:
        """Clear the line for further output."""
        if self._over:
            sys.stdout.write("\r\x1b[K")
            sys.stdout.flush()


class Watch:
    """A brew whose log grows."""

    def __init__(self, arguments: argparse.Namespace) -> None:
        """Start without samples."""
        self._arguments = arguments
        self.live: Live | None = None
        self.error: PourlineError | None = None
        self.notes: list[str] = []
        self._seen = 0

    def read(self, text: bytes) -> Iterator[LiveState]:
        """Read the log so far, and yield the live state at each new sample."""
        try:
            log = read_log(text, self._arguments, {})
        except PourlineError as error:
            # A log that has just begun may be too short to read.
            self.error = error
            return
        self.error, self.notes = None, log.notes
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
    """Follow a log until it ends or Ctrl-C is pressed; then analyse the whole log."""
    if not arguments.every > 0:
        raise PourlineError(f"--every {arguments.every:g}: more than 0 s is needed", column="every")
    plan = Plan.read(arguments.plan) if arguments.plan else None
    growing = GrowingInput() if arguments.file == "-" else GrowingFile(arguments.file)
    watch, clock, screen = Watch(arguments), None if plan is None else PlanClock(plan), Screen()
    with contextlib.suppress(KeyboardInterrupt):
        _follow(growing, watch, clock, screen, arguments)
    screen.clear()
    if watch.live is None:
        complain(watch.error or "no data received")
        return ALL_FAILED
    lines, brew = Lines(), watch.live.finish()
    lines.write(arguments.file, brew)
    for note in watch.notes:
        lines.line(f"From the file: {note}.")
    if plan is not None:
        PlanLines().write(arguments.file, plan.follow(brew))
    if watch.error is not None:
        # The rows after the last sample of the printed brew cannot be read.
        complain(watch.error)
        return SOME_FAILED
    return lines.code()


def _follow(
    growing: Growing, watch: Watch, clock: PlanClock | None, screen: Screen, arguments: argparse.Namespace
) -> None:
    grew_s = time.monotonic()
    while True:
        # The end is checked before reading, so that a last line without a line feed is read too.
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
