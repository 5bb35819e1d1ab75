"""In: anything with the Arrow PyCapsule interface, or a Parquet file. Out: columns for the one set of column rules.

Method: arro3 takes the stream in; numbers become float64 arrays with NaN for null, and so do durations and times of day, in s;
dates and texts become texts with None for null. Names, units and values are judged by the library, in the same way as those of a text file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast

import numpy as np

from ._errors import PourlineError

if TYPE_CHECKING:
    from arro3.core import DataType, RecordBatch, RecordBatchReader, Schema, Table
    from numpy.typing import NDArray

COUNTS_PER_S = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}


class ArrowStream(Protocol):
    """What pandas, polars, pyarrow, duckdb and others give: a table as an Arrow C stream."""

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        """Return the stream in a capsule."""


def table(source: ArrowStream) -> Table:
    """Take a stream in."""
    from arro3.core import Table

    try:
        return Table.from_arrow(source)
    except ImportError as missing:
        message = f"this table cannot give itself as an Arrow stream here: {missing}"
        raise PourlineError(message, "install") from missing
    except Exception as refused:
        raise PourlineError(f"this Arrow stream cannot be read: {refused}", "format") from refused


def reader(source: ArrowStream | str | PathLike[str]) -> RecordBatchReader:
    """Take in a stream, a Parquet file or a folder of them batch by batch."""
    from arro3.core import RecordBatchReader, Schema

    if not isinstance(source, str | PathLike):
        if not hasattr(source, "__arrow_c_stream__"):
            message = f"a path or a table with __arrow_c_stream__ is needed, not {type(source).__name__}"
            raise PourlineError(message, column="source")
        try:
            return RecordBatchReader.from_arrow(source)
        except Exception as refused:
            raise PourlineError(f"this Arrow stream cannot be read: {refused}", "format") from refused
    path = Path(source)
    with _parquet_errors(path):
        found = sorted(path.rglob("*")) if path.is_dir() else [path]
    files = [one for one in found if one == path or one.suffix in (".parquet", ".pq")]
    if not files:
        raise PourlineError(f"{path}: no Parquet file is in this folder", "io")
    schema = Schema.from_arrow(_parquet_file(files[0]).schema_arrow)
    return made_while_taken(schema, _batches_of(files, schema))


def made_while_taken(schema: Schema, batches: Iterator[RecordBatch]) -> RecordBatchReader:
    """Return batches as a stream that works out each when it is asked for."""
    from arro3.core import RecordBatchReader

    try:
        return RecordBatchReader.from_batches(schema, batches)
    except TypeError:
        return cast("RecordBatchReader", _Gathered(schema, batches))


class _Gathered:
    """The same for an arro3 before 0.9, all that Python 3.10 has: whoever takes it as one stream waits until the last batch is there."""

    def __init__(self, schema: Schema, batches: Iterator[RecordBatch]) -> None:
        self.schema = schema
        self._batches = batches

    def __iter__(self) -> Iterator[RecordBatch]:
        return self._batches

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        from arro3.core import RecordBatchReader

        return RecordBatchReader.from_batches(self.schema, list(self._batches)).__arrow_c_stream__(requested_schema)


def _batches_of(files: Sequence[Path], schema: Schema) -> Iterator[RecordBatch]:
    """Read files one after the other; none is held as a whole."""
    from arro3.core import RecordBatch, Schema

    for path in files:
        file = _parquet_file(path)
        if not Schema.from_arrow(file.schema_arrow).equals(schema):
            raise PourlineError(f"{path}: its columns differ from those of {files[0]}", "column")
        with _parquet_errors(path):
            yield from map(RecordBatch.from_arrow, file.iter_batches())


def _parquet_file(path: Path) -> Any:
    opened = _first_installed({"pyarrow.parquet": "ParquetFile"}, "reading Parquet batch by batch")
    with _parquet_errors(path):
        return opened(path)


def column(table: Table, index: int) -> NDArray[np.float64] | list[str | None]:
    """Return one column: numbers as an array, dates and texts as texts."""
    from arro3.core import DataType

    values = table.column(index)
    kind = values.type
    if DataType.is_dictionary(kind):
        kind = kind.value_type or kind
        values = values.cast(kind)
    if is_clock(table, index):
        counts = np.array(values.cast(DataType.int64()).to_pylist(), dtype=np.float64)
        return counts / COUNTS_PER_S[str(kind.time_unit)]
    if DataType.is_numeric(kind) or DataType.is_decimal(kind):
        numbers = values.cast(DataType.float64())
        if numbers.null_count == 0 and len(numbers) > 0:
            return np.asarray(numbers.to_numpy(), dtype=np.float64)
        return np.array(numbers.to_pylist(), dtype=np.float64)
    texts = (DataType.is_string, DataType.is_large_string, DataType.is_string_view, DataType.is_timestamp)
    if any(is_text(kind) for is_text in texts):
        found: list[str | None] = values.cast(DataType.string()).to_pylist()
        return found
    name = table.column_names[index]
    raise PourlineError(
        f"column {name!r} is of type {kind}: a number, a duration, a date or a text is needed", "column", None, name
    )


def unit(table: Table, index: int) -> str:
    """Return the unit that the field's metadata holds, or ""."""
    metadata = table.schema.field(index).metadata_str
    return metadata.get("unit", "")


def is_clock(table: Table, index: int) -> bool:
    """Tell whether a column holds durations or times of day."""
    kind: DataType = table.schema.field(index).type
    return kind.is_duration(kind) or kind.is_time(kind)


def parquet(path: str | PathLike[str]) -> ArrowStream:
    """Return the table in a Parquet file, read by pyarrow or polars, whichever is installed."""
    read = _first_installed({"pyarrow.parquet": "read_table", "polars": "read_parquet"}, "reading Parquet")
    with _parquet_errors(path):
        table: ArrowStream = read(fspath(path))
        return table


@contextmanager
def _parquet_errors(path: str | PathLike[str]) -> Iterator[None]:
    try:
        yield
    except OSError as failed:
        raise PourlineError(f"{fspath(path)}: {failed.strerror or failed}", "io") from failed
    except Exception as failed:
        raise PourlineError(f"{fspath(path)}: not a Parquet file: {failed}", "format") from failed


def write_parquet(table: ArrowStream, path: str | PathLike[str]) -> None:
    """Write a table as a Parquet file, by pyarrow or polars, whichever is installed."""
    write = _first_installed({"pyarrow.parquet": "write_table", "polars": "from_arrow"}, "writing Parquet")
    if write.__name__ == "write_table":
        import pyarrow

        write(pyarrow.table(table), fspath(path))
    else:
        write(table).write_parquet(fspath(path))


def _first_installed(wanted: Mapping[str, str], purpose: str) -> Any:
    from importlib import import_module

    for module, function in wanted.items():
        try:
            return getattr(import_module(module), function)
        except ImportError:
            continue
    message = f'{purpose} needs pyarrow or polars: pip install "pourline[arrow]"'
    raise PourlineError(message, "install")
