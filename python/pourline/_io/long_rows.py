"""In: brews and errors with the ids of their logs. Out: batches of rows of one schema, whatever the logs hold."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from .._pourline import Brew, Log, Meta, analyze, gather
from ..errors import PourlineError
from ..tables import Table, stack

if TYPE_CHECKING:
    import arro3.core

BREWS_IN_A_BATCH = 64
# The one column that the caller's own id may stand in for.
NAME = "brew"


def as_meta(name: str, value: object, found: dict[str, Any]) -> dict[str, Any]:
    """Return what one column of metadata adds to what was found: a field of `Meta`, or a factor."""
    if name in dir(Meta()):
        return {name: value}
    return {"factors": found.get("factors", {}) | {name: str(value)}}


def id_type(by: arro3.core.Field) -> arro3.core.DataType:
    """Return the type in which ids leave: that of whole numbers stays, texts are plain ones."""
    from arro3.core import DataType

    kind = by.type.value_type or by.type if DataType.is_dictionary(by.type) else by.type
    if DataType.is_integer(kind):
        return kind
    if any(is_text(kind) for is_text in (DataType.is_string, DataType.is_large_string, DataType.is_string_view)):
        return DataType.string()
    raise PourlineError(f"by: a text or a whole number is needed as id, not {kind}", "column", column=by.name)


def _fields(schema: arro3.core.Schema) -> list[arro3.core.Field]:
    return [schema.field(place) for place in range(len(schema))]


class Rows:
    """Makes batches of rows: the id of the log, the columns of a pour or a brew, the error."""

    def __init__(self, rows: str, by: arro3.core.Field, known: Sequence[str]) -> None:
        """Learn the columns from a brew that has all the metadata in question."""
        from arro3.core import DataType, Field, Schema

        if rows not in ("pour", "brew"):
            raise PourlineError(f'rows: "pour" or "brew" is needed, not {rows!r}', column="rows")
        self._of_pours = rows == "pour"
        meta: dict[str, Any] = {}
        for name in known:
            meta |= as_meta(name, 1.0, meta)
        still = analyze(Log([0.0, 0.1, 0.2], [0.0, 0.0, 0.0], **meta))
        columns = [field for field in _fields(self._table(still)._arrow().schema) if field.name != by.name]
        if len(columns) < len(self._table(still).columns) and by.name != NAME:
            raise PourlineError(f"by: the rows have a column {by.name!r} of their own: rename it", column="by")
        self.schema = Schema([Field(by.name, id_type(by)), *columns, Field("error", DataType.string())])

    def batches(self, brews: Iterator[Brew | PourlineError], ids: deque[Any]) -> Iterator[arro3.core.RecordBatch]:
        """Give a batch for some brews at a time; what is done before an error, or Ctrl-C, is given before it is raised."""
        ended: BaseException | None = None
        while ended is None:
            done: list[tuple[Table, object, str | None]] = []
            try:
                for _ in range(BREWS_IN_A_BATCH):
                    done.append(self._told(next(brews), ids.popleft()))
            except BaseException as stop:
                ended = stop
            if done:
                yield self._batch(done)
        if not isinstance(ended, StopIteration):
            raise ended

    def _table(self, brew: Brew) -> Table:
        return brew.table() if self._of_pours else gather([brew]).table()

    def _told(self, brew: Brew | PourlineError, log_id: object) -> tuple[Table, object, str | None]:
        """Return the rows of one log, its id, and why it has no rows of its own."""
        if isinstance(brew, PourlineError):
            return Table({NAME: [str(log_id)]}), log_id, f"{brew.kind}: {brew}"
        if self._of_pours and not brew.pours:
            return Table({NAME: [str(log_id)]}), log_id, "undefined: no pour was found"
        return self._table(brew), log_id, None

    def _batch(self, done: Sequence[tuple[Table, object, str | None]]) -> arro3.core.RecordBatch:
        from arro3.core import Array, DataType, RecordBatch

        columns = stack([table for table, _, _ in done]).to_dict()
        columns[self.schema.names[0]] = [log_id for table, log_id, _ in done for _ in range(len(table))]
        columns["error"] = [error for table, _, error in done for _ in range(len(table))]
        nothing = [None] * len(columns["error"])
        arrays = []
        for field in _fields(self.schema):
            values = columns.get(field.name, nothing)
            if DataType.is_integer(field.type):
                # Beside a log that failed, numpy holds counts as floats.
                values = [None if value is None else int(value) for value in values]
            arrays.append(Array(values, type=field.type))
        return RecordBatch.from_arrays(arrays, schema=self.schema)
