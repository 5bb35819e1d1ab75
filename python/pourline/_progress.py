"""In: how many of all are done. Out: one line on standard error that is written over; nothing where nobody looks."""

from __future__ import annotations

import sys

WIDTH = 30


def line(done: int, total: int) -> None:
    """Show how far it is, if standard error is a terminal."""
    if not sys.stderr.isatty() or total == 0:
        return
    full = WIDTH * done // total
    end = "\r\x1b[K" if done == total else ""
    sys.stderr.write(f"\r{'=' * full}{' ' * (WIDTH - full)} {done}/{total}{end}")
    sys.stderr.flush()
