"""In: the number of finished items. Out: a temporary progress bar in a notebook or on a terminal, none otherwise.

tqdm draws it if it is installed (in a notebook, ipywidgets is needed too); otherwise it is drawn here.
"""

from __future__ import annotations

import sys
import time
import warnings
from collections.abc import Callable
from typing import Any, Protocol

WORTH_S = 1.0
WIDTH = 30


class Drawn(Protocol):
    """The interface of a bar: the part of tqdm that is used, shared by the two classes below."""

    def update(self, more: int, /) -> object:
        """Advance the bar."""

    def clear(self) -> object:
        """Remove it from the screen until the next update."""

    def close(self) -> object:
        """Remove it."""


class TextLine:
    """A line on standard error that is overwritten."""

    def __init__(self, total: int, done: int) -> None:
        """Draw it."""
        self._total = total
        self._done = done
        self.update(0)

    def update(self, more: int, /) -> None:
        """Advance the bar."""
        self._done += more
        full = WIDTH * self._done // self._total
        self._write(f"\r{'=' * full}{' ' * (WIDTH - full)} {self._done}/{self._total}")

    def clear(self) -> None:
        """Clear the line."""
        self._write("\r\x1b[K")

    close = clear

    @staticmethod
    def _write(text: str) -> None:
        sys.stderr.write(text)
        sys.stderr.flush()


class HtmlLine:
    """The browser's progress bar below a cell."""

    def __init__(self, total: int, done: int) -> None:
        """Draw it."""
        from IPython.display import display

        self._total = total
        self._done = done
        show: Any = display
        self._handle: Any = show(self._data(), raw=True, display_id=True)

    def update(self, more: int, /) -> None:
        """Advance the bar."""
        self._done += more
        self._handle.update(self._data(), raw=True)

    def clear(self) -> None:
        """Do nothing: the output below a cell needs no space."""

    def close(self) -> None:
        """Remove the bar."""
        self._handle.update({"text/html": "", "text/plain": ""}, raw=True)

    def _data(self) -> dict[str, str]:
        text = f"{self._done}/{self._total}"
        return {
            "text/html": f"<progress value='{self._done}' max='{self._total}'></progress> {text}",
            "text/plain": text,
        }


class Bar:
    """The progress of a task, shown as requested by `progress`.

    None shows a bar if the task is expected to take more than a second, True at once, False never. A function is
    called with (done, all) instead of a bar.
    """

    def __init__(self, progress: bool | Callable[[int, int], object] | None, total: int) -> None:
        """Start at zero."""
        self._call = progress if callable(progress) else None
        self._total = total
        self._begun = time.perf_counter()
        self._wanted = (progress is None or bool(progress)) and total > 0 and (in_notebook() or on_terminal())
        self._done = 0
        at_once = self._wanted and progress is not None and self._call is None
        self._drawn: Drawn | None = _drawn(total, 0) if at_once else None

    def tell(self, done: int) -> None:
        """Show the number of finished items."""
        if self._call is not None:
            self._call(done, self._total)
        elif self._drawn is not None:
            self._drawn.update(done - self._done)
        elif self._wanted and 0 < done < self._total:
            expected_s = (time.perf_counter() - self._begun) * self._total / done
            self._drawn = _drawn(self._total, done) if expected_s > WORTH_S else None
        self._done = done

    def clear(self) -> None:
        """Make room for other lines on the terminal."""
        if self._drawn is not None:
            self._drawn.clear()

    def close(self) -> None:
        """Remove the bar, also after an error."""
        drawn, self._drawn = self._drawn, None
        if drawn is not None:
            drawn.close()

    def __enter__(self) -> Bar:
        """Return itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Remove the bar."""
        self.close()


def in_notebook() -> bool:
    """Return whether this Python is the kernel of a notebook."""
    shell = sys.modules.get("IPython")
    return shell is not None and hasattr(shell.get_ipython(), "kernel")


def on_terminal() -> bool:
    """Return whether standard error is a terminal."""
    # Standard error is None in a program without a console.
    return sys.stderr is not None and sys.stderr.isatty()


def _drawn(total: int, done: int) -> Drawn:
    notebook = in_notebook()
    try:
        if notebook:
            import ipywidgets  # noqa: F401
        with warnings.catch_warnings():
            # tqdm.auto warns that it is experimental.
            warnings.simplefilter("ignore")
            from tqdm.auto import tqdm
    except ImportError:
        return HtmlLine(total, done) if notebook else TextLine(total, done)
    bar: Drawn = tqdm(total=total, initial=done, leave=False)
    return bar
