"""In: brews and tables. Out: rows on standard output, errors on standard error, tables as files."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from textwrap import shorten

from .._escape import plain
from .._io.arrow import write_parquet
from .._pourline import Brew, PlanResult
from .._text.plan import plan_lines
from .._text.pours import DASH, full_lines, wrapped
from ..errors import PourlineError
from ..tables import Table

QUOTE = '"'
UNIT_OF = "time_unit|mass_unit"
NAME = 20
BREW_COLUMNS = {"pours": 6, "water, g": 10, "time": 6, "flow, g/s": 11, "near its flow, %": 17, "yield, %": 10}
ALL_GOOD, SOME_FAILED, WRONG_USE, ALL_FAILED = 0, 1, 2, 3


def complain(what: object) -> None:
    """Print an error to standard error, with the options of the command line for the arguments that it names."""
    print(plain(f"pourline: {in_options(str(what))}"), file=sys.stderr)


def in_options(text: str) -> str:
    """Return a message with `--time-unit ms` for `time_unit="ms"`.

    >>> from pourline._cli.output import in_options
    >>> in_options('time_unit: no unit; perhaps time_unit="ms"; or time="my clock"')
    '--time-unit: no unit; perhaps --time-unit ms; or --time "my clock"'
    """

    def option(found: re.Match[str]) -> str:
        value = found["value"]
        return f"--{found['name'].replace('_', '-')} {value if ' ' in value else value.strip(QUOTE)}"

    text = re.sub(rf"(^|[:;] )({UNIT_OF})(?=: )", lambda found: f"{found[1]}--{found[2].replace('_', '-')}", text)
    return re.sub(rf'\b(?P<name>{UNIT_OF}|time|water|beverage|missing)=(?P<value>"[^"]*")', option, text)


class Tally:
    """The number of sources that were analysed and that failed; errors go to standard error."""

    def __init__(self) -> None:
        """Start with empty counts."""
        self.good = 0
        self.bad = 0
        self._bold = sys.stdout.isatty() and not os.environ.get("NO_COLOR")

    def line(self, text: str = "", strong: str = "") -> None:
        """Print a line, its beginning in bold on a terminal. Control characters are removed: names come from files."""
        strong = plain(strong)
        print((f"\x1b[1m{strong}\x1b[0m" if strong and self._bold else strong) + plain(text))

    def count(self, source: str, found: object) -> None:
        """Count a source; print its error if it failed."""
        if isinstance(found, PourlineError):
            self._error(source, found)
        else:
            self.good += 1

    def _error(self, source: str, error: PourlineError) -> None:
        self.bad += 1
        source, text = "standard input" if source == "-" else source, str(error)
        complain(text if plain(source) in text else f"{source}: {text}")

    def code(self) -> int:
        """Return the exit code."""
        if self.bad == 0:
            return ALL_GOOD
        return SOME_FAILED if self.good else ALL_FAILED


class Lines(Tally):
    """The output while files are analysed: the answer and one row per pour on standard output, errors on standard error."""

    def __init__(self, full: bool = False) -> None:
        """Start with empty counts; `full` adds all numbers with their sd."""
        super().__init__()
        self._full = full

    def write(self, source: str, brew: Brew | PourlineError) -> None:
        """Print a brew, or its error."""
        if not isinstance(brew, Brew):
            self._error(source, brew)
            return
        self.good += 1
        name = brew.meta.name or ("standard input" if source == "-" else source)
        lines = brew._overview(name).splitlines()
        strong = name if lines[0].startswith(name) else ""
        self.line(lines[0].removeprefix(strong), strong=strong)
        for line in lines[1:] + (full_lines(brew) if self._full else []):
            self.line(line)


class BrewLines(Tally):
    """The output on many brews: one row per brew."""

    def __init__(self) -> None:
        """Start with the heads."""
        super().__init__()
        self._warned = 0
        self.line(strong=self._row("brew", BREW_COLUMNS))

    def write(self, source: str, brew: Brew | PourlineError) -> None:
        """Print the row of a brew, or its error."""
        if not isinstance(brew, Brew):
            self._error(source, brew)
            return
        self.good += 1
        self._warned += bool(brew.warnings)
        water, time, flow, near, _, _, extracted = (text or DASH for text in brew._in_brief)
        cells = [str(len(brew.pours)), water, time, flow, near, extracted]
        self.line(self._row(shorten(brew.meta.name or source, NAME, placeholder="..."), cells))

    def close(self) -> None:
        """Print how many brews carry warnings, if any do."""
        if self._warned:
            self.line(f"{self._warned} of {self.good} brews carry warnings")

    @staticmethod
    def _row(name: str, cells: Iterable[str]) -> str:
        return f"{name:<{NAME}}" + "".join(
            f"{cell:>{width}}" for cell, width in zip(cells, BREW_COLUMNS.values(), strict=True)
        )


class PlanLines(Tally):
    """The output on brews compared with a plan: score and main deviation, then one row per pour."""

    def write(self, source: str, followed: PlanResult | PourlineError) -> None:
        """Print how closely a brew followed the plan, or its error."""
        if not isinstance(followed, PlanResult):
            self._error(source, followed)
            return
        self.good += 1
        name = followed.meta.name or ("standard input" if source == "-" else source)
        first, *more = wrapped(f"{name}: {followed.head}")
        self.line(strong=first)
        for line in [*more, *plan_lines(followed)]:
            self.line(line)


def _as_csv(table: Table) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows(zip(*table.to_dict().values(), strict=True))
    return text.getvalue()


def _as_json(table: Table) -> str:
    rows = [dict(zip(table.columns, row, strict=True)) for row in zip(*table.to_dict().values(), strict=True)]
    return json.dumps({"units": table.units, "rows": rows}, indent=1)


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")


# Tables as text.
FORMATS: dict[str, Callable[[Table], str]] = {"csv": _as_csv, "json": _as_json}


WRITERS: dict[str, Callable[[Table, Path], None]] = {
    ".csv": lambda table, path: _write(path, _as_csv(table)),
    ".json": lambda table, path: _write(path, _as_json(table)),
    ".parquet": write_parquet,
}
