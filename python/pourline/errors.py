"""In: a failure. Out: the exception that the package raises on bad input, that of an interrupted analysis, and the
warning on a doubtful log.
"""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from ._escape import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from ._pourline import Brew

# The public path of the classes is the package: `pourline.PourlineError`.
__all__: list[str] = []


class PourlineError(ValueError):
    """Bad input; the message states the numbers that broke the rule.

    ``kind`` is a short stable word for programs to branch on: ``empty``, ``too_short``, ``unequal_length``,
    ``not_finite``, ``not_a_number``, ``time``, ``out_of_range``, ``column``, ``argument``, ``format``, ``io``,
    ``undefined`` or ``install``. ``row`` counts from 1 in the data, and ``column`` names the column or option;
    both are None if they do not apply.

    >>> import pourline
    >>> try:
    ...     pourline.Log([0.0, 0.1, 0.2, 0.3], water_g=[0.0, 1.0, float("nan"), 3.0])
    ... except pourline.PourlineError as error:
    ...     print(error.kind, error.row, error.column)
    not_finite 3 water_g
    """

    kind: str
    row: int | None
    column: str | None

    def __init__(
        self, message: str = "", kind: str = "argument", row: int | None = None, column: str | None = None
    ) -> None:
        """Take the message, kind, row and column."""
        super().__init__(plain(message))
        self.kind = kind
        self.row = row
        self.column = column


class Interrupted(KeyboardInterrupt):
    """Ctrl-C during `analyze_many`. ``done`` holds the results so far, in the order of the logs.

    It is a KeyboardInterrupt and ends a program like one. If it was not caught in a notebook, it is in
    `sys.last_value`.

    >>> import pourline
    >>> def stop(done, total):
    ...     raise KeyboardInterrupt
    >>> try:
    ...     pourline.analyze_many([pourline.datasets.load("fernspout-ada-01")], progress=stop)
    ... except pourline.Interrupted as interrupted:
    ...     print(len(interrupted.done[0].pours))
    4
    """

    done: list[Brew | PourlineError]

    def __init__(self, done: list[Brew | PourlineError]) -> None:
        """Take the finished results."""
        super().__init__(f"{len(done)} logs were done; `done` of this exception has their results")
        self.done = done

    def __reduce__(self) -> tuple[Any, ...]:
        """Return what pickle stores: the results, of which the message follows."""
        return Interrupted, (self.done,)


class PourlineWarning(UserWarning):
    """A log that was analysed, but is doubtful: its name, and the first words of each of its warnings.

    `analyze`, `analyze_all`, `analyze_each`, `analyze_many` and `analyze_table` issue one for each log with warnings.
    ``brew.warnings`` has the whole sentences. The filters of the module `warnings` apply: ``"error"`` refuses such a
    log, ``"ignore"`` is silent.

    >>> import warnings
    >>> import pourline
    >>> log = pourline.datasets.load("fernspout-ada-01")
    >>> exchanged = pourline.Log(log.time_s, log.beverage_g, log.water_g, name="exchanged")
    >>> with warnings.catch_warnings():
    ...     warnings.filterwarnings("error", category=pourline.PourlineWarning)
    ...     try:
    ...         pourline.analyze(exchanged)
    ...     except pourline.PourlineWarning as warning:
    ...         print(warning)
    exchanged: the two columns look exchanged (more in brew.warnings)
    """


@contextmanager
def _without_warnings() -> Iterator[None]:
    """Issue no `PourlineWarning`: the caller shows the warnings of a brew itself."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", PourlineWarning)
        yield


for _exception in (PourlineError, Interrupted, PourlineWarning):
    _exception.__module__ = "pourline"
