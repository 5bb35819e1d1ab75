"""In: brews and tables. Out: rows on standard output, errors on standard error, tables as files."""

from __future__ import annotations

import csv
import json
import os
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

from .._escape import plain
from .._io.arrow import write_parquet
from .._pourline import Brew, PlanResult
from .._text.plan import PLAN_COLUMNS, plan_rows
from .._text.pours import DASH, SHORT, short_rows
from ..errors import PourlineError
from ..tables import Table

COLUMN = 17
QUOTE = '"'
UNIT_OF = "time_unit|mass_unit"
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
    """The output while files are analysed: one row per pour on standard output, errors on standard error."""

    def __init__(self) -> None:
        """Start with empty counts."""
        super().__init__()
        self._pours = 0
        self._missing: Counter[str] = Counter()

    def write(self, source: str, brew: Brew | PourlineError) -> None:
        """Print the pours of a brew, or its error."""
        if not isinstance(brew, Brew):
            self._error(source, brew)
            return
        self.good += 1
        name = brew.meta.name or ("standard input" if source == "-" else source)
        cup, *further = brew.head
        self.line(f": {cup}", strong=name)
        for line in further:
            self.line(f"    {line}")
        rows = short_rows(brew)
        if not rows:
            self.line("    no pours")
            return
        self.line(strong=self._row("pour", SHORT))
        for place, row in enumerate(rows, 1):
            self.line(self._row(str(place), (one.text for one in row)))
            for (name, _), one in zip(SHORT.items(), row, strict=True):
                if one.why:
                    self._missing[f"{name.split(',')[0]}: {one.why.split(':')[0]}"] += 1
        self._pours += len(rows)

    def explain(self) -> None:
        """Print the reasons for missing numbers, each with the number of pours it applies to."""
        for why, count in self._missing.items():
            self.line(f"{DASH} {why} ({count} of {self._pours} pours)")

    @staticmethod
    def _row(place: str, cells: Iterable[str]) -> str:
        return f"{place:>8}" + "".join(f" {cell:>{COLUMN - 1}}" for cell in cells)


class PlanLines(Tally):
    """The output on brews compared with a plan: score and main deviation, then one row per pour."""

    def write(self, source: str, followed: PlanResult | PourlineError) -> None:
        """Print how closely a brew followed the plan, or its error."""
        if not isinstance(followed, PlanResult):
            self._error(source, followed)
            return
        self.good += 1
        name = followed.meta.name or ("standard input" if source == "-" else source)
        self.line(strong=f"{name}: {followed.head}")
        for cells in [["pour", *PLAN_COLUMNS], *plan_rows(followed)]:
            self.line(f"{cells[0]:>4}" + "".join(f" {cell:>19}" for cell in cells[1:-1]) + f"  {cells[-1]}")


def _write_csv(table: Table, path: Path) -> None:
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(table.columns)
        writer.writerows(zip(*table.to_dict().values(), strict=True))


def _write_json(table: Table, path: Path) -> None:
    rows = [dict(zip(table.columns, row, strict=True)) for row in zip(*table.to_dict().values(), strict=True)]
    path.write_text(json.dumps({"units": table.units, "rows": rows}, indent=1), encoding="utf-8")


WRITERS: dict[str, Callable[[Table, Path], None]] = {
    ".csv": _write_csv,
    ".json": _write_json,
    ".parquet": write_parquet,
}
