"""In: the name of a demo brew. Out: its log, its labels; every file is checked against its sha256 when it is read.

The brews are simulated and belong to an invented roastery with invented kettles and people; see `index()`.
"""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

from ._pourline import Log, read
from .errors import PourlineError
from .tables import Table

__all__ = ["index", "labels", "load", "load_all", "names"]

FOLDER = Path(__file__).parent / "demo"
UNITS = {"dose_g": "g", "tds_pct": "%", "water_c": "C"}


def names() -> list[str]:
    """Return the names of the demo brews.

    >>> import pourline
    >>> len(pourline.datasets.names()) >= 24
    True
    """
    return list(_rows())


def index() -> Table:
    """Return one row per demo brew: its file, checksums, licence, origin, metadata and simulated faults.

    >>> import pourline
    >>> sorted(set(pourline.datasets.index()["kettle"].tolist()))
    ['Broadlip', 'Fernspout', 'Thimblebeak']
    """
    rows = list(_rows().values())
    columns: dict[str, list[Any]] = {
        key: [float(row[key]) if key in UNITS else row[key] for row in rows] for key in rows[0]
    }
    return Table(columns, UNITS)


def load(name: str) -> Log:
    """Return the log of a demo brew, with its metadata.

    Raises:
        PourlineError: kind `argument` for a name that does not exist, `format` if the file does not match its checksum.

    >>> import pourline
    >>> log = pourline.datasets.load("fernspout-ada-01")
    >>> log.meta.kettle, log.meta.dose_g
    ('Fernspout', 15.0)
    """
    row = _row(name)
    return read(_checked(FOLDER / row["file"], row["sha256"]))


def load_all() -> list[Log]:
    """Return the logs of all demo brews, with their metadata, in the order of `names`.

    Raises:
        PourlineError: kind `format` if a file does not match its checksum.

    >>> import pourline
    >>> logs = pourline.datasets.load_all()
    >>> [log.meta.name for log in logs] == pourline.datasets.names()
    True
    """
    return [load(name) for name in names()]


def labels(name: str) -> dict[str, Any]:
    """Return the true values of the demo brew `name`: its pours, its faults, and the properties of the scale.

    >>> import pourline
    >>> pours = pourline.datasets.labels("fernspout-ada-01")["pours"]
    >>> [round(pour["mass_g"]) for pour in pours]
    [44, 65, 65, 66]
    """
    row = _row(name)
    found: dict[str, Any] = json.loads(_checked(FOLDER / row["labels"], row["labels_sha256"]))
    return found


@cache
def _rows() -> dict[str, dict[str, str]]:
    try:
        with open(FOLDER / "index.csv", encoding="utf-8", newline="") as file:
            return {row["name"]: row for row in csv.DictReader(file)}
    except OSError as failed:
        message = f"the demo brews are not installed: {failed.filename}: {failed.strerror}"
        raise PourlineError(message, "io") from failed


def _row(name: str) -> dict[str, str]:
    try:
        return _rows()[name]
    except (KeyError, TypeError):
        message = f"there is no demo brew {name!r}; there are: {', '.join(_rows())}"
        raise PourlineError(message, column="name") from None


def _checked(path: Path, sha256: str) -> bytes:
    try:
        content = path.read_bytes()
    except OSError as failed:
        raise PourlineError(f"{path}: {failed.strerror}", "io") from failed
    import hashlib

    found = hashlib.sha256(content).hexdigest()
    if found != sha256:
        message = f"{path}: this is not the file of the index: its sha256 is {found}, not {sha256}"
        raise PourlineError(message, "format")
    return content
