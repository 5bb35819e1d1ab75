"""In: the options and keywords of `analyze_table`. Out: the same call as a picklable value."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from .._pourline import Options
from .long import analyze_table

if TYPE_CHECKING:
    import arro3.core
    import pyarrow

    from .arrow import ArrowStream


class Work:
    """`analyze_table` with all arguments except its source."""

    def __init__(self, options: Options | None, keywords: Mapping[str, Any]) -> None:
        """Take options and keywords; a task of an engine uses one thread by default."""
        self._options = None if options is None else options.to_dict()
        self._keywords = {"threads": 1, **keywords}

    def stream(self, source: ArrowStream) -> arro3.core.RecordBatchReader:
        """Return the rows batch by batch."""
        options = None if self._options is None else Options(**self._options)
        return analyze_table(source, options, **self._keywords)

    def __call__(self, source: ArrowStream) -> pyarrow.Table:
        """Return all rows."""
        import pyarrow

        return pyarrow.table(self.stream(source))
