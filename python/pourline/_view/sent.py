"""In: a brew and its edited edges. Out: the data for the page of a view: the figure, pours, a table as text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .._figures.looks import POUR, WATER, time_span, weights_of
from .._figures.svg import brew_figure
from .._pourline import Estimate
from .._text.pours import cell_of, head
from .._text.words import name_of

if TYPE_CHECKING:
    from .._pourline import Brew
    from .steps import Steps

SHOWN = ("mass_g", "duration_s", "mean_flow_g_per_s", "start_s", "end_s")
HEIGHT = 480.0


def log_sent(brew: Brew) -> dict[str, Any]:
    """Return the data that neither an edited edge nor a zoom changes: name, range, colours."""
    return {
        "name": name_of(brew.meta),
        "known": brew.meta._known,
        "span_s": time_span(weights_of(brew)),
        "brew_start_s": brew.trace.brew_start_s,
        "colours": {"pour": POUR, "focus": WATER},
    }


def brew_sent(steps: Steps, span_s: tuple[float, float], width: float) -> dict[str, Any]:
    """Return the figure of a span of time at a width in pixels, the pours, and their table."""
    brew = steps.brew
    end = brew.bed.drawdown_end_s
    return {
        "svg": brew_figure(brew, width, HEIGHT, span_s if span_s != steps.span_s else None, exact=True),
        "pours": [list(pour) for pour in steps.labels.pours],
        "by_hand": steps.by_hand,
        "drawdown_end_s": end.value if isinstance(end, Estimate) else None,
        "heads": [head(name) for name in SHOWN],
        "rows": [[cell_of(pour, name).text for name in SHOWN] for pour in brew.pours],
        "steps": len(steps.past),
        "as_found": steps.labels == steps.found,
        "warnings": brew._further,
    }
