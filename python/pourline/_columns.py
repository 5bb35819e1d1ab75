"""In: the columns declared by the core. Out: the description of every column: meaning, unit, formula, validity,
reference.

Q is the flow at the bed, M the mass of a pour, W the water, B the beverage, D the dose, T the strength as a part of
1. a and b are two groups, x is a setting, C(z) = 1/(1 + z^2).
"""

from __future__ import annotations

from . import _pourline

OWN = "definition of this library"
ALWAYS = "always"

Row = tuple[str, str, str, str, str]


def listed() -> dict[str, Row]:
    """Return the declared columns of the core's results and tables."""
    rows: dict[str, Row] = {}
    for _, (name, sentence, *further) in _pourline._rows:
        unit, formula, valid_when, reference = further
        # The first word of a sentence, unless it is an abbreviation.
        start = sentence[:2] if sentence[1:2].isupper() else sentence[:2].lower()
        rows.setdefault(name, (start + sentence[2:], unit, formula, valid_when, reference))
    return rows


# Name: meaning, unit, formula, valid when, reference. Last come the columns of the table of descriptions itself.
COLUMNS: dict[str, Row] = listed() | {
    "name": ("name of a brew, or of a column", "", "", "as stated", "metadata"),
    "unit": ("unit of the column", "", "", ALWAYS, OWN),
    "formula": ("formula of the number", "", "", ALWAYS, OWN),
    "valid_when": ("condition under which the number is valid", "", "", ALWAYS, OWN),
    "reference": ("source of the definition or method", "", "", ALWAYS, OWN),
}
