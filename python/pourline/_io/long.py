"""In: a long table with contiguous rows for each log. Out: a stream with one row per pour or per brew.

Method: batches are split at changes of the log id. Each log is read by the rules of `read` and analysed by
`analyze_each`; the results form batches again. Memory holds the current batch, the logs being analysed and the ids.
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
    """Analyse the logs of one long table; return one row per pour or per brew as an Arrow stream.

    The rows of a log are contiguous; its id is in the column `by`, a text or an integer. `source` is anything with
    the Arrow PyCapsule interface, a Parquet file, or a folder of Parquet files, read in the order of their names.
    `time`, `water`, `beverage`, `time_unit`, `mass_unit` and `missing` are those of `read`; `options` and `threads`
    are those of `analyze_each`. `meta` names columns with metadata of the log, constant within a log: fields of
    `Meta`; any other column is a factor.

    `rows` is `"pour"` for one row per pour, as in `Brew.table`, or `"brew"` for one row per brew, as in `gather`. The
    id is the first column. A log that fails, or has no pour, has one row with the reason in `error`, which is null
    in all others. The stream is lazy and can be read once.

    >>> import pourline
    >>> log = pourline.datasets.load("fernspout-ada-01")
    >>> long = {"log": ["a"] * len(log) + ["b"], "time_s": [*log.time_s, 0.0], "water_g": [*log.water_g, 0.0]}
    >>> for batch in pourline.analyze_table(pourline.Table(long)):
    ...     print(batch["log"].to_pylist(), batch["error"].to_pylist()[-1])
    ['a', 'a', 'a', 'a', 'b'] too_short: 1 sample, and at least 3 are needed: was the recording or the file cut off?
    """
    known = tuple(meta)
    batches = reader(source)
    for name in (by, *known):
        if name not in batches.schema.names:
            there = ", ".join(batches.schema.names)
            raise PourlineError(f"there is no column {name!r} for the log; there are: {there}", "column", column=name)
    columns: dict[str, Any] = {"time": time, "water": water, "beverage": beverage}
    columns |= {"time_unit": time_unit, "mass_unit": mass_unit, "missing": missing}
    made = Rows(rows, batches.schema.field(by), known)
    ids: deque[Any] = deque()
    brews = analyze_each(_logs(batches, by, known, columns, ids), options, threads=threads)
    return made_while_taken(made.schema, made.batches(brews, ids))


def _logs(
    batches: Iterable[arro3.core.RecordBatch], by: str, known: tuple[str, ...], columns: dict[str, Any], ids: deque[Any]
) -> Iterator[Log | PourlineError]:
    """Yield each log, or its error, and record its id."""
    for log_id, table in _cut(batches, by):
        ids.append(log_id)
        try:
            yield read(table, **columns, **_meta(table, known, log_id))
        except PourlineError as error:
            yield error


def _cut(batches: Iterable[arro3.core.RecordBatch], by: str) -> Iterator[tuple[Any, arro3.core.Table]]:
    """Split the batches at changes of the id."""
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
                        f"row {row + start + 1}: log {current!r} comes again after other logs; the rows of a log "
                        f"must be contiguous: sort the table by {by!r} and time first"
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
    """Return the metadata of a log from its columns."""
    found: dict[str, Any] = {"name": str(log_id)}
    for name in known:
        values = table[name].to_pylist()
        if any(value != values[0] for value in values):
            raise PourlineError(f"column {name!r} changes within the log", "column", column=name)
        if values[0] is not None:
            found |= as_meta(name, values[0], found)
    return found
