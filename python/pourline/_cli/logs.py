"""In: the arguments that describe logs. Out: the logs, their brews, and whether a file may be written.

Metadata of single logs come from a table of factors with one row per log: the column `file`, then any fields of the
metadata and any further factors.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
import warnings
from collections.abc import Iterator, Sequence
from itertools import tee
from pathlib import Path
from typing import Any

from .._descriptions import describe
from .._io.files import all_of, must_be_free, small_bytes, whole_file
from .._io.folder import File, Folder
from .._io.progress import Bar
from .._pourline import Brew, Labels, Log, Options, _Rules, analyze, analyze_each, read, split
from ..errors import PourlineError
from ..tables import Table, stack
from .completion import offer
from .output import WRITERS, complain

TIME_UNITS = ("s", "ms", "us", "ns", "min")
MASS_UNITS = ("g", "kg", "mg", "oz")
NUMBERS = ("dose_g", "dose_sd_g", "tds_pct", "tds_sd_pct", "brix_pct", "brix_sd_pct", "water_c")
TEXTS = ("coffee", "roast", "grinder", "grinder_setting", "kettle", "brewer", "person", "device", "note")


def add_output(command: argparse.ArgumentParser, what: str = "TABLE", required: bool = False) -> None:
    """Add the option for the output file."""
    about = "table to write: .csv, .json or .parquet" if what == "TABLE" else f"the {what.lower()} to write"
    command.add_argument("-o", "--output", metavar=what, required=required, help=about)
    add_force(command)


def add_force(command: argparse.ArgumentParser) -> None:
    """Add the option that allows files to be replaced."""
    command.add_argument("--force", action="store_true", help="replace files that are there already")


class HelpAll(argparse.Action):
    """Print the help with the options that the short one leaves out."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        """Print it, and end."""
        for action in parser._actions:
            action.help = getattr(action, "full_help", action.help)
        parser.print_help()
        parser.exit()


def in_full_help(action: argparse.Action) -> argparse.Action:
    """Leave an option out of the short help."""
    action.full_help = action.help  # type: ignore[attr-defined]
    action.help = argparse.SUPPRESS
    return action


def add_columns(command: argparse.ArgumentParser) -> None:
    """Add the options for the columns of the logs and their units."""
    columns = command.add_argument_group("columns, by name or by number from 1")
    for name, holds in (("time", "stamps"), ("water", "weight of the water"), ("beverage", "weight of the beverage")):
        about = f"{holds}, if its name does not identify it"
        in_full_help(columns.add_argument(f"--{name}", metavar="COLUMN", help=about))
    for name, units in (("time", TIME_UNITS), ("mass", MASS_UNITS)):
        about = f"{', '.join(units)}, if the file does not state it"
        offer(in_full_help(columns.add_argument(f"--{name}-unit", metavar="UNIT", help=about)), units)
    about = "what to do with empty cells"
    in_full_help(columns.add_argument("--missing", choices=("refuse", "flag"), help=about))
    about = "help with columns, units and metadata too"
    command.add_argument("--help-all", action=HelpAll, nargs=0, help=about)


def add_log_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments for the logs and their metadata."""
    command.add_argument("files", nargs="+", metavar="LOG", help="a log, a folder of logs, or - for standard input")
    add_columns(command)
    command.add_argument("--labels", metavar="LABELS", help="JSON file of pours set by hand; for one log")
    known = command.add_argument_group("metadata of the brews")
    about = "factors in the names, as {kettle}-{person}-{n}.csv"
    command.add_argument("--names", metavar="PATTERN", help=about)
    command.add_argument("--factors", metavar="TABLE", help="CSV, a row per log: file, kettle, person, ...")
    for names, kind, metavar in ((NUMBERS, float, "NUMBER"), (TEXTS, str, "TEXT")):
        for name in names:
            one = describe(name)
            about = ", ".join(filter(None, (one.meaning, one.unit))).replace("%", "%%")
            in_full_help(known.add_argument(f"--{name.replace('_', '-')}", type=kind, metavar=metavar, help=about))
    about = "file of the scale, as calibrate writes it"
    command.add_argument("--scale", metavar="TOML", help=about)
    about = "such as condition.scale_lag_s=0.25"
    command.add_argument("--option", action="append", default=[], metavar="KEY=VALUE", help=about)


def table_path(arguments: argparse.Namespace) -> Path | None:
    """Return the path of the table after checking that it may be written."""
    output = Path(arguments.output) if arguments.output else None
    if output is not None and output.suffix.lower() not in WRITERS:
        raise PourlineError(f"{output}: a table ends in {', '.join(WRITERS)}", column="output")
    may_write(output, arguments)
    return output


def may_write(path: Path | None, arguments: argparse.Namespace) -> None:
    """Raise, before the work begins, if the file exists already and may not be replaced."""
    if path is not None and not arguments.force:
        must_be_free(path)


def write_tables(tables: Sequence[Table], output: Path, arguments: argparse.Namespace) -> None:
    """Write tables as one, in the format given by the path's ending."""
    with whole_file(output, replace=arguments.force) as part:
        WRITERS[output.suffix.lower()](stack(tables), part)


def brews_of(arguments: argparse.Namespace) -> Iterator[tuple[str, Log | PourlineError, Brew | PourlineError]]:
    """Analyse the files; yield each with its log and its brew or error, as soon as it is ready."""
    options = Options(**_options(arguments.option, arguments.scale))
    factors = _factors(arguments.factors) if arguments.factors else None
    files = [_by_name(file, arguments.names) for file in _without_own(_files(arguments.files), arguments)]
    if arguments.labels is not None:
        yield _labelled(files, arguments, factors, options)
        return
    ahead, behind = tee(_parts(files, arguments, factors, options))
    with Bar(None, len(files)) as bar:
        for brew in analyze_each((log for _, _, log in ahead), options):
            done, path, log = next(behind)
            # The output on this brew goes to the same terminal.
            bar.clear()
            yield path, log, brew
            bar.tell(done)


def _parts(
    files: list[File], arguments: argparse.Namespace, factors: dict[str, dict[str, Any]] | None, options: Options
) -> Iterator[tuple[int, str, Log | PourlineError]]:
    """Yield the logs of the brews, several if a file holds several, each with the number and the path of its file."""
    condition = options.to_dict()["condition"]
    for number, file in enumerate(files, 1):
        log = _known_log(file, arguments, factors)
        try:
            logs = [log] if isinstance(log, PourlineError) else split(log, **condition)
        except PourlineError as error:
            logs = [error]
        yield from ((number, file.path, one) for one in logs)


def _files(words: Sequence[str]) -> list[File]:
    """Return the files of the words: a folder or a pattern stands for its logs. Warnings go to standard error."""
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        files = Folder(words, keep_errors=True).files
    for warning in said:
        complain(warning.message)
    if not files:
        raise PourlineError("no log is left: rules.toml leaves out every file (skip = true)", "empty")
    return files


def _by_name(file: File, pattern: str | None) -> File:
    """Return the file with the factors that its name states; the pattern is as in `rules.toml`."""
    if pattern is None or file.error is not None:
        return file
    rule = _Rules(f"[[files]]\nname = {json.dumps(pattern)}\n").rule_for(Path(file.path).name)
    if rule is None:
        return file._replace(
            error=PourlineError(f"{file.path}: the name does not fit --names {pattern}", column="names")
        )
    keywords = rule[2]
    factors = {**file.keywords.get("factors", {}), **keywords.get("factors", {})}
    return file._replace(keywords={**file.keywords, **keywords} | ({"factors": factors} if factors else {}))


def _without_own(files: list[File], arguments: argparse.Namespace) -> list[File]:
    """Return the files without those that the command writes, and its table of factors: `*.csv` may stand for them."""
    own = {
        Path(name).resolve()
        for name in (getattr(arguments, key, None) for key in ("factors", "output", "report"))
        if name not in (None, "-")
    }
    # A command may replace its only log, if it is told to.
    return [file for file in files if file.path == "-" or Path(file.path).resolve() not in own] or files


def _labelled(
    files: list[File], arguments: argparse.Namespace, factors: dict[str, dict[str, Any]] | None, options: Options
) -> tuple[str, Log | PourlineError, Brew | PourlineError]:
    """Analyse one file with labelled pours."""
    if len(files) != 1:
        raise PourlineError(f"--labels needs exactly one log, {len(files)} were given", column="labels")
    labels = Labels.read(arguments.labels)
    log = _known_log(files[0], arguments, factors)
    try:
        return files[0].path, log, log if isinstance(log, PourlineError) else analyze(log, options, labels)
    except PourlineError as error:
        return files[0].path, log, error


def read_log(file: str | bytes, arguments: argparse.Namespace, meta: dict[str, Any]) -> Log:
    """Read a log from a file, from its bytes, or from standard input; options win over columns and units in `meta`."""
    columns = ("time", "water", "beverage", "time_unit", "mass_unit", "missing")
    given = {key: getattr(arguments, key) for key in columns if getattr(arguments, key) is not None}
    return read(all_of(sys.stdin.buffer) if file == "-" else file, **{**meta, **given})


def _known_log(
    file: File, arguments: argparse.Namespace, factors: dict[str, dict[str, Any]] | None
) -> Log | PourlineError:
    if file.error is not None:
        return file.error
    meta: dict[str, Any] = file.keywords | {
        key: getattr(arguments, key) for key in (*NUMBERS, *TEXTS) if getattr(arguments, key) is not None
    }
    if factors is not None:
        row = factors.get(file.path, factors.get(Path(file.path).name))
        if row is None:
            return PourlineError(f"{file.path}: {arguments.factors} has no row for this file", column="factors")
        own = meta.get("factors", {}) | row.get("factors", {})
        meta |= row | ({"factors": own} if own else {})
    if getattr(arguments, "by_folder", None):
        path = Path(file.path)
        # Logs are often numbered alike in each folder.
        meta.setdefault("name", f"{path.parent.name}/{path.stem}")
        meta["factors"] = {**meta.get("factors", {}), arguments.by_folder: path.parent.name}
    try:
        return read_log(file.path, arguments, meta)
    except PourlineError as error:
        return error


def _factors(path: str) -> dict[str, dict[str, Any]]:
    """Return the metadata of each file from a table of factors; an empty cell counts as not given."""
    try:
        text = small_bytes(path).decode("utf-8-sig")
        rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    except (csv.Error, UnicodeDecodeError) as failed:
        raise PourlineError(f"{path} is not CSV: {failed}", "parse") from failed
    found: dict[str, dict[str, Any]] = {}
    for place, row in enumerate(rows, 1):
        file_name = row.pop("file", None)
        if not file_name or None in row or None in row.values():
            raise PourlineError(f"{path}, row {place}: a column `file` and a cell for each head are needed", "parse")
        if file_name in found:
            raise PourlineError(f"{path}, row {place}: {file_name} already has a row", "parse")
        found[file_name] = _meta(row, f"{path}, row {place}")
    return found


def _meta(row: dict[str, str], where: str) -> dict[str, Any]:
    meta: dict[str, Any] = {}
    for key, text in row.items():
        if not text:
            continue
        if key in NUMBERS:
            try:
                meta[key] = float(text)
            except ValueError:
                raise PourlineError(f"{where}: {key} must be a number, not {text!r}", "parse") from None
        elif key in (*TEXTS, "name", "started_at"):
            meta[key] = text
        else:
            meta.setdefault("factors", {})[key] = text
    return meta


def _options(words: Sequence[str], scale: str | None) -> dict[str, Any]:
    """Return the options from words such as `condition.scale_lag_s=0.25`, and the file of a scale."""
    stages: dict[str, Any] = {stage: {} for stage in Options().to_dict()}
    for word in words:
        place, _, value = word.partition("=")
        stage, _, key = place.partition(".")
        if not (key and value) or stage not in stages:
            message = f"--option {word}: STAGE.KEY=VALUE is needed; STAGE is one of {', '.join(stages)}"
            raise PourlineError(message, column="option")
        try:
            stages[stage][key] = json.loads(value)
        except json.JSONDecodeError:
            stages[stage][key] = value
    if scale is not None:
        stages["condition"]["scale"] = scale
    return stages
