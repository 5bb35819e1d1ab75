"""In: a Spark DataFrame of many logs. Out: a Spark DataFrame of their rows, computed by Spark's executors."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ._io.work import Work
from .errors import PourlineError

if TYPE_CHECKING:
    from ._pourline import Options

__all__ = ["analyze_table"]


def analyze_table(
    source: Any, options: Options | None = None, *, by: str = "log", order: str = "time_s", **keywords: Any
) -> Any:
    """Analyse the logs of a Spark DataFrame on Spark's executors.

    Rows are repartitioned by the column `by` and sorted within each partition by it and by the column `order`: the
    stamps, or row numbers if stamps may be equal or out of order. Each partition streams through `mapInArrow`, so it
    may be larger than the memory of its worker. `keywords` are those of `pourline.analyze_table`. The rows are bitwise
    equal to its rows, in another order. Each task uses one thread unless `threads` is given. The workers need
    pourline.

    >>> rows = pourline.on_spark.analyze_table(spark.read.parquet("logs"), by="log")  # doctest: +SKIP
    """
    try:
        from pyspark.sql.pandas.types import from_arrow_schema, to_arrow_schema
    except ImportError as missing:
        raise PourlineError('this needs pyspark: pip install "pourline[engines]"', "install") from missing
    work = Work(options, {"by": by, **keywords})
    schema = to_arrow_schema(source.schema)

    def of_partition(batches: Iterator[Any]) -> Iterator[Any]:
        import pyarrow

        reader = pyarrow.RecordBatchReader.from_batches(schema, batches)
        return map(pyarrow.record_batch, work.stream(reader))

    whole = source.repartition(by).sortWithinPartitions(by, order)
    return whole.mapInArrow(of_partition, from_arrow_schema(work(schema.empty_table()).schema))
