"""The timestamped weights of a hand-poured coffee, turned into pours, rests, flow rate and extraction, each with its sd.

>>> import pourline
>>> brew = pourline.analyze(pourline.datasets.load(pourline.datasets.names()[0]))
>>> len(brew.pours) == len(brew.rests) + 1
True
"""

from ._errors import PourlineError
from ._pourline import (
    ChannelTrace,
    Estimate,
    Event,
    Flow,
    Log,
    Meta,
    Pour,
    Rest,
    Segments,
    Trace,
    Undefined,
    __version__,
)
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
