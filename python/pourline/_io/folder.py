"""In: a folder, a pattern of paths, or several of them. Out: their logs one by one, or the error of a refused file.

A file `rules.toml` in a folder states columns, units and metadata for the files in it by the pattern of their names.
"""

from __future__ import annotations

import glob
import math
import os
import warnings
from collections.abc import Iterable, Iterator, Mapping
from os import PathLike, fspath
from pathlib import Path
from typing import Any, NamedTuple

from .._pourline import Log, _Rules, read
from ..errors import PourlineError
from ..tables import Table
from .files import MOST_BY_HAND, small_bytes

RULES = "rules.toml"
ENDINGS = (".csv", ".tsv", ".txt", ".json", ".jsonl", ".ndjson", ".parquet", ".pq", ".xlsx", ".xlsm")
# Names in a message.
SHOWN = 5


class File(NamedTuple):
    """A file, and what the rules of its folder state: keywords of `read`, or an error."""

    path: str
    keywords: dict[str, Any]
    error: PourlineError | None = None

    def read(self, given: Mapping[str, Any]) -> Log | PourlineError:
        """Return the log, or the error with the file's name; keywords that are given win over the rules."""
        if self.error is not None:
            return self.error
        factors = {**self.keywords.get("factors", {}), **given.get("factors", {})}
        keywords = {**self.keywords, **given} | ({"factors": factors} if factors else {})
        try:
            return read(self.path, **keywords)
        except PourlineError as error:
            return named(self.path, error)


def named(path: str, error: PourlineError) -> PourlineError:
    """Return the error with the name of the file at its beginning."""
    text = str(error)
    message = text if str(PourlineError(path)) in text else f"{path}: {text}"
    return PourlineError(message, error.kind, error.row, error.column)


class Folder:
    """The files of a folder or pattern in order of their names; iterating reads them one at a time."""

    def __init__(
        self,
        source: str | PathLike[str] | Iterable[str | PathLike[str]],
        given: Mapping[str, Any] | None = None,
        keep_errors: bool = False,
    ) -> None:
        """Find the files and apply the rules of their folders; nothing is read yet.

        With `keep_errors` a source without a log is a file with that error, and all files may be left out.
        """
        self._given = {key: value for key, value in (given or {}).items() if value is not None}
        self._rules: dict[Path, dict[str, File | None]] = {}
        self.ignored: list[str] = []
        self.files: list[File] = []
        sources = [source] if isinstance(source, (str, PathLike)) else list(source)
        if not all(isinstance(one, (str, PathLike)) for one in sources):
            raise PourlineError("source: a folder, a pattern, a file, or several of these are needed", column="source")
        for one in sources:
            try:
                self._add(fspath(one))
            except PourlineError as error:
                if not keep_errors:
                    raise
                self.files.append(File(fspath(one), {}, error))
        if not self.files and not keep_errors:
            what = ", ".join(fspath(one) for one in sources) or "no path was given"
            raise PourlineError(f"{what}: the rules leave out every file; change skip in {RULES}", "empty")

    def __len__(self) -> int:
        """Return the number of files."""
        return len(self.files)

    def __iter__(self) -> Iterator[Log | PourlineError]:
        """Yield each log, or the error of its file."""
        return (file.read(self._given) for file in self.files)

    def _add(self, source: str) -> None:
        for label, path in self._paths(source):
            if path.parent not in self._rules:
                self._rules[path.parent] = _ruled(path.parent)
            file = self._rules[path.parent].get(path.name, File(label, {}))
            if file is None:
                self.ignored.append(label)
            else:
                self.files.append(file._replace(path=label))

    def _paths(self, source: str) -> list[tuple[str, Path]]:
        path = Path(source)
        # Unlike the methods of a path, these hold a name that is too long for one that does not exist.
        if os.path.isdir(source):
            logs, others = _logs_of(path)
            self.ignored += [str(other) for other in others]
            if not logs:
                raise PourlineError(f"{source}: no log is in this folder; {_remedy(path)}", "empty")
        elif not os.path.exists(source) and any(sign in source for sign in "*?["):
            found = sorted(Path(name) for name in glob.glob(source, recursive=True))
            logs = [one for one in found if one.is_file() and one.name != RULES]
            if not logs:
                raise PourlineError(f"{source}: no file fits this pattern; ** stands for folders at any depth", "empty")
        else:
            return [(source, path)]
        return [(str(log), log) for log in logs]


def _logs_of(folder: Path) -> tuple[list[Path], list[Path]]:
    """Return the logs in a folder by the endings of their names, and its other files."""
    try:
        inside = sorted(path for path in folder.iterdir() if not path.name.startswith(".") and not path.is_dir())
    except OSError as failed:
        raise PourlineError(f"{folder}: {failed.strerror or failed}", "io") from failed
    logs = [path for path in inside if path.suffix.lower() in ENDINGS]
    return logs, [path for path in inside if path not in logs and path.name != RULES]


def _remedy(folder: Path) -> str:
    deeper = sorted({path.suffix.lower() for path in folder.glob("*/*") if path.suffix.lower() in ENDINGS})
    if deeper:
        return f"the folders in it have some: {str(folder / '**' / ('*' + deeper[0]))!r} reads them"
    return f"the name of a log ends in {', '.join(ENDINGS)}"


def _ruled(folder: Path) -> dict[str, File | None]:
    """Return what the rules of a folder state for each of its logs that has a rule; None for one that is left out."""
    path = folder / RULES
    if not path.is_file():
        return {}
    try:
        rules = _Rules(small_bytes(path).decode())
    except UnicodeDecodeError:
        raise PourlineError(f"{path}: this is not text in UTF-8, at most {MOST_BY_HAND >> 20} MiB", "format") from None
    except PourlineError as error:
        raise named(str(path), error) from None
    found: dict[str, File | None] = {}
    used: set[int] = set()
    logs, others = _logs_of(folder)
    for log in [*logs, *others]:
        try:
            rule = rules.rule_for(log.name)
        except PourlineError as error:
            message = f"{log}: {RULES}: {error}"
            found[log.name] = File(str(log), {}, PourlineError(message, error.kind, error.row, error.column))
            used.update(range(len(rules.patterns)) if "fits two rules" in message else ())
            continue
        if rule is not None:
            index, skip, keywords = rule
            used.add(index)
            found[log.name] = None if skip else File(str(log), keywords)
    names = _shown([log.name for log in logs])
    idle = [pattern for place, pattern in enumerate(rules.patterns) if place not in used]
    if not found:
        message = f"{path}: no file fits {_shown(idle)}; change the patterns: the folder has {names or 'no log'}"
        raise PourlineError(message, "argument", column="name")
    if idle:
        message = f"{path}: no file fits {_shown(idle)}; change or remove the rule: the folder has {names}"
        warnings.warn(message, UserWarning, stacklevel=4)
    free = [log.name for log in logs if log.name not in found]
    if free:
        message = f"{path}: no rule fits {_shown(free)}, read without one; add a rule, or one with skip = true"
        warnings.warn(message, UserWarning, stacklevel=4)
    return found


def _shown(names: list[str]) -> str:
    shown = ", ".join(f'"{name}"' for name in names[:SHOWN])
    return shown + (f" and {len(names) - SHOWN} more" if len(names) > SHOWN else "")


class Logs(list["Log | PourlineError"]):
    """The logs of `read_many`, in order of their files: each a `Log`, or the `PourlineError` of a refused file.

    It is a list of `logs` with the paths of their `files`; `ignored` are the paths that were not read as logs.

    >>> import pathlib, tempfile, pourline
    >>> folder = tempfile.TemporaryDirectory()
    >>> log = pathlib.Path(folder.name, "Ada_1.csv")
    >>> size = log.write_text("time_s,water_g\\n0.0,0.0\\n0.1,0.4\\n0.2,1.1\\n")
    >>> logs = pourline.read_many(folder.name)
    >>> isinstance(logs, pourline.Logs), logs.files == [str(log)], logs.ignored
    (True, True, [])
    >>> folder.cleanup()
    """

    def __init__(self, logs: Iterable[Log | PourlineError], files: Iterable[str], ignored: Iterable[str] = ()) -> None:
        """Take the logs, the path of each, and the paths that were not read."""
        super().__init__(logs)
        self.files = list(files)
        self.ignored = list(ignored)
        if len(self.files) != len(self):
            raise PourlineError(
                f"files: {len(self.files)} paths for {len(self)} logs", "unequal_length", column="files"
            )

    @property
    def refused(self) -> dict[str, PourlineError]:
        """The error of each refused file, by its path."""
        pairs = zip(self.files, self, strict=True)
        return {file: log for file, log in pairs if isinstance(log, PourlineError)}

    def table(self) -> Table:
        """Return one row per file: its name, samples, duration, weights and notes; or the kind of its error and the reason.

        >>> import pathlib, tempfile, pourline
        >>> folder = tempfile.TemporaryDirectory()
        >>> size = pathlib.Path(folder.name, "Ada_1.csv").write_text("no log\\n")
        >>> table = pourline.read_many(folder.name).table()
        >>> table["name"].tolist(), table["n_samples"].tolist(), table["error_kind"].tolist()
        (['Ada_1'], [0], ['column'])
        >>> folder.cleanup()
        """
        rows: list[tuple[Any, ...]] = []
        for file, log in zip(self.files, self, strict=True):
            if isinstance(log, PourlineError):
                rows.append((file, Path(file).stem, 0, math.nan, "", "", log.kind, str(log)))
            else:
                duration_s = float(log.time_s.max() - log.time_s.min())
                weights = [name for name in ("water_g", "beverage_g") if getattr(log, name) is not None]
                notes = "; ".join(log.notes)
                rows.append((file, log.meta.name or "", len(log), duration_s, " and ".join(weights), notes, "", ""))
        names = ("file", "name", "n_samples", "duration_s", "weights", "notes", "error_kind", "error")
        columns = zip(*rows, strict=True) if rows else ([] for _ in names)
        return Table(dict(zip(names, columns, strict=True)), {"duration_s": "s"})


def read_many(
    source: str | PathLike[str] | Iterable[str | PathLike[str]],
    *,
    time: str | int | None = None,
    water: str | int | None = None,
    beverage: str | int | None = None,
    time_unit: str | None = None,
    mass_unit: str | None = None,
    missing: str | None = None,
    **meta: Any,
) -> Logs:
    """Return the logs of a folder, of a pattern of paths such as ``"brews/*.csv"``, or of several of them.

    `source` is a folder, a pattern, a file, or several of these. A folder gives the logs that lie in it, in order of
    their names; their endings are .csv, .tsv, .txt, .json, .jsonl, .ndjson, .parquet, .pq, .xlsx and .xlsm. A file
    `rules.toml` beside them states columns, units and metadata by the pattern of their names. A refused file is its
    `PourlineError`, and the others go on.

    `time`, `water`, `beverage`, `time_unit`, `mass_unit`, `missing` and the metadata (`meta`) are those of `read`, for
    all files; they win over the rules, and the rules over the files.

    >>> import pathlib, tempfile, pourline
    >>> temporary = tempfile.TemporaryDirectory()
    >>> folder = pathlib.Path(temporary.name)
    >>> size = (folder / "Broadlip_Ada_1.csv").write_text("time_s,water_g\\n0.0,0.0\\n0.1,0.4\\n0.2,1.1\\n")
    >>> size = (folder / "Broadlip_Ada_2.csv").write_text("no log\\n")
    >>> size = (folder / "rules.toml").write_text('[[files]]\\nname = "{kettle}_{person}_{n}.csv"\\n')
    >>> good, bad = pourline.read_many(folder)
    >>> good.meta.kettle, good.meta.factors, bad.kind
    ('Broadlip', {'n': '1'}, 'column')
    >>> temporary.cleanup()
    """
    columns = {"time": time, "water": water, "beverage": beverage}
    units = {"time_unit": time_unit, "mass_unit": mass_unit, "missing": missing}
    folder = Folder(source, {**columns, **units, **meta})
    return Logs(folder, (file.path for file in folder.files), folder.ignored)


for _public in (Logs, read_many):
    _public.__module__ = "pourline"
