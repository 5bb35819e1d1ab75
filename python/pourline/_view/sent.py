"""In: a brew and the edges that a hand set. Out: what the page of a view is sent: lines of few points, pours, a table as text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from .._figures.looks import BEVERAGE, FLOW, POUR, WATER, Weights, curve_of, mass_span, time_span, weights_of
from .._figures.panel import extremes
from .._pourline import Estimate
from .._text.pours import cell_of, head
from .._text.words import known, name_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .._pourline import Brew
    from .steps import Steps

# Twice that and a few points at most for a longer log, four times that for a shorter one.
COLUMNS = 1000
SHOWN = ("mass_g", "duration_s", "mean_flow_g_per_s", "start_s", "end_s")
COLOURS = {"water": WATER, "beverage": BEVERAGE}


def log_sent(brew: Brew) -> dict[str, Any]:
    """Return what neither an edge nor a closer look changes: name, ranges, colours, samples that were not used."""
    weights = weights_of(brew)
    return {
        "name": name_of(brew.meta),
        "known": known(brew.meta),
        "span_s": time_span(weights),
        "span_g": mass_span(weights),
        "brew_start_s": brew.trace.brew_start_s,
        "colours": {"pour": POUR, "focus": WATER},
        "unused": [unused(one) for one in weights],
    }


def brew_sent(steps: Steps, close_s: tuple[float, float]) -> dict[str, Any]:
    """Return the curves, finer in the span that is looked at closely, the pours, and the table of them."""
    brew = steps.brew
    end = brew.bed.drawdown_end_s
    return {
        "weights": [line(one, close_s) for one in weight_curves(brew)],
        "flows": [line(one, close_s) for one in flow_curves(brew)],
        "thinned": len(brew.trace) > 4 * COLUMNS,
        "pours": [list(pour) for pour in steps.labels.pours],
        "by_hand": steps.by_hand,
        "drawdown_end_s": end.value if isinstance(end, Estimate) else None,
        "heads": [head(name) for name in SHOWN],
        "rows": [[cell_of(pour, name).text for name in SHOWN] for pour in brew.pours],
        "steps": len(steps.past),
        "as_found": steps.labels == steps.found,
        "warnings": [] if brew.labelled is None else brew.labelled.warnings,
    }


class Curve(NamedTuple):
    """What is drawn as a line: its look and its numbers."""

    name: str
    unit: str
    colour: str
    time_s: NDArray[np.float64]
    value: NDArray[np.float64]
    sd: NDArray[np.float64] | None = None


def weight_curves(brew: Brew) -> list[Curve]:
    """Return the weights."""
    return [Curve(one.channel, "g", COLOURS[one.channel], *one.line()) for one in weights_of(brew)]


def flow_curves(brew: Brew) -> list[Curve]:
    """Return the flow of water and of beverage, each with its sd, as far as they are known."""
    found = []
    flow, curve = brew.flow, curve_of(brew)
    if flow is not None:
        found.append(Curve("flow of water", "g/s", FLOW, flow.time_s, flow.flow_g_per_s, flow.flow_sd_g_per_s))
    if curve is not None:
        q, sd = curve.beverage_flow_g_per_s, curve.beverage_flow_sd_g_per_s
        found.append(Curve("flow of beverage", "g/s", BEVERAGE, curve.time_s, q, sd))
    return found


def line(curve: Curve, close_s: tuple[float, float]) -> dict[str, Any]:
    """Return a curve reduced to the lowest and highest value of each of many stretches; arrays are bytes of f8."""
    keep = kept(curve.time_s, curve.value, close_s)
    arrays = {"time_s": curve.time_s, "value": curve.value, "sd": curve.sd}
    look = {"name": curve.name, "unit": curve.unit, "colour": curve.colour, "dashed": curve.colour == BEVERAGE}
    return {**look, **{name: packed(array[keep]) for name, array in arrays.items() if array is not None}}


def kept(time_s: NDArray[np.float64], value: NDArray[np.float64], close_s: tuple[float, float]) -> NDArray[np.intp]:
    """Return the places of the points to send: of the whole, and as many again of the span looked at closely."""
    first, last = np.searchsorted(time_s, close_s[0]), np.searchsorted(time_s, close_s[1], side="right")
    near = first + extremes(value[first:last], COLUMNS // 2) if last > first else np.array([], dtype=np.intp)
    return np.union1d(extremes(value, COLUMNS), near)


def unused(one: Weights) -> dict[str, Any]:
    """Return some of the samples that were not used."""
    places = np.flatnonzero(~one.used & np.isfinite(one.mass_g))
    places = places[:: 1 + len(places) // COLUMNS]
    arrays = {"time_s": one.time_s[places], "value": one.mass_g[places]}
    return {"colour": COLOURS[one.channel], **{name: packed(array) for name, array in arrays.items()}}


def packed(array: NDArray[np.float64]) -> bytes:
    """Return numbers as the page reads them."""
    return np.ascontiguousarray(array, dtype="<f8").tobytes()
