"""The timestamped weights of a hand-poured coffee, turned into pours, rests, flow rate and extraction, each with its sd.

>>> import pourline
>>> brew = pourline.analyze(pourline.datasets.load(pourline.datasets.names()[0]))
>>> len(brew.pours) == len(brew.rests) + 1
True
"""

from ._errors import PourlineError
from ._pourline import (
    Brew,
    BudgetRow,
    ChannelTrace,
    Estimate,
    Event,
    Extraction,
    Flow,
    Log,
    Meta,
    Options,
    Pour,
    Rest,
    Segments,
    Trace,
    TruePour,
    Truth,
    Undefined,
    __version__,
    analyze,
    condition,
    extraction,
    flow,
    recipe,
    segment,
    simulate,
)
from .plots import plot
from .reports import report
from .tables import Table

__all__ = [
    "ChannelTrace",
    "Estimate",
    "Event",
    "Flow",
    "Log",
    "Meta",
    "Pour",
    "PourlineError",
    "Rest",
    "Segments",
    "Table",
    "Trace",
    "Undefined",
    "__version__",
]
