"""In: brews and errors with the ids of their logs. Out: batches of rows with one schema."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from .._pourline import Brew, Log, Meta, analyze, gather
from ..errors import PourlineError, _without_warnings
from ..tables import Table, stack

if TYPE_CHECKING:
    import arro3.core

BREWS_IN_A_BATCH = 64
# The only column that the id of the caller may replace.
NAME = "brew"


def as_meta(name: str, value: object, found: dict[str, Any]) -> dict[str, Any]:
    """Return one column of metadata as a field of `Meta`, or merged into the factors."""
    if name in dir(Meta()):
        return {name: value}
    return {"factors": found.get("factors", {}) | {name: str(value)}}


def id_type(by: arro3.core.Field) -> arro3.core.DataType:
    """Return the type of the ids in the result: integers are unchanged, texts become plain strings."""
    from arro3.core import DataType

    kind = by.type.value_type or by.type if DataType.is_dictionary(by.type) else by.type
    if DataType.is_integer(kind):
        return kind
    if any(is_text(kind) for is_text in (DataType.is_string, DataType.is_large_string, DataType.is_string_view)):
        return DataType.string()
    raise PourlineError(f"by: the id must be a text or an integer, not {kind}", "column", column=by.name)


def _fields(schema: arro3.core.Schema) -> list[arro3.core.Field]:
    return [schema.field(place) for place in range(len(schema))]


class Rows:
    """Batches of rows: the id of the log, the columns of a pour or a brew, the error."""

    def __init__(self, rows: str, by: arro3.core.Field, known: Sequence[str]) -> None:
        """Take the columns from a brew that has all requested metadata."""
        from arro3.core import DataType, Field, Schema

        if rows not in ("pour", "brew"):
            raise PourlineError(f'rows: "pour" or "brew" is needed, not {rows!r}', column="rows")
        self._of_pours = rows == "pour"
        meta: dict[str, Any] = {}
        for name in known:
            meta |= as_meta(name, 1.0, meta)
        with _without_warnings():
            still = analyze(Log([0.0, 0.1, 0.2], [0.0, 0.0, 0.0], **meta))
        columns = [field for field in _fields(self._table(still)._arrow().schema) if field.name != by.name]
        if len(columns) < len(self._table(still).columns) and by.name != NAME:
            raise PourlineError(f"by: {by.name!r} is already a column of the result; rename the id", column="by")
        self.schema = Schema([Field(by.name, id_type(by)), *columns, Field("error", DataType.string())])

    def batches(self, brews: Iterator[Brew | PourlineError], ids: deque[Any]) -> Iterator[arro3.core.RecordBatch]:
        """Yield batches of brews; rows finished before an error or Ctrl-C are yielded before it is raised."""
        ended: BaseException | None = None
        while ended is None:
            done: list[tuple[Table, object, str | None]] = []
            try:
                for _ in range(BREWS_IN_A_BATCH):
                    done.append(self._result(next(brews), ids.popleft()))
            except BaseException as stop:
                ended = stop
            if done:
                yield self._batch(done)
        if not isinstance(ended, StopIteration):
            raise ended

    def _table(self, brew: Brew) -> Table:
        return brew.table(all=True) if self._of_pours else gather([brew]).table()

    def _result(self, brew: Brew | PourlineError, log_id: object) -> tuple[Table, object, str | None]:
        """Return the rows of one log, its id, and its error if it has no rows."""
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
                # If a log of the batch failed, numpy holds counts as floats.
                values = [None if value is None else int(value) for value in values]
            arrays.append(Array(values, type=field.type))
        return RecordBatch.from_arrays(arrays, schema=self.schema)
