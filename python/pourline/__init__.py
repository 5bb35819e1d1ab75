"""The timestamped weights of a hand-poured coffee, turned into pours, rests, flow and extraction, each with its sd.

>>> import pourline
>>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
>>> len(brew.pours), len(brew.rests)
(4, 3)
"""

from . import balance, datasets, water
from ._errors import PourlineError
from ._pourline import (
    Brew,
    BudgetRow,
    Calibration,
    ChannelTrace,
    Errors,
    Estimate,
    Event,
    Extraction,
    Flow,
    LoadStep,
    Log,
    Meta,
    Options,
    Pour,
    Rest,
    Score,
    Segments,
    Trace,
    TruePour,
    Truth,
    Undefined,
    __version__,
    analyze,
    analyze_many,
    calibrate,
    condition,
    extraction,
    flow,
    read,
    recipe,
    score,
    segment,
    simulate,
)
from .plots import plot
from .reports import report
from .tables import Table

__all__ = [
    "Brew",
    "BudgetRow",
    "Calibration",
    "ChannelTrace",
    "Errors",
    "Estimate",
    "Event",
    "Extraction",
    "Flow",
    "LoadStep",
    "Log",
    "Meta",
    "Options",
    "Pour",
    "PourlineError",
    "Rest",
    "Score",
    "Segments",
    "Table",
    "Trace",
    "TruePour",
    "Truth",
    "Undefined",
    "__version__",
    "analyze",
    "analyze_many",
    "balance",
    "calibrate",
    "condition",
    "datasets",
    "extraction",
    "flow",
    "plot",
    "read",
    "recipe",
    "report",
    "score",
    "segment",
    "simulate",
    "water",
]
