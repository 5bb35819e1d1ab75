"""In: the name of a column. Out: what it means: unit, formula, when it is valid, reference; and the page of all."""

from __future__ import annotations

from difflib import get_close_matches
from html import escape
from typing import NamedTuple

from ._columns import COLUMNS
from ._errors import PourlineError
from .tables import Table

FIELDS = ("meaning", "unit", "formula", "valid when", "reference")
# Longest first: a unit that ends in another one stands before it.
UNITS = (
    "_g_per_s2",
    "_g2_per_s",
    "_g_per_s",
    "_m_per_s",
    "_j_per_g",
    "_g_per_g",
    "_pct",
    "_hz",
    "_mm",
    "_m2",
    "_m",
    "_s",
    "_g",
    "_n",
    "_w",
    "_j",
    "_c",
)


class Description(NamedTuple):
    """What a number is: its name, meaning, unit, formula, when it is valid, and where it comes from.

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
        """Return it line by line; what has nothing to say is left out."""
        lines = [f"{field}: {text}" for field, text in zip(FIELDS, self[1:], strict=True) if text]
        return "\n".join([self.name, *(f"  {line}" for line in lines)])

    def _repr_html_(self) -> str:
        rows = [
            f"<dt>{field}</dt><dd>{escape(text)}</dd>" for field, text in zip(FIELDS, self[1:], strict=True) if text
        ]
        return f"<strong>{escape(self.name)}</strong><dl>{''.join(rows)}</dl>"


def describe(name: str) -> Description:
    """Return what a column of a table, or a number of a brew, means.

    Args:
        name: a column of `Brew.table` or `Study.table`, or a number of `Brew.extraction` and `Brew.bed`; that of an sd too.

    Raises:
        PourlineError: kind `argument` for a name that does not exist, with the nearest that does.

    >>> import pourline
    >>> print(pourline.describe("steadiness_cv").valid_when.split(":")[0])
    the scale resolves it
    >>> pourline.describe("mass_sd_g").meaning
    'standard deviation of mass_g: water that arrived in the pour'
    """
    if not isinstance(name, str):
        raise PourlineError(f"name: a text is needed, not {type(name).__name__}", column="name")
    if name in COLUMNS:
        return Description(name, *COLUMNS[name])
    of = _of_sd(name)
    if of is not None:
        meaning, unit, _, valid_when, _ = COLUMNS[of]
        told = f"standard deviation of {of}: {meaning}"
        return Description(name, told, unit, "from what the log leaves open", valid_when, "JCGM 100:2008")
    near = get_close_matches(name, COLUMNS, n=1, cutoff=0.3)
    nearest = f"; the nearest is {near[0]!r}" if near else ""
    raise PourlineError(f"there is no column {name!r}{nearest}; descriptions() lists all", column="name")


def descriptions() -> Table:
    """Return all that `describe` knows, a row a name.

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
        "# Columns\n\nWritten by `make columns` from what `pourline.describe(name)` tells. Q is the flow at the bed, M the mass of a pour, W the\n"
        "water, B the beverage, D the dose, T the strength as a part of 1. The sd of `mass_g` is `mass_sd_g`.\n"
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


def _code(formula: str) -> str:
    return formula.replace("*", r"\*")


def _of_sd(name: str) -> str | None:
    """Return the number whose sd that is: `mass_sd_g` is that of `mass_g`."""
    for unit in (*UNITS, ""):
        stem = name.removesuffix(unit)
        if name.endswith(unit) and stem.endswith("_sd"):
            of = stem.removesuffix("_sd") + unit
            return of if of in COLUMNS else None
    return None
