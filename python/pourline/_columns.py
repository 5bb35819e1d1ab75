"""In: the rows of the results. Out: what is known of every number by its name: meaning, unit, formula, when it is valid, reference.

Q is the flow at the bed, M the mass of a pour, W the water, B the beverage, D the dose, T the strength as a part of 1.
"""

from __future__ import annotations

from . import _pourline

OWN = "definition of this library"
ALWAYS = "always"

Row = tuple[str, str, str, str, str]


def listed() -> dict[str, Row]:
    """Return what the results themselves know of their rows."""
    rows: dict[str, Row] = {}
    for _, (name, sentence, *known) in _pourline._rows:
        unit, formula, valid_when, reference = known
        rows.setdefault(name, (sentence[0].lower() + sentence[1:], unit, formula, valid_when, reference))
    return rows


# Name: meaning, unit, formula, valid when, reference.
COLUMNS: dict[str, Row] = {
    "brew": ("name of the brew", "", "", ALWAYS, "metadata"),
    "pour": ("place of the pour, from 1", "", "", ALWAYS, OWN),
    **listed(),
    "dose_g": ("dry coffee", "g", "", "as stated", "metadata"),
    "tds_pct": ("measured strength of the beverage", "%", "", "as stated", "metadata"),
    "water_c": ("temperature of the water poured", "C", "", "as stated", "metadata"),
    "pours": ("number of pours of the brew", "", "", ALWAYS, OWN),
    "coffee": ("coffee", "", "", "as stated", "metadata"),
    "roast": ("roast", "", "", "as stated", "metadata"),
    "grinder": ("grinder", "", "", "as stated", "metadata"),
    "grinder_setting": ("setting of the grinder, as written on it", "", "", "as stated", "metadata"),
    "kettle": ("kettle", "", "", "as stated", "metadata"),
    "brewer": ("brewer", "", "", "as stated", "metadata"),
    "person": ("who poured", "", "", "as stated", "metadata"),
}  # fmt: skip
