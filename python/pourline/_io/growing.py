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
        self._text = b""
        self.ended = False
        self.why = ""

    def look(self) -> bool:
        """Read the new bytes; return whether there are any. `why` says what else became of the text."""
        raise NotImplementedError

    def lines(self) -> bytes:
        """Return all complete lines; after the end of the input, also a last line without a line feed."""
        return self._text if self.ended else self._text[: self._text.rfind(b"\n") + 1]

    def _hold(self, text: bytes) -> bool:
        grew = len(text) > len(self._text)
        self._text = text
        if len(text) > MOST_AT_ONCE:
            raise PourlineError(f"more than {MOST_AT_ONCE >> 20} MiB: a watched log must fit in memory", "format")
        return grew


class GrowingFile(Growing):
    """A growing file; it has no end unless it is removed.

    It is read whole if it changed, since only its beginning shows whether another text was put in its place.
    """

    def __init__(self, path: str) -> None:
        """Start before the first byte."""
        super().__init__()
        must_be_file(path)
        self._path = path
        self._known: tuple[int, ...] = ()
        # What the file held before it was cut: it is not read a second time.
        self._before = b""

    def look(self) -> bool:
        """Read the new bytes; return whether there are any. After `why` is set, the text is that of another log."""
        self.why = ""
        try:
            found = os.stat(self._path)
            known = (found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
            if known == self._known:
                return False
            with open(self._path, "rb") as file:
                text = file.read(MOST_AT_ONCE + 1)
        except FileNotFoundError:
            self.why = "was removed"
            return False
        except OSError as failed:
            self.why = f"cannot be read: {failed.strerror}"
            return False
        self._known = known
        if self._before and self._before.startswith(text):
            return False
        self._before = b""
        if text.startswith(self._text):
            return self._hold(text)
        is_cut = self._text.startswith(text)
        self.why = "was cut" if is_cut else "was replaced"
        self._before, self._text = (self._text, b"") if is_cut else (b"", b"")
        return not is_cut and self._hold(text)


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

    def look(self) -> bool:
        """Read the new bytes; return whether there are any."""
        found = bytearray()
        while not self.ended and not self._come.empty():
            some = self._come.get()
            self.ended = not some
            found += some
        return bool(found) and self._hold(self._text + bytes(found))
