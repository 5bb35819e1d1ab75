"""In: a growing file, or standard input. Out: its content so far, up to the last complete line."""

from __future__ import annotations

import os
import queue
import sys
import threading

from ..errors import PourlineError
from .files import MOST_AT_ONCE, must_be_file

AT_A_TIME = 1 << 16


class Growing:
    """A text that another process appends to."""

    def __init__(self) -> None:
        """Start with no text."""
        self._text = bytearray()
        self.ended = False

    def _more(self) -> bytes:
        raise NotImplementedError

    def look(self) -> bool:
        """Read the new bytes; return whether there are any."""
        some = self._more()
        self._text += some
        if len(self._text) > MOST_AT_ONCE:
            raise PourlineError(f"more than {MOST_AT_ONCE >> 20} MiB: a watched log must fit in memory", "format")
        return bool(some)

    def lines(self) -> bytes:
        """Return all complete lines; after the end of the input, also a last line without a line feed."""
        return bytes(self._text if self.ended else self._text[: self._text.rfind(b"\n") + 1])


class GrowingFile(Growing):
    """A growing file; it has no end."""

    def __init__(self, path: str) -> None:
        """Start before the first byte."""
        super().__init__()
        must_be_file(path)
        self._path = path

    def _more(self) -> bytes:
        try:
            with open(self._path, "rb") as file:
                if file.seek(0, 2) < len(self._text):
                    raise PourlineError(f"{self._path} was truncated while it was watched", "io")
                file.seek(len(self._text))
                return file.read(MOST_AT_ONCE)
        except OSError as failed:
            raise PourlineError(f"{self._path}: {failed.strerror}", "io") from failed


class GrowingInput(Growing):
    """Standard input, read in its own thread, so that a pause does not block."""

    def __init__(self) -> None:
        """Start to read."""
        super().__init__()
        self._come: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while some := os.read(sys.stdin.fileno(), AT_A_TIME):
            self._come.put(some)
        self._come.put(b"")

    def _more(self) -> bytes:
        found = bytearray()
        while not self.ended and not self._come.empty():
            some = self._come.get()
            self.ended = not some
            found += some
        return bytes(found)
