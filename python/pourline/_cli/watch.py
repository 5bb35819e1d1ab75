"""In: a growing log. Out: the current state, overwritten on a terminal; a line at the end of each pour; at the end the
analysed pours.

What is held is analysed and printed whatever ends it: the end of the input, patience, Ctrl-C, SIGTERM, or a file that
is removed, cut or replaced. A text that replaces another is another brew.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import shutil
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .._escape import plain
from .._io.growing import Growing, GrowingFile, GrowingInput
from .._pourline import Live, LiveState, Log, Plan
from .._text.live import Clock, PlanClock, ended_words, large, now_words
from ..errors import PourlineError
from .logs import read_log
from .output import ALL_FAILED, ALL_GOOD, SOME_FAILED, Lines, PlanLines, complain

# A file may be away for a moment while it is written anew, s.
AWAY_S = 2.0
# From this time without a sample on, the screen says so, s.
STALLED_S = 3.0
# A pour is judged once its flow was below this for so long; it may go on after that, and is judged again.
CALM_G_PER_S = 0.5
CALM_S = 0.3
# Lines of junk in a log that is still followed.
MOST_JUNK = 100
# What ends a brew and begins another.
NEXT = ("was cut", "was replaced")


class Screen:
    """Lines that are overwritten on a terminal; successive lines otherwise, or if NO_COLOR is set."""

    def __init__(self) -> None:
        """Determine whether standard output is a terminal."""
        self.over = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
        self._shown = 0

    def show(self, lines: list[str]) -> None:
        """Show the current lines."""
        if self.over:
            width = shutil.get_terminal_size().columns - 1
            text = "\n".join(f"\r{plain(line)[:width]}\x1b[K" for line in lines)
            sys.stdout.write(self._back() + text)
            self._shown = len(lines)
        else:
            sys.stdout.write("".join(f"{plain(line)}\n" for line in lines))
        sys.stdout.flush()

    def keep(self, line: str) -> None:
        """Print a line that stays above the current ones."""
        self.clear()
        sys.stdout.write(f"{plain(line)}\n")
        sys.stdout.flush()

    def clear(self) -> None:
        """Clear the lines for further output."""
        if self.over:
            sys.stdout.write(f"{self._back()}\r\x1b[J")
            sys.stdout.flush()
        self._shown = 0

    def _back(self) -> str:
        return f"\x1b[{self._shown - 1}A" if self._shown > 1 else ""


class Watch:
    """A brew whose log grows."""

    def __init__(self, arguments: argparse.Namespace, plan: Plan | None) -> None:
        """Start without samples."""
        self._arguments = arguments
        self.live: Live | None = None
        self.error: PourlineError | None = None
        self.notes: list[str] = []
        self.clock = Clock()
        self.planned = None if plan is None else PlanClock(plan, self.clock)
        self.now: LiveState | None = None
        self._seen = 0
        # Numbers of lines that are not read, and how many lines were read last.
        self._junk: set[int] = set()
        self._good = 0
        self._calm_from_s: float | None = None
        self._is_judged = True

    def read(self, text: bytes) -> list[str]:
        """Read the log so far; return a line for each pour that ended."""
        ended_s: list[float] = []
        for now in self._states(text):
            self.now = now
            self.clock.see(now)
            if now.flow_g_per_s.value > CALM_G_PER_S or self._calm_from_s is None:
                self._calm_from_s, self._is_judged = now.time_s, now.pour is None
            if now.pour is not None and not self._is_judged and now.time_s - self._calm_from_s >= CALM_S:
                self._is_judged = True
                ended_s.append(self.clock.starts_s[-1])
        if not ended_s or self.live is None:
            return []
        try:
            brew = self.live.finish()
        except PourlineError:
            return []
        return [line for line in (ended_words(brew, start_s) for start_s in ended_s) if line]

    def _states(self, text: bytes) -> Iterator[LiveState]:
        try:
            log = self._log(text.splitlines(keepends=True))
        except PourlineError as error:
            # A log that has just begun may be too short to read.
            self.error = error
            return
        self.error = None
        self.notes = [*log.notes, *(f"line {line} holds no sample and was skipped" for line in sorted(self._junk))]
        if self.live is None:
            self.live = Live(**self._meta(log))
        columns = [log.water_g, log.beverage_g]
        for row in range(self._seen, len(log)):
            water_g, beverage_g = (None if column is None else float(column[row]) for column in columns)
            yield self.live.push(float(log.time_s[row]), water_g, beverage_g)
        self._seen = len(log)

    def _log(self, lines: list[bytes]) -> Log:
        """Read the lines without those that make the log unreadable."""
        while True:
            try:
                log = self._of(lines, len(lines))
            except PourlineError:
                self._good = self._good or next((n for n in _halves(len(lines)) if self._is_good(lines, n)), 0)
                if self._good == 0 or len(self._junk) >= MOST_JUNK:
                    raise
                # The shortest beginning that cannot be read ends in such a line.
                low, high = self._good, len(lines)
                while high - low > 1:
                    middle = (low + high) // 2
                    low, high = (middle, high) if self._is_good(lines, middle) else (low, middle)
                self._junk.add(high)
                self._good = high
            else:
                self._good = len(lines)
                return log

    def _of(self, lines: list[bytes], count: int) -> Log:
        kept = b"".join(line for number, line in enumerate(lines[:count], 1) if number not in self._junk)
        return read_log(kept, self._arguments, {})

    def _is_good(self, lines: list[bytes], count: int) -> bool:
        try:
            self._of(lines, count)
        except PourlineError:
            return False
        return True

    def lines(self, is_large: bool, stalled_s: float) -> list[str]:
        """Return what is shown now."""
        if self.now is None:
            return []
        at = self.clock.time(self.now)
        words = now_words(self.now, at) + ("" if self.planned is None else f"  {self.planned.words(self.now)}")
        stalled = f"  (no sample for {stalled_s:.0f} s)" if stalled_s > STALLED_S else ""
        left_g = None if self.planned is None else self.planned.left_g(self.now)
        rows = large(self.now, at, left_g, shutil.get_terminal_size().columns) if is_large else []
        return [*rows, words + stalled]

    def _meta(self, log: Log) -> dict[str, Any]:
        meta: dict[str, Any] = log.meta.to_dict()
        if self._arguments.file != "-":
            meta.setdefault("name", Path(self._arguments.file).stem)
        return meta


def _halves(count: int) -> Iterator[int]:
    while count > 1:
        count //= 2
        yield count


class Follower:
    """The brews of a growing input, one after the other."""

    def __init__(self, arguments: argparse.Namespace, plan: Plan | None) -> None:
        """Begin with an empty brew."""
        self._arguments, self._plan = arguments, plan
        self._screen = Screen()
        self._watch = Watch(arguments, plan)
        self._code: int | None = None

    def follow(self, growing: Growing) -> None:
        """Follow the input until it ends or nothing comes any more."""
        grew_s, away_s = time.monotonic(), math.inf
        while True:
            # The end is checked before reading, so that a last line without a line feed is read too.
            grew = growing.look() or growing.ended
            now_s = time.monotonic()
            if growing.why in NEXT:
                self._next(growing.why)
            if grew:
                grew_s = now_s
                for line in self._watch.read(growing.lines()):
                    self._screen.keep(line)
            away_s = min(away_s, now_s) if growing.why and growing.why not in NEXT else math.inf
            if grew or self._screen.over:
                is_large = self._arguments.large and self._screen.over
                self._screen.show(self._watch.lines(is_large, now_s - grew_s))
            if now_s - away_s >= AWAY_S:
                self._screen.clear()
                complain(f"{self._arguments.file} {growing.why}")
                return
            if growing.ended or now_s - grew_s > self._arguments.patience:
                return
            time.sleep(self._arguments.every)

    def _next(self, why: str) -> None:
        """Report the brew that is held, and begin another one."""
        self._screen.clear()
        if self._watch.live is not None:
            complain(f"{self._arguments.file} {why}: the brew before ends here, what follows is another one")
            self._report()
        self._watch = Watch(self._arguments, self._plan)

    def end(self) -> int:
        """Report the brew that is held, and return the exit code."""
        self._screen.clear()
        if self._watch.live is not None:
            self._report()
        elif self._code is None:
            complain(self._watch.error or "no data received")
        return ALL_FAILED if self._code is None else self._code

    def _report(self) -> None:
        lines, watch = Lines(), self._watch
        assert watch.live is not None
        try:
            brew = watch.live.finish()
            lines.write(self._arguments.file, brew)
            for note in watch.notes:
                lines.line(f"From the file: {note}.")
            if self._plan is not None:
                PlanLines().write(self._arguments.file, self._plan.follow(brew))
        except PourlineError as error:
            complain(error)
            self._code = ALL_FAILED if self._code in (None, ALL_FAILED) else SOME_FAILED
            return
        if watch.error is not None:
            # The rows after the last sample of the printed brew cannot be read.
            complain(watch.error)
        failed = watch.error is not None or self._code in (SOME_FAILED, ALL_FAILED)
        self._code = SOME_FAILED if failed else ALL_GOOD


def run_watch(arguments: argparse.Namespace) -> int:
    """Follow a log until it ends or is told to stop; then analyse the whole log."""
    if not arguments.every > 0:
        raise PourlineError(f"--every {arguments.every:g}: more than 0 s is needed", column="every")
    plan = Plan.read(arguments.plan) if arguments.plan else None
    growing = GrowingInput() if arguments.file == "-" else GrowingFile(arguments.file)
    follower = Follower(arguments, plan)
    with _stopped(), contextlib.suppress(KeyboardInterrupt):
        follower.follow(growing)
    return follower.end()


@contextlib.contextmanager
def _stopped() -> Iterator[None]:
    """Let SIGTERM and the end of the terminal stop the watch as Ctrl-C does."""

    def stop(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    names = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = [(name, signal.signal(name, stop)) for name in names]
    try:
        yield
    finally:
        for name, was in before:
            signal.signal(name, was)
