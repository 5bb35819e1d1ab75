"""In: a dask DataFrame of many logs, or Arrow tables to come. Out: their rows, computed by dask's workers."""

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

    A DataFrame is shuffled by the column `by`, so that each log is in one partition. There its rows are sorted by the
    column `order`: the stamps, or row numbers if stamps may be equal or out of order. The result is a lazy DataFrame
    of Arrow types. An iterable of `Delayed` Arrow tables, each with complete and contiguous logs, gives a list of
    `Delayed` pyarrow tables. `keywords` are those of `pourline.analyze_table`. The rows are bitwise equal to its rows,
    in another order. Each task uses one thread unless `threads` is given.

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
    # Arrow's sort is stable: the order of rows with equal stamps is preserved.
    return work(rows.sort_by([(name, "ascending") for name in order])).to_pandas(types_mapper=pandas.ArrowDtype)
