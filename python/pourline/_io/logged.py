"""In: a brew's name, number of pours, seconds of its stages and warnings. Out: records of the logger `pourline`.

The core imports this module once the program has imported `logging`.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence

LOGGER = logging.getLogger("pourline")
# Without a handler of the program nothing is printed.
LOGGER.addHandler(logging.NullHandler())


def tell(name: str, pours: int, seconds: Sequence[tuple[str, float]], warnings: Sequence[str]) -> None:
    """Log each stage at DEBUG, the brew at INFO, each warning at WARNING."""
    for stage, lasted_s in seconds:
        LOGGER.debug("%s: %s, %.4f s", name, stage, lasted_s)
    LOGGER.info("%s: %d pours, %.3f s", name, pours, sum(lasted_s for _, lasted_s in seconds))
    for text in warnings:
        LOGGER.warning("%s: %s", name, text)
