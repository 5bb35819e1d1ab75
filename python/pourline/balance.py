"""The mass balance of an extraction: solved for its inputs, on the control chart, by fractions, fitted to brews.

>>> from pourline import Estimate, balance
>>> f"{balance.beverage_for_g(20, dose_g=15, strength_pct=Estimate(1.25, 0.03))} g"
'240.0 ± 5.8 g'
"""

from collections.abc import Iterable

from ._pourline import (
    Brew,
    ChartBox,
    Estimate,
    Fractions,
    LearntRetention,
    MonteCarlo,
    Place,
    beverage_for_g,
    chart_line_pct,
    dose_for_g,
    dose_for_water_g,
    fractions,
    immersion_strength_pct,
    retention_from_pairs,
    strength_for_pct,
    water_for_g,
)
from .errors import PourlineError

__all__ = [
    "ChartBox",
    "Fractions",
    "LearntRetention",
    "MonteCarlo",
    "Place",
    "beverage_for_g",
    "chart_line_pct",
    "dose_for_g",
    "dose_for_water_g",
    "fractions",
    "immersion_strength_pct",
    "learn_retention",
    "strength_for_pct",
    "water_for_g",
]


def learn_retention(
    brews: Iterable[Brew | tuple[str, float]], by: str = "roast", level: float = 0.95
) -> list[LearntRetention]:
    """Estimate the retention, in g of water per g of dose, for each roast, coffee or other factor.

    `brews` are analysed brews; those with a weighed beverage and a given factor `by` are used. Alternatively, they are
    pairs of a group's name and a retention in g/g. `level` is the coverage of the prediction intervals for the next
    brew.

    >>> from pourline import balance
    >>> learnt = balance.learn_retention([("dark", 2.3), ("dark", 2.1), ("light", 1.9), ("light", 1.8)])
    >>> [(each.group, f"{each.next_g_per_g} g/g") for each in learnt]
    [('dark', '2.20 ± 0.14 g/g'), ('light', '1.85 ± 0.14 g/g')]
    """
    pairs: list[tuple[str, float]] = []
    for one in brews:
        if isinstance(one, Brew):
            values = one.meta.to_dict()
            group = values.get(by, values.get("factors", {}).get(by))
            retained = one.extraction.retention_g_per_g
            if group is not None and isinstance(retained, Estimate) and one.extraction.beverage_source == "weighed":
                pairs.append((str(group), retained.value))
        elif isinstance(one, tuple):
            pairs.append(one)
        else:
            raise PourlineError(f"a Brew or a pair is needed, not {type(one).__name__}", column="brews")
    return retention_from_pairs(pairs, level)
