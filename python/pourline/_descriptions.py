"""In: the name of a column or of an attribute. Out: its meaning, unit, formula, validity, reference; the page of all
columns.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterable
from functools import cache
from typing import NamedTuple

from . import _pourline
from ._columns import COLUMNS
from ._escape import escape
from ._pourline import Brew, Design, Log, PlanResult, Study
from .errors import PourlineError
from .tables import Table

FIELDS = ("meaning", "unit", "formula", "valid when", "reference")
UNITS = dict(_pourline._units)


class Description(NamedTuple):
    """The description of a number: name, meaning, unit, formula, condition of validity (`valid_when`) and `reference`.

    >>> import pourline
    >>> pourline.describe("mass_g").unit
    'g'
    """

    name: str
    meaning: str
    unit: str
    formula: str
    valid_when: str
    reference: str

    def __str__(self) -> str:
        """Return one line per field; empty fields are left out."""
        lines = [f"{field}: {text}" for field, text in zip(FIELDS, self[1:], strict=True) if text]
        return "\n".join([self.name, *(f"  {line}" for line in lines)])

    def _repr_html_(self) -> str:
        rows = [
            f"<dt>{field}</dt><dd>{escape(text)}</dd>" for field, text in zip(FIELDS, self[1:], strict=True) if text
        ]
        return f"<strong>{escape(self.name)}</strong><dl>{''.join(rows)}</dl>"


def describe(name: str, of: Log | Brew | PlanResult | Study | Design | None = None) -> Description:
    """Return the description of a column of any table, or of an attribute of any result.

    Args:
        name: a column, that of an sd too; or an attribute, alone or with its class: `DrainLaw.exponent`.
        of: the log, brew, study or design whose own factors count too, such as `day`.

    Returns:
        The `Description`; fields that do not apply are empty.

    Raises:
        PourlineError: kind `argument` for a name that does not exist, with the nearest that does.

    >>> import pourline
    >>> print(pourline.describe("time_near_plateau_pct").valid_when)
    the plateau lasts 1 s
    >>> pourline.describe("mass_sd_g").meaning
    'standard deviation of mass_g: water that arrived in the pour'
    >>> pourline.describe("day", pourline.datasets.load("fernspout-ada-01")).meaning
    "a factor of your own, from the log's metadata"
    """
    if not isinstance(name, str):
        raise PourlineError(f"name: a text is needed, not {type(name).__name__}", column="name")
    own = _own(name, of)
    if own:
        return Description(name, own, "", "", "as stated", "metadata")
    if name in COLUMNS:
        return Description(name, *COLUMNS[name])
    number = _of_sd(name)
    if number is not None:
        meaning, unit, _, valid_when, _ = COLUMNS[number]
        about = f"standard deviation of {number}: {meaning}"
        return Description(name, about, unit, "from the uncertainty of the log", valid_when, "JCGM 100:2008")
    attributes = _attributes()
    if name in attributes:
        return Description(name, attributes[name], _unit(name), "", "", "")
    # Imported here, so that it takes no time at the import of pourline.
    from difflib import get_close_matches

    near = get_close_matches(name, [*COLUMNS, *attributes], n=1, cutoff=0.3)
    nearest = f"; the nearest is {near[0]!r}" if near else ""
    more = "descriptions() lists all columns, and describe(name, brew) includes your own factors"
    raise PourlineError(f"there is no column {name!r}{nearest}; {more}", column="name")


def descriptions() -> Table:
    """Return the descriptions of all columns, one row per name.

    >>> import pourline
    >>> pourline.descriptions().columns
    ['name', 'meaning', 'unit', 'formula', 'valid_when', 'reference']
    """
    rows = [(name, *row) for name, row in COLUMNS.items()]
    return Table(
        {field: list(texts) for field, texts in zip(Description._fields, zip(*rows, strict=True), strict=True)}
    )


def page() -> str:
    """Return the page docs/columns.md."""
    head = (
        "# Columns\n\n"
        "Written by `make columns` from `pourline.describe(name)`. Q is the flow at the bed, M the mass of a\n"
        "pour, W the water, B the beverage, D the dose, T the strength as a fraction. The sd of `mass_g` is\n"
        "`mass_sd_g`. First come the columns of brews and studies, then those of comparisons, spreads, dialling\n"
        "in, profiles and plans.\n"
    )
    parts = [head]
    for name in COLUMNS:
        one = describe(name)
        unit = f" ({one.unit})" if one.unit else ""
        parts.append(f"\n## {name}{unit}\n\n{one.meaning[0].upper()}{one.meaning[1:]}.\n")
        more = [(field, text) for field, text in zip(FIELDS[2:], one[3:], strict=True) if text]
        parts.append(
            "\n" + "".join(f"- {field}: {_code(text) if field == 'formula' else text}\n" for field, text in more)
        )
    return "".join(parts)


def rows(names: Iterable[str]) -> str:
    """Return the table of some columns as README.md shows it."""
    lines = [f"| `{one.name}` |{f' {one.unit}' * bool(one.unit)} | {one.meaning} |\n" for one in map(describe, names)]
    return "| column | unit | meaning |\n|---|---|---|\n" + "".join(lines)


def _code(formula: str) -> str:
    return formula.replace("*", r"\*")


def _unit(name: str) -> str:
    return next((unit for end, unit in UNITS.items() if name.endswith(end)), "")


def _of_sd(name: str) -> str | None:
    """Return the number that an sd belongs to: `mass_g` for `mass_sd_g`."""
    for unit in (*UNITS, ""):
        stem = name.removesuffix(unit)
        if name.endswith(unit) and stem.endswith("_sd"):
            of = stem.removesuffix("_sd") + unit
            return of if of in COLUMNS else None
    return None


def _own(name: str, of: object) -> str | None:
    """Return the meaning of a name chosen by the user: a factor, a number of a table, a level that heads a column."""
    if isinstance(of, Study):
        named = ((of.factors, "a factor of the study's brews"), (of.measures, "a number of the study's own table"))
        return next(
            (about for names, about in named if name in names and name not in COLUMNS and not _of_sd(name)), None
        )
    if isinstance(of, Design):
        first, second = of.factors
        return f"number of brews with {second} {name}" if name != first and name in of.table().columns else None
    if isinstance(of, (Log, Brew, PlanResult)):
        return "a factor of your own, from the log's metadata" if name in of.meta.factors else None
    if of is not None:
        kinds = "a Log, Brew, PlanResult, Study or Design"
        raise PourlineError(f"of: {kinds} is needed, not {type(of).__name__}", column="of")
    return None


@cache
def _attributes() -> dict[str, str]:
    """Return the docstring of each attribute of a result, under `Class.name` and under its name alone."""
    found: dict[str, str] = {}
    alone: dict[str, dict[str, str]] = {}
    for owner, one in vars(_pourline).items():
        for name, value in vars(one).items() if isinstance(one, type) else ():
            if inspect.isgetsetdescriptor(value) and value.__doc__:
                about = " ".join(value.__doc__.split()).removesuffix(".")
                found[f"{owner}.{name}"] = about
                alone.setdefault(name, {})[owner] = about
    for name, owners in alone.items():
        same = set(owners.values())
        found[name] = (
            same.pop() if len(same) == 1 else "; ".join(f"of {owner}: {about}" for owner, about in owners.items())
        )
    return found
