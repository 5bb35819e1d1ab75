"""In: anything with the Arrow PyCapsule interface, or a Parquet file. Out: columns for the one set of column rules.

Method: arro3 reads the stream. Numbers become float64 arrays with NaN for null, as do durations and times of day, in s.
Dates and texts become texts with None for null. Names, units and values are checked by the same rules as those of a
text file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, cast

import numpy as np

from ..errors import PourlineError
from ..tables import Table as Columns
from .files import must_be_file

if TYPE_CHECKING:
    from arro3.core import DataType, RecordBatch, RecordBatchReader, Schema, Table
    from numpy.typing import NDArray

# A log of a brew at 100 Hz that lasts five days: as many rows as a text file may have.
MOST_ROWS = 50_000_000
# Limit on the unpacked size of the columns that are read.
MOST_BYTES = 2 << 30
# Bytes of a date and time, with a wide margin.
LONGEST_STAMP = 256
COUNTS_PER_S = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}


class ArrowStream(Protocol):
    """A table as an Arrow C stream, as pandas, polars, pyarrow, duckdb and others export it."""

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        """Return the stream in a capsule."""


def framed(source: Any) -> ArrowStream:
    """Return a table: that of a mapping of columns, that of a series with its times as index, or the source itself."""
    if isinstance(source, Mapping):
        return Columns(source)
    if hasattr(source, "to_frame") and hasattr(source, "index"):
        named = source.to_frame("water_g" if source.name is None else source.name)
        index = named.index.name or ("time_s" if named.index.dtype.kind in "fiu" else "time")
        return cast("ArrowStream", named.rename_axis(index).reset_index())
    return cast("ArrowStream", source)


def table(source: ArrowStream) -> Table:
    """Read a stream as a table."""
    from arro3.core import Table

    try:
        return Table.from_arrow(source)
    except ImportError as missing:
        message = f"this table cannot be exported as an Arrow stream here: {missing}"
        raise PourlineError(message, "install") from missing
    except Exception as refused:
        raise PourlineError(f"this Arrow stream cannot be read: {refused}", "format") from refused


def reader(source: ArrowStream | str | PathLike[str]) -> RecordBatchReader:
    """Read a stream, a Parquet file or a folder of Parquet files batch by batch."""
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
    for one in files:
        must_be_file(one)
    if not files:
        raise PourlineError(f"{path}: this folder has no Parquet file", "io")
    schema = Schema.from_arrow(_parquet_file(files[0]).schema_arrow)
    return made_while_taken(schema, _batches_of(files, schema))


def made_while_taken(schema: Schema, batches: Iterator[RecordBatch]) -> RecordBatchReader:
    """Return batches as a lazy stream."""
    from arro3.core import RecordBatchReader

    try:
        return RecordBatchReader.from_batches(schema, batches)
    except TypeError:
        return cast("RecordBatchReader", _Gathered(schema, batches))


class _Gathered:
    """The same for arro3 before 0.9, the newest for Python 3.10: as one stream it is available after the last batch."""

    def __init__(self, schema: Schema, batches: Iterator[RecordBatch]) -> None:
        self.schema = schema
        self._batches = batches

    def __iter__(self) -> Iterator[RecordBatch]:
        return self._batches

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        from arro3.core import RecordBatchReader

        return RecordBatchReader.from_batches(self.schema, list(self._batches)).__arrow_c_stream__(requested_schema)


def _batches_of(files: Sequence[Path], schema: Schema) -> Iterator[RecordBatch]:
    """Read files in sequence, none of them completely in memory."""
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
    raise _wrong_type(name, kind)


def column_or_texts(table: Table, index: int) -> NDArray[np.float64] | list[str | None]:
    """Return one column; one without a type, as other libraries write texts that are all missing, as texts."""
    from arro3.core import DataType

    values = table.column(index)
    return [None] * len(values) if DataType.is_null(values.type) else column(table, index)


def unit(table: Table, index: int) -> str:
    """Return the unit that the field's metadata holds, or ""."""
    metadata = table.schema.field(index).metadata_str
    return metadata.get("unit", "")


def is_clock(table: Table, index: int) -> bool:
    """Return whether a column holds durations or times of day."""
    kind: DataType = table.schema.field(index).type
    return kind.is_duration(kind) or kind.is_time(kind)


class ParquetLog(Protocol):
    """A Parquet file of which some columns are read, if its size is within the limits of a log."""

    column_names: list[str]

    def take(self, places: Sequence[int]) -> Table:
        """Return the columns at these places, in this order."""


def parquet(path: str | PathLike[str]) -> ParquetLog:
    """Open a Parquet file with pyarrow or polars, whichever is installed."""
    by = {"pyarrow.parquet": "ParquetFile", "polars": "scan_parquet"}
    opened = _first_installed(by, "reading Parquet")
    must_be_file(path)
    return (_ByPyarrow if opened.__name__ == "ParquetFile" else _ByPolars)(path, opened)


class _ByPyarrow:
    def __init__(self, path: str | PathLike[str], opened: Any) -> None:
        self._path, self._opened = path, opened
        with _parquet_errors(path):
            self._file = opened(fspath(path))
            self._schema = self._file.schema_arrow
            self.column_names: list[str] = list(self._schema.names)

    def take(self, places: Sequence[int]) -> Table:
        import pyarrow as pa

        names = [self.column_names[place] for place in places]
        if any(self.column_names.count(name) > 1 for name in names):
            raise PourlineError(f"{fspath(self._path)}: two of the needed columns have the same name", "column")
        self._must_be_a_log(set(names))
        # Read as a dictionary, so that a repeated text is held once and its length is checked before it is expanded.
        texts = [name for name in names if _is_text(name, self._schema.field(name).type)]
        with _parquet_errors(self._path):
            file = self._opened(fspath(self._path), read_dictionary=texts)
            batches = []
            for batch in file.iter_batches(columns=names):
                for name in texts:
                    _must_be_short(batch[name], self._path, name)
                batches.append(batch)
            found = pa.Table.from_batches(batches, None if batches else file.schema_arrow)
            return table(found.select(names))

    def _must_be_a_log(self, names: set[str]) -> None:
        """Check the sizes in the file's metadata against the limits of a log, before any data are unpacked."""
        meta = self._file.metadata
        _must_be_few(meta.num_rows, self._path)
        values, size = 0, 0
        for group in map(meta.row_group, range(meta.num_row_groups)):
            for one in map(group.column, range(group.num_columns)):
                if one.path_in_schema in names or one.path_in_schema.partition(".")[0] in names:
                    values += one.num_values
                    size += one.total_uncompressed_size
        _must_be_few(values // len(names), self._path)
        if size > MOST_BYTES:
            raise PourlineError(
                f"{fspath(self._path)}: its columns take {size} bytes unpacked, the limit is {MOST_BYTES}",
                "format",
            )


class _ByPolars:
    def __init__(self, path: str | PathLike[str], opened: Any) -> None:
        self._path = path
        with _parquet_errors(path):
            self._file = opened(fspath(path), glob=False)
            self.column_names: list[str] = self._file.collect_schema().names()

    def take(self, places: Sequence[int]) -> Table:
        import polars as pl

        with _parquet_errors(self._path):
            rows = self._file.select(pl.len()).collect().item()
        _must_be_few(rows, self._path)
        with _parquet_errors(self._path):
            return table(self._file.select([self.column_names[place] for place in places]).collect())


def _is_text(name: str, kind: Any) -> bool:
    """Return whether a column holds texts, not numbers. Other types have no bound on their size and are refused."""
    import pyarrow as pa

    of = pa.types
    inner = kind.value_type if of.is_dictionary(kind) else kind
    # Compared by name: pyarrow 15 has no test for a view.
    if str(inner) in {"string", "large_string", "string_view"}:
        return True
    if not any(is_one(inner) for is_one in (of.is_integer, of.is_floating, of.is_decimal, of.is_temporal)):
        raise _wrong_type(name, kind)
    return False


def _wrong_type(name: str, kind: object) -> PourlineError:
    message = f"column {name!r} has type {kind}: numbers, durations, dates or texts are needed"
    return PourlineError(message, "column", None, name)


def _must_be_few(rows: int, path: str | PathLike[str]) -> None:
    if rows > MOST_ROWS:
        message = f"{fspath(path)}: {rows} rows, the limit of a log is {MOST_ROWS}; analyze_table reads many logs"
        raise PourlineError(message, "format")


def _must_be_short(texts: Any, path: str | PathLike[str], name: str) -> None:
    import pyarrow.compute as pc

    longest = pc.max(pc.binary_length(texts.dictionary)).as_py() or 0
    if longest > LONGEST_STAMP:
        raise PourlineError(
            f"{fspath(path)}: column {name!r} holds a text of {longest} bytes, too long for a stamp",
            "format",
            None,
            name,
        )


@contextmanager
def _parquet_errors(path: str | PathLike[str]) -> Iterator[None]:
    try:
        yield
    except PourlineError:
        raise
    except OSError as failed:
        if failed.errno is None:
            # An error of the Parquet reader about the content, not of the operating system.
            raise PourlineError(f"{fspath(path)}: a damaged Parquet file: {str(failed).strip()}", "format") from failed
        raise PourlineError(f"{fspath(path)}: {failed.strerror}", "io") from failed
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
