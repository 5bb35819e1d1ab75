"""In: a dask DataFrame of many logs, or Arrow tables to come. Out: their rows, worked out by dask's workers."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING, Any

from ._io.work import Work
from .errors import PourlineError

if TYPE_CHECKING:
    from ._pourline import Options

__all__ = ["analyze_table"]


def analyze_table(
    source: Any, options: Options | None = None, *, by: str = "log", order: str = "time_s", **keywords: Any
) -> Any:
    """Analyse the logs of a dask DataFrame, or of Arrow tables to come, on dask's workers.

    A DataFrame is shuffled by the column `by`, so that each log lies in one partition whole, and there its rows are
    sorted by the column `order`: the stamps, or a number of the row where stamps may be equal or out of order. It
    gives a DataFrame of Arrow types, whose partitions are worked out when it is computed. An iterable of `Delayed`
    Arrow tables, in each of which whole logs stand together, gives a list of `Delayed` pyarrow tables. `keywords`
    are those of `pourline.analyze_table`; the rows are the same to the last bit, though not in the same order. Each
    task works on one thread unless `threads` says more.

    >>> from dask.dataframe import from_pandas  # doctest: +SKIP
    >>> rows = pourline.on_dask.analyze_table(from_pandas(frame, npartitions=8)).compute()  # doctest: +SKIP
    """
    try:
        import dask
    except ImportError as missing:
        raise PourlineError('this needs dask: pip install "pourline[engines]"', "install") from missing
    work = Work(options, {"by": by, **keywords})
    if hasattr(source, "map_partitions"):
        whole = source.shuffle(on=by)
        return whole.map_partitions(
            partial(_of_partition, work, [by, order]), meta=_of_partition(work, [by, order], source._meta)
        )
    if not isinstance(source, Iterable):
        raise PourlineError("source: a dask DataFrame or an iterable of Delayed tables is needed", column="source")
    return [dask.delayed(work)(part) for part in source]


def _of_partition(work: Work, order: list[str], frame: Any) -> Any:
    import pandas
    import pyarrow

    rows = pyarrow.Table.from_pandas(frame, preserve_index=False)
    # Sorted by Arrow, whose sort is stable: rows of equal stamps stay as they came.
    return work(rows.sort_by([(name, "ascending") for name in order])).to_pandas(types_mapper=pandas.ArrowDtype)
