"""In: what the core knows of its rows. Out: what is known of every number by its name: meaning, unit, formula, when it
is valid, reference.

Q is the flow at the bed, M the mass of a pour, W the water, B the beverage, D the dose, T the strength as a part of
1. a and b are two groups, x is a setting, C(z) = 1/(1 + z^2).
"""

from __future__ import annotations

from . import _pourline

OWN = "definition of this library"
ALWAYS = "always"

Row = tuple[str, str, str, str, str]


def listed() -> dict[str, Row]:
    """Return what the core knows of the rows of its results and tables."""
    rows: dict[str, Row] = {}
    for _, (name, sentence, *known) in _pourline._rows:
        unit, formula, valid_when, reference = known
        # The first word of a sentence, unless it is an abbreviation.
        start = sentence[:2] if sentence[1:2].isupper() else sentence[:2].lower()
        rows.setdefault(name, (start + sentence[2:], unit, formula, valid_when, reference))
    return rows


# Name: meaning, unit, formula, valid when, reference. Last come the columns of the table of descriptions itself.
COLUMNS: dict[str, Row] = listed() | {
    "name": ("name of what is told: a brew, or a column", "", "", "as stated", "metadata"),
    "unit": ("unit of the column", "", "", ALWAYS, OWN),
    "formula": ("how the number comes about", "", "", ALWAYS, OWN),
    "valid_when": ("when the number can be trusted", "", "", ALWAYS, OWN),
    "reference": ("where the definition or method comes from", "", "", ALWAYS, OWN),
}
