"""In: comparisons. Out: the texts that figures, cards, pages and the terminal share."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .._pourline import Estimate
from .pours import head

if TYPE_CHECKING:
    from collections.abc import Sequence

    from .._pourline import Comparison, Contrast, ProfileDifference, Undefined

# The measures of a comparison that names none, and which way is better for what.
FIRST = {
    "mean_flow_g_per_s": "No way is better in itself: a faster flow fills sooner, and stirs the bed more.",
    "time_near_plateau_pct": "More is steadier.",
    "flow_cv": "Less is more even.",
    "peak_to_mean_flow": "Nearer 1 is better: no surge hits the bed.",
    "drawdown_end_s": "Less is a shorter brew. It is due to the kettle only with equal coffee, grind and water.",
}
WORDS = {
    "time_near_plateau_pct": "steadiness, % of the time near its own flow",
    "drawdown_end_s": "end of drawdown, s from the first start",
}

MOST_DECIMALS = {"%": 1, "s": 1, "g": 1, "g/s": 2}


def counts(comparison: Comparison) -> list[str]:
    """Return the number of independent units of each group, with their name."""
    word = comparison.independent
    return [f"{n} {word}{'' if n == 1 else 's'}" for n in comparison.groups_table()["units"].tolist()]


def words_of(measure: str) -> str:
    """Return a measure in words, with its unit.

    >>> words_of("mean_flow_g_per_s"), words_of("time_near_plateau_pct")
    ('mean flow, g/s', 'steadiness, % of the time near its own flow')
    """
    return WORDS.get(measure) or head(measure)


def short_words_of(measure: str) -> str:
    """Return a measure in words, with its unit, without an explanation.

    >>> short_words_of("time_near_plateau_pct"), short_words_of("flow_cv")
    ('steadiness, %', 'flow CV')
    """
    name, _, unit = words_of(measure).partition(", ")
    return f"{name}, {unit.split()[0]}" if unit else name


def name_of_measure(measure: str) -> str:
    """Return a measure in words, without its unit.

    >>> name_of_measure("drawdown_end_s")
    'end of drawdown'
    """
    return words_of(measure).split(",")[0]


def sentences_of(comparison: Comparison) -> list[str]:
    """Return the result, one sentence per pair of groups, with the words of the measure for the name of its column."""
    column, words = f" in {comparison.measure}: ", f" in {name_of_measure(comparison.measure)}: "
    return [sentence.replace(column, words, 1) for sentence in comparison.sentences]


def title_of(comparisons: Sequence[Comparison]) -> str:
    """Return what comparisons of the same groups show, in a sentence for people."""
    first = comparisons[0]
    names = [str(name) for name in first.groups_table()[first.by].tolist()]
    groups = " and ".join(names) if len(names) == 2 else f"{len(names)} groups by {first.by}"
    shown = [one for one in comparisons if any(pair.verdict == "shown" for pair in one.pairs)]
    if len(comparisons) == 1:
        return _title_of_one(first, names, groups)
    if not shown:
        return f"{groups}: no difference is shown in {len(comparisons)} measures"
    what = ", ".join(name_of_measure(one.measure) for one in shown)
    return f"{groups} differ in {len(shown)} of {len(comparisons)} measures: {what}"


def _title_of_one(found: Comparison, names: Sequence[str], groups: str) -> str:
    what = name_of_measure(found.measure)
    if len(names) == 2 and found.pairs[0].verdict == "shown":
        side = "higher" if found.pairs[0].difference.value > 0 else "lower"
        return f"{what[0].upper()}{what[1:]} is {side} with {names[1]} than with {names[0]}"
    shown = sum(pair.verdict == "shown" for pair in found.pairs)
    if shown:
        return f"{what[0].upper()}{what[1:]} differs in {shown} of {len(found.pairs)} pairs of {groups}"
    return f"No difference in {what} is shown between {groups}"


def measure_rows(comparisons: Sequence[Comparison]) -> tuple[list[str], list[list[str]]]:
    """Return the heads and rows of a table of measures: means of two groups, or pairs of more, and what differs."""
    first = comparisons[0]
    names = [str(name) for name in first.groups_table()[first.by].tolist()]
    is_pair = len(names) == 2
    sides = names if is_pair else ["pair"]
    heads = ["measure", *sides, "difference", f"{100 * first.level:.0f} % interval", "p", "shown"]
    rows = []
    for one in comparisons:
        for pair in one.pairs:
            digits = _decimals(pair.difference.sd, one.unit)
            means = [f"{mean:.{digits}f}" for mean in one.groups_table()["mean"].tolist()]
            groups = means if is_pair else [f"{pair.b} less {pair.a}"]
            rows.append(
                [
                    short_words_of(one.measure),
                    *groups,
                    _signed(pair.difference.value, digits),
                    interval_text(pair, digits),
                    p_text(pair.p),
                    {"shown": "yes", "not shown": "no"}.get(pair.verdict, pair.verdict),
                ]
            )
    return heads, rows


def landmark_rows(found: ProfileDifference) -> tuple[list[str], list[list[str]]]:
    """Return the heads and rows of a table of the landmarks of two groups; the first start is the zero of both."""
    unit = "s" if found.axis == "time" else "g"
    heads = [
        "pour",
        "landmark",
        f"{found.a}, {unit}",
        f"{found.b}, {unit}",
        f"difference, {unit}",
        f"{100 * found.level:.0f} % interval",
        "p",
    ]
    rows = []
    for mark in found.landmarks[1:]:
        ends = mark.interval
        interval = f"{_signed(ends[0], 1)} to {_signed(ends[1], 1)}" if isinstance(ends, tuple) else "–"
        means = [f"{mean:.1f}" for mean in (mark.a, mark.b)]
        name = mark.kind.replace("_", " ")
        rows.append([str(mark.pour), name, *means, _signed(mark.difference.value, 1), interval, p_text(mark.p)])
    return heads, rows


def interval_text(pair: Contrast, digits: int) -> str:
    """Return the interval of a pair, or a dash."""
    ends = pair.interval
    return f"{_signed(ends[0], digits)} to {_signed(ends[1], digits)}" if isinstance(ends, tuple) else "–"


def p_text(p: Estimate | Undefined) -> str:
    """Return a p, or a dash."""
    return f"{'< 0.001' if p.value < 0.001 else format(p.value, '.3f')}" if isinstance(p, Estimate) else "–"


def ways(comparisons: Sequence[Comparison]) -> list[str]:
    """Return for each measure what differs and which way is better, a line each."""
    lines = []
    for one in comparisons:
        name, way = name_of_measure(one.measure), FIRST.get(one.measure, "")
        unit = {"": "", "%": " percentage points"}.get(one.unit, f" {one.unit}")
        shown = [
            f"{pair.b} is {abs(pair.difference.value):.{_decimals(pair.difference.sd, one.unit)}f}{unit} "
            f"{'above' if pair.difference.value > 0 else 'below'} {pair.a}"
            for pair in one.pairs
            if pair.verdict == "shown"
        ]
        fact = "; ".join(shown) if shown else "no difference is shown"
        lines.append(f"{name[0].upper()}{name[1:]}: {fact}. {way}".strip())
    return lines


def shared_warnings(comparisons: Sequence[Comparison]) -> list[str]:
    """Return the warnings of comparisons of the same brews, each once, with the measure of those that name a single one."""
    found: dict[str, list[str]] = {}
    for one in comparisons:
        for text in one.warnings:
            found.setdefault(text, []).append(name_of_measure(one.measure))
    everywhere = len(comparisons)
    return [text if len(of) == everywhere else f"{', '.join(of)}: {text}" for text, of in found.items()]


def _signed(number: float, digits: int) -> str:
    # A zero has no sign.
    return f"{number:+.{digits}f}" if round(number, digits) else f"{0:.{digits}f}"


def _decimals(sd: float, unit: str) -> int:
    """Return the decimals that show two digits of an sd, and no more than matter to people."""
    most = MOST_DECIMALS.get(unit, 3)
    return min(max(1 - math.floor(math.log10(sd)), 0), most) if sd > 0 and math.isfinite(sd) else most
