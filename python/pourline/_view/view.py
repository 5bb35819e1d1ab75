"""In: a log. Out: its view for a notebook, in which the edges of the pours can be moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._pourline import Brew, Log, read
from ..errors import PourlineError

if TYPE_CHECKING:
    from os import PathLike

    from .._io.arrow import ArrowStream
    from .._pourline import Labels, Options
    from .widget import View


def view(
    log: Log | str | PathLike[str] | bytes | ArrowStream, labels: Labels | None = None, options: Options | None = None
) -> View:
    """Show a log in a notebook: weights and flow at any instant, and pours with movable edges.

    A line over weights and flows is moved with the pointer or the arrow keys. Above it are the time, the weights, the
    flow with its sd, and the time since the start of the current pour or rest. Each edge of a pour has a handle; pours
    can be added and removed. After every change the log is analysed again, and changed edges are marked. Nothing is
    fetched and nothing is written: `view.labels.write(path)` saves the edges.

    Args:
        log: the log, or any argument of `read`.
        labels: initial edges, by default those detected by `analyze`.
        options: the options of all analyses.

    Returns:
        A widget (anywidget). `labels` are the current edges, `brew` is the result of `analyze` with them. Both can be
        observed: `view.observe(changed, "labels")`. If a page cannot run the widget, it shows the card of the brew.

    Raises:
        PourlineError: kind `install` if anywidget is missing; `argument` for a brew, which does not contain its log;
            all errors of `analyze`.

    >>> import pourline
    >>> log = pourline.datasets.load("fernspout-ada-01")
    >>> view = pourline.view(log)
    >>> len(view.labels.pours), len(view.brew.pours)
    (4, 4)
    """
    if isinstance(log, Brew):
        message = "a brew does not contain its log: pass the log, view(log, options=brew.options)"
        raise PourlineError(message, column="log")
    try:
        # Imported here, so that the package is quick to import and anywidget is optional.
        from .steps import Steps
        from .widget import View
    except ImportError as missing:
        raise PourlineError('view needs anywidget: pip install "pourline[notebook]"', "install") from missing
    return View(Steps(log if isinstance(log, Log) else read(log), labels, options))
