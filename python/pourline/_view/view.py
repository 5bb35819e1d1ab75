"""In: a log. Out: a view of it for a notebook, in which the edges of the pours are moved by hand."""

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
    """Show a log in a notebook: what was weighed and how it flowed at any instant, and pours whose edges can be moved.

    A line over weights and flows is moved with the pointer or the arrow keys; time, weights, flow with its sd, and
    how far into which pour or rest that is, stand above. Each edge of a pour has a handle; pours are added and
    removed. Every change is analysed anew at once, and marked as made by hand. Nothing is fetched and nothing is
    written: `view.labels.write(path)` keeps the edges.

    Args:
        log: the log, or whatever `read` takes.
        labels: edges to begin from; without them those that `analyze` finds.
        options: the options of all analyses.

    Returns: A widget (anywidget). Its `labels` are the edges as they stand, its `brew` is what `analyze` makes of
    the log with them; both can be observed, `view.observe(changed, "labels")`. Where a page cannot run it, the card
    of the brew stands in its place.

    Raises: PourlineError: kind `install` where anywidget is missing, `argument` for a brew, which does not keep its
    log; and what `analyze` raises.

    >>> import pourline
    >>> log = pourline.datasets.load("fernspout-ada-01")
    >>> view = pourline.view(log)
    >>> len(view.labels.pours), len(view.brew.pours)
    (4, 4)
    """
    if isinstance(log, Brew):
        message = (
            "a brew does not keep the log that its edges are read from: give the log, view(log, options=brew.options)"
        )
        raise PourlineError(message, column="log")
    try:
        # Here, so that the package is quick to import and anywidget an extra.
        from .steps import Steps
        from .widget import View
    except ImportError as missing:
        raise PourlineError('view needs anywidget: pip install "pourline[notebook]"', "install") from missing
    return View(Steps(log if isinstance(log, Log) else read(log), labels, options))
