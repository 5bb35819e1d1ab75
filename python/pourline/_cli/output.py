"""In: brews and tables. Out: rows on standard output, errors on standard error, tables as files."""

from __future__ import annotations

import csv
import json
import os
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
ALL_GOOD, SOME_FAILED, WRONG_USE, ALL_FAILED = 0, 1, 2, 3


def complain(what: object) -> None:
    """Tell on standard error what is wrong."""
    print(plain(f"pourline: {what}"), file=sys.stderr)


class Told:
    """How many sources were good and how many bad, with the errors on standard error."""

    def __init__(self) -> None:
        """Begin with nothing told."""
        self.good = 0
        self.bad = 0
        self._bold = sys.stdout.isatty() and not os.environ.get("NO_COLOR")

    def say(self, text: str = "", strong: str = "") -> None:
        """Tell a line, the beginning of which stands out on a terminal. Names come from anybody's file, and steer
        nothing.
        """
        strong = plain(strong)
        print((f"\x1b[1m{strong}\x1b[0m" if strong and self._bold else strong) + plain(text))

    def count(self, source: str, found: object) -> None:
        """Count a source, and tell its error where it is one."""
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


class Lines(Told):
    """What is told while the files are worked on: a row a pour on standard output, errors on standard error."""

    def __init__(self) -> None:
        """Begin with nothing told."""
        super().__init__()
        self._pours = 0
        self._missing: Counter[str] = Counter()

    def tell(self, source: str, brew: Brew | PourlineError) -> None:
        """Tell the pours of a brew, or its error."""
        if not isinstance(brew, Brew):
            self._error(source, brew)
            return
        self.good += 1
        name = brew.meta.name or ("standard input" if source == "-" else source)
        cup, *further = brew.head
        self.say(f": {cup}", strong=name)
        for line in further:
            self.say(f"    {line}")
        rows = short_rows(brew)
        if not rows:
            self.say("    no pours")
            return
        self.say(strong=self._row("pour", SHORT))
        for place, row in enumerate(rows, 1):
            self.say(self._row(str(place), (one.text for one in row)))
            for (name, _), one in zip(SHORT.items(), row, strict=True):
                if one.why:
                    self._missing[f"{name.split(',')[0]}: {one.why.split(':')[0]}"] += 1
        self._pours += len(rows)

    def explain(self) -> None:
        """Tell why numbers are missing in the pours that were told, and of how many."""
        for why, count in self._missing.items():
            self.say(f"{DASH} {why} ({count} of {self._pours} pours)")

    @staticmethod
    def _row(place: str, cells: Iterable[str]) -> str:
        return f"{place:>8}" + "".join(f" {cell:>{COLUMN - 1}}" for cell in cells)


class PlanLines(Told):
    """What is told of brews held against a plan: for each its score and what to work on, and a row a pour."""

    def tell(self, source: str, followed: PlanResult | PourlineError) -> None:
        """Tell how near a brew came, or its error."""
        if not isinstance(followed, PlanResult):
            self._error(source, followed)
            return
        self.good += 1
        name = followed.meta.name or ("standard input" if source == "-" else source)
        self.say(strong=f"{name}: {followed.head}")
        for cells in [["pour", *PLAN_COLUMNS], *plan_rows(followed)]:
            self.say(f"{cells[0]:>4}" + "".join(f" {cell:>19}" for cell in cells[1:-1]) + f"  {cells[-1]}")


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
