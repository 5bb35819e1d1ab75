"""In: a workbook (.xlsx). Out: each of its sheets as text in CSV, so that it is read by the rules of a text file.

openpyxl reads the cells, and formulas by the values that were saved with them. A row of the sheet is a line of the text.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Iterable
from os import PathLike, fspath
from typing import Any

from ..errors import PourlineError
from .files import must_be_file

# Limit of the unpacked workbook: its texts are held in memory.
MOST_UNPACKED = 256 << 20
# Limit of the text of one sheet; a longer one would not be surveyed.
MOST_TEXT = 16 << 20
MOST_COLUMNS = 256


def sheets(path: str | PathLike[str]) -> list[tuple[str, bytes]]:
    """Return the name and the text of each sheet that has any content."""
    try:
        import openpyxl
    except ImportError as missing:
        message = "reading .xlsx needs openpyxl: pip install 'pourline[xlsx]'; or save the sheet as CSV"
        raise PourlineError(message, "install") from missing
    must_be_file(path)
    name = fspath(path)
    try:
        with zipfile.ZipFile(path) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise PourlineError(f"{name}: more than 256 MiB unpacked, which is no workbook of a log", "format")
        with warnings.catch_warnings():
            # Of parts that are not read, such as styles.
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(path, read_only=True, data_only=True)
            try:
                found = [(sheet.title, _text(sheet.iter_rows(values_only=True), name)) for sheet in book.worksheets]
            finally:
                book.close()
    except PourlineError:
        raise
    except OSError as failed:
        raise PourlineError(f"{name}: {failed.strerror or failed}", "io") from failed
    except Exception as broken:
        # openpyxl raises errors of many kinds on a damaged file.
        message = f"{name}: this is no workbook, or a damaged one: save the sheet as CSV ({type(broken).__name__})"
        raise PourlineError(message, "format") from broken
    return [(title, text) for title, text in found if text.strip()]


def _text(rows: Iterable[tuple[Any, ...]], name: str) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    for row in rows:
        cells = [_cell(value) for value in row[:MOST_COLUMNS]]
        while cells and not cells[-1]:
            cells.pop()
        writer.writerow(cells)
        if text.tell() > MOST_TEXT:
            raise PourlineError(f"{name}: a sheet of more than 16 MiB as text: save it as CSV", "format")
    return text.getvalue().encode()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, dt.timedelta):
        return repr(value.total_seconds()) + " s"
    if isinstance(value, (dt.datetime, dt.time)):
        return value.isoformat()
    # A line break within a cell would begin a new line of the text.
    return repr(value) if isinstance(value, float) else " ".join(str(value).split())
