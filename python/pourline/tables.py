"""In: named columns with units. Out: `Table`, for display and for pandas, polars, pyarrow and other Arrow consumers.

Method: the Arrow PyCapsule interface (https://arrow.apache.org/docs/format/CDataInterface/PyCapsuleInterface.html),
implemented by arro3, which is imported when a table is exported.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, overload

import numpy as np

from ._escape import escape
from .errors import PourlineError

if TYPE_CHECKING:
    import arro3.core
    import pandas
    import polars
    from numpy.typing import NDArray

# The public path of the class is `pourline.Table`.
__all__ = ["stack"]

ROWS_SHOWN = 40


class Table:
    """Columns of equal length, each with a unit: float64, int64 or text.

    NaN stands for a number that is undefined and "" for a missing text; both are null in Arrow and polars.
    `table[name]` is a column, `table[0]` a row as a dict, `table[2:5]`, `table[mask]` and `table[names]` are tables.
    Iteration yields the rows. Tables are equal if names, values, units and notes are.

    >>> import pourline
    >>> table = pourline.Table({"pour": [1, 2], "mass_g": [45.0, 60.2]}, units={"mass_g": "g"})
    >>> table["mass_g"]
    array([45. , 60.2])
    >>> table.units["mass_g"], table[-1]
    ('g', {'pour': 2, 'mass_g': 60.2})
    >>> print(table)
    pour  mass_g
       1      45
       2    60.2
    """

    __slots__ = ("_columns", "_notes", "_units")

    def __init__(
        self,
        columns: Mapping[str, Sequence[Any] | NDArray[Any]],
        units: Mapping[str, str] | None = None,
        notes: Mapping[str, str] | None = None,
    ) -> None:
        """Take the `columns` by name, the `units` of those that have one, and `notes` on some."""
        if not isinstance(columns, Mapping):
            raise PourlineError(f"columns: a dict is needed, not {type(columns).__name__}", column="columns")
        self._columns = {str(name): _column(str(name), values) for name, values in columns.items()}
        self._units = {name: (units or {}).get(name, "") for name in self._columns}
        self._notes = {name: (notes or {}).get(name, "") for name in self._columns}
        lengths = {name: len(values) for name, values in self._columns.items()}
        if len(set(lengths.values())) > 1:
            raise PourlineError(f"the columns differ in length: {lengths}", "unequal_length")

    @property
    def columns(self) -> list[str]:
        """Names of the columns, in order."""
        return list(self._columns)

    @property
    def units(self) -> dict[str, str]:
        """Unit of each column; "" for a text or a count."""
        return dict(self._units)

    @property
    def notes(self) -> dict[str, str]:
        """A caveat on each column, such as that it is an ordinal proxy; mostly ""."""
        return dict(self._notes)

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(next(iter(self._columns.values()), ()))

    def __iter__(self) -> Iterator[dict[str, Any]]:
        """Yield each row as a dict: an undefined number is NaN, a missing text None."""
        columns = [_plain(values) for values in self._columns.values()]
        return (dict(zip(self._columns, row, strict=True)) for row in zip(*columns, strict=True))

    @overload
    def __getitem__(self, key: str) -> NDArray[Any]: ...
    @overload
    def __getitem__(self, key: int) -> dict[str, Any]: ...
    @overload
    def __getitem__(self, key: slice | list[str] | list[int] | NDArray[Any]) -> Table: ...
    def __getitem__(self, key: Any) -> Any:
        """Return a column, a row, or a table of some rows or columns."""
        if isinstance(key, str):
            return self._column(key)
        if isinstance(key, slice):
            return self._rows(key)
        if np.ndim(key) == 0:
            (row,) = self._rows([key])
            return row
        if all(isinstance(one, str) for one in key):
            columns = {name: self._column(name) for name in key}
            return Table(columns, self._units, self._notes)
        return self._rows(np.asarray(key))

    def _column(self, name: str) -> NDArray[Any]:
        try:
            return self._columns[name]
        except KeyError:
            message = f"there is no column {name!r}; there are: {', '.join(self._columns)}"
            raise PourlineError(message, "column", column=name) from None

    def _rows(self, places: Any) -> Table:
        columns = {name: values[places] for name, values in self._columns.items()}
        return Table(columns, self._units, self._notes)

    def _ipython_key_completions_(self) -> list[str]:
        return self.columns

    def __eq__(self, other: object) -> bool:
        """Compare names, values, units and notes; an undefined number equals an undefined one."""
        if not isinstance(other, Table):
            return NotImplemented
        same = (self.columns, self._units, self._notes) == (other.columns, other._units, other._notes)
        return same and all(_equal(self._columns[name], other._columns[name]) for name in self._columns)

    # Its arrays can be changed.
    __hash__ = None  # type: ignore[assignment]

    def __reduce__(self) -> tuple[Any, ...]:
        """Return what pickle stores."""
        return Table, (self._columns, self._units, self._notes)

    # Not for type checkers, which find a wrong name by themselves.
    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> Any:
            """Raise an error that states the nearest name, or how to take a column."""
            if name.startswith("_"):
                raise AttributeError(f"Table has no {name!r}")
            raise AttributeError(f"Table has no {name!r}; {self._instead(name)}")

    def _instead(self, name: str) -> str:
        from difflib import get_close_matches

        if name in self._columns:
            return f'a column is taken by table["{name}"]'
        public = [one for one in dir(type(self)) if not one.startswith("_")]
        nearest = get_close_matches(name, [*public, *self._columns], 1, 0)
        return f"the nearest is {nearest[0]!r}"

    def to_dict(self) -> dict[str, list[Any]]:
        """Return each column as a list; an undefined number or a missing text is None.

        >>> import pourline
        >>> pourline.Table({"mass_g": [45.0, float("nan")]}).to_dict()
        {'mass_g': [45.0, None]}
        """
        return {name: _with_none(values) for name, values in self._columns.items()}

    def to_pandas(self) -> pandas.DataFrame:
        """Return a pandas DataFrame; its `attrs` hold `units` and `notes`.

        >>> import pourline
        >>> pourline.Table({"mass_g": [45.0, 60.0]}).to_pandas()["mass_g"].sum()
        np.float64(105.0)
        """
        try:
            import pandas
        except ImportError as missing:
            raise PourlineError('to_pandas needs pandas: pip install "pourline[pandas]"', "install") from missing
        columns = {n: _with_none(v) if v.dtype.kind == "U" else v for n, v in self._columns.items()}
        frame = pandas.DataFrame(columns)
        frame.attrs |= {"units": self.units, "notes": self.notes}
        return frame

    def to_polars(self) -> polars.DataFrame:
        """Return a polars DataFrame.

        >>> import pourline
        >>> pourline.Table({"mass_g": [45.0, 60.0]}).to_polars()["mass_g"].sum()
        105.0
        """
        try:
            import polars
        except ImportError as missing:
            raise PourlineError('to_polars needs polars: pip install "pourline[polars]"', "install") from missing
        return polars.DataFrame(self)

    def __arrow_c_schema__(self) -> object:
        """Return the schema in a capsule; the field metadata holds unit and note."""
        return self._arrow().schema.__arrow_c_schema__()

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        """Return the columns as an Arrow C stream in a capsule."""
        return self._arrow().__arrow_c_stream__(requested_schema)

    def _arrow(self) -> arro3.core.Table:
        from arro3.core import Array, DataType, Field, Schema
        from arro3.core import Table as ArrowTable

        kinds = {"f": DataType.float64(), "i": DataType.int64(), "U": DataType.string()}
        fields, arrays = [], []
        for name, values in self._columns.items():
            kind = kinds[values.dtype.kind]
            notes = {"unit": self._units[name], "note": self._notes[name]}
            metadata = {key: text for key, text in notes.items() if text}
            fields.append(Field(name, kind, nullable=True, metadata=metadata or None))
            whole = values.dtype.kind != "U" and len(values) > 0 and not np.isnan(values).any()
            # Numbers without gaps are exported without a copy. Others are copied, because Arrow marks missing values in
            # a separate bitmap.
            arrays.append(Array.from_numpy(values) if whole else Array(_with_none(values), type=kind))
        return ArrowTable.from_arrays(arrays, schema=Schema(fields))

    def __repr__(self) -> str:
        """Return the first rows as text."""
        cells = {name: [_cell(value) for value in _with_none(v[:ROWS_SHOWN])] for name, v in self._columns.items()}
        widths = {name: max([len(name), *map(len, column)]) for name, column in cells.items()}
        rows = [list(cells), *zip(*cells.values(), strict=True)]
        lines = ["  ".join(t.rjust(w) for t, w in zip(row, widths.values(), strict=True)) for row in rows]
        return "\n".join([*lines, *self._rest()])

    def _repr_html_(self) -> str:
        heads = []
        for name, unit in self._units.items():
            title = "; ".join(text for text in (unit or "no unit", self._notes[name]) if text)
            heads.append(f"<th title='{escape(title)}'>{escape(name)}</th>")
        rows = []
        for row in zip(*(_with_none(values[:ROWS_SHOWN]) for values in self._columns.values()), strict=True):
            rows.append("<tr>" + "".join(f"<td>{escape(_cell(value))}</td>" for value in row) + "</tr>")
        rest = "".join(f"<p>{line}</p>" for line in self._rest())
        return f"<table><thead><tr>{''.join(heads)}</tr></thead><tbody>{''.join(rows)}</tbody></table>{rest}"

    def _rest(self) -> list[str]:
        return [f"{ROWS_SHOWN} of {len(self)} rows"] if len(self) > ROWS_SHOWN else []


def stack(tables: Iterable[Table]) -> Table:
    """Concatenate tables by rows; a column that a table lacks is undefined in its rows.

    >>> import pourline
    >>> from pourline.tables import stack
    >>> one = pourline.Table({"mass_g": [45.0]}, units={"mass_g": "g"})
    >>> stack([one, one])["mass_g"]
    array([45., 45.])
    """
    tables = list(tables)
    units = {name: unit for table in tables for name, unit in table.units.items()}
    notes = {name: note for table in tables for name, note in table.notes.items()}
    columns = {}
    for name in units:
        is_text = {table[name].dtype.kind == "U" for table in tables if name in table.columns}
        if len(is_text) > 1:
            raise PourlineError(f"column {name}: texts in one table, numbers in another", "column", column=name)
        empty = "" if is_text == {True} else np.nan
        parts = [table[name] if name in table.columns else np.full(len(table), empty) for table in tables]
        columns[name] = np.concatenate(parts)
    return Table(columns, units, notes)


def _column(name: str, values: Sequence[Any] | NDArray[Any]) -> NDArray[Any]:
    array = np.asarray(values)
    if array.ndim != 1 or array.dtype.kind not in "fiuU":
        if array.size or array.ndim != 1:
            raise PourlineError(f"column {name}: numbers or texts are needed", "column", column=name)
        return np.zeros(0)
    if array.dtype.kind == "U":
        return array
    return array.astype(np.float64 if array.dtype.kind == "f" else np.int64)


def _equal(one: NDArray[Any], other: NDArray[Any]) -> bool:
    kinds = {one.dtype.kind, other.dtype.kind}
    return len(kinds) == 1 and bool(np.array_equal(one, other, equal_nan=kinds == {"f"}))


def _plain(values: NDArray[Any]) -> list[Any]:
    """Return the values as a list, with None for a missing text."""
    return _with_none(values) if values.dtype.kind == "U" else list(values.tolist())


def _with_none(values: NDArray[Any]) -> list[Any]:
    """Return the values as a list, with None for an undefined number or a missing text."""
    unknown = np.isnan(values) if values.dtype.kind == "f" else values == "" if values.dtype.kind == "U" else None
    if unknown is None or not unknown.any():
        return list(values.tolist())
    return [None if none else value for none, value in zip(unknown.tolist(), values.tolist(), strict=True)]


def _cell(value: object) -> str:
    if value is None:
        return "-"
    return f"{value:.3f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
