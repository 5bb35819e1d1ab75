"""In: a long table in which the rows of one log stand together. Out: a stream of rows, one a pour or one a brew.

Method: batches are cut where the log id changes; each log is read by the rules of `read` and worked out by
`analyze_each`, whose results become batches again. Nothing is held but the batch in hand, the logs under way and the
ids that were seen.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from itertools import pairwise
from os import PathLike
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from .._pourline import Log, Options, analyze_each, read
from ..errors import PourlineError
from .arrow import MOST_ROWS, ArrowStream, made_while_taken, reader
from .long_rows import Rows, as_meta, id_type

if TYPE_CHECKING:
    import arro3.core
    from numpy.typing import NDArray


def analyze_table(
    source: ArrowStream | str | PathLike[str],
    options: Options | None = None,
    *,
    by: str = "log",
    rows: Literal["pour", "brew"] = "pour",
    meta: Iterable[str] = (),
    time: str | int | None = None,
    water: str | int | None = None,
    beverage: str | int | None = None,
    time_unit: str | None = None,
    mass_unit: str | None = None,
    missing: Literal["refuse", "flag"] = "refuse",
    threads: int | None = None,
) -> arro3.core.RecordBatchReader:
    """Analyse the logs of one long table, and give a row a pour or a row a brew as an Arrow stream, batch by batch.

    The rows of a log stand together; its id is in the column `by`, a text or a whole number. `source` is anything
    with the Arrow PyCapsule interface, a Parquet file, or a folder of them, read in the order of their names.
    `time`, `water`, `beverage`, `time_unit`, `mass_unit` and `missing` are as `read` has them, `options` and
    `threads` as `analyze_each`. `meta` names columns that hold metadata of the log, the same in all its rows: those
    of `Meta`, anything else is a factor.

    `rows` is `"pour"` for a row a pour, that of `Brew.table`, or `"brew"` for a row a brew, that of `gather`; the id
    stands before them. A log that fails, or has no pour, has one row, whose `error` says why; it is null in all
    others. The stream is worked out while it is taken, and can be taken once.

    >>> import pourline
    >>> log = pourline.datasets.load("fernspout-ada-01")
    >>> long = {"log": ["a"] * len(log) + ["b"], "time_s": [*log.time_s, 0.0], "water_g": [*log.water_g, 0.0]}
    >>> for batch in pourline.analyze_table(pourline.Table(long)):
    ...     print(batch["log"].to_pylist(), batch["error"].to_pylist()[-1])
    ['a', 'a', 'a', 'a', 'b'] too_short: 1 samples, and at least 3 are needed
    """
    known = tuple(meta)
    batches = reader(source)
    for name in (by, *known):
        if name not in batches.schema.names:
            told = ", ".join(batches.schema.names)
            raise PourlineError(f"there is no column {name!r} for the log; there are: {told}", "column", column=name)
    columns: dict[str, Any] = {"time": time, "water": water, "beverage": beverage}
    columns |= {"time_unit": time_unit, "mass_unit": mass_unit, "missing": missing}
    made = Rows(rows, batches.schema.field(by), known)
    ids: deque[Any] = deque()
    brews = analyze_each(_logs(batches, by, known, columns, ids), options, threads=threads)
    return made_while_taken(made.schema, made.batches(brews, ids))


def _logs(
    batches: Iterable[arro3.core.RecordBatch], by: str, known: tuple[str, ...], columns: dict[str, Any], ids: deque[Any]
) -> Iterator[Log | PourlineError]:
    """Give each log, or why it cannot be read, and note its id."""
    for log_id, table in _cut(batches, by):
        ids.append(log_id)
        try:
            yield read(table, **columns, **_meta(table, known, log_id))
        except PourlineError as error:
            yield error


def _cut(batches: Iterable[arro3.core.RecordBatch], by: str) -> Iterator[tuple[Any, arro3.core.Table]]:
    """Cut where the id changes."""
    from arro3.core import Table

    parts: list[arro3.core.RecordBatch] = []
    seen: set[Any] = set()
    current, row, held = None, 0, 0
    for batch in batches:
        if batch.num_rows == 0:
            continue
        ids = _ids(batch, by, row)
        edges = [0, *(np.flatnonzero(ids[1:] != ids[:-1]) + 1).tolist(), len(ids)]
        for (start, end), log_id in zip(pairwise(edges), ids[edges[:-1]].tolist(), strict=True):
            if not parts or log_id != current:
                if parts:
                    yield current, Table.from_batches(parts)
                current, parts, held = log_id, [], 0
                if current in seen:
                    message = (
                        f"row {row + start + 1}: log {current!r} comes again after other logs; the rows of a log must stand "
                        f"together: sort the table by {by!r} and time first"
                    )
                    raise PourlineError(message, "column", row + start + 1, by)
                seen.add(current)
            held += end - start
            if held > MOST_ROWS:
                message = f"row {row + start + 1}: log {current!r} has more than {MOST_ROWS} rows"
                raise PourlineError(message, "format", row + start + 1, by)
            parts.append(batch.slice(start, end - start))
        row += len(ids)
    if parts:
        yield current, Table.from_batches(parts)


def _ids(batch: arro3.core.RecordBatch, by: str, row: int) -> NDArray[Any]:
    """Return the ids of a batch, none of them missing."""
    from arro3.core import DataType

    values = batch[by]
    if DataType.is_dictionary(values.type):
        values = values.cast(values.type.value_type or values.type)
    values = values.cast(id_type(batch.schema.field(by)))
    if values.null_count:
        place = row + list(values.to_pylist()).index(None) + 1
        raise PourlineError(f"row {place}: the id of the log is missing", "column", place, by)
    ids: NDArray[Any] = values.to_numpy()
    return ids


def _meta(table: arro3.core.Table, known: tuple[str, ...], log_id: object) -> dict[str, Any]:
    """Return what the columns of metadata say of a log."""
    found: dict[str, Any] = {"name": str(log_id)}
    for name in known:
        values = table[name].to_pylist()
        if any(value != values[0] for value in values):
            raise PourlineError(f"column {name!r} changes within the log", "column", column=name)
        if values[0] is not None:
            found |= as_meta(name, values[0], found)
    return found
