"""In: a brew. Out: what there is to say of it, as plain text; whoever puts it on a page escapes it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from .._pourline import Estimate, Undefined
from .pours import Cell, cell

if TYPE_CHECKING:
    from .._pourline import Brew, Meta


def name_of(meta: Meta) -> str:
    """Return the name of a brew."""
    return meta.name or "unnamed brew"


def known(meta: Meta) -> str:
    """Return what is known of a brew beside its name, in a line: numbers first."""
    found = meta.to_dict()
    units = {"dose_g": "g dose", "tds_pct": "% TDS", "water_c": "C water"}
    parts = [f"{found[key]:g} {unit}" for key, unit in units.items() if key in found]
    texts = [
        "kettle",
        "person",
        "coffee",
        "roast",
        "grinder",
        "grinder_setting",
        "brewer",
        "device",
        "note",
        "started_at",
    ]
    parts += [f"{key.replace('_', ' ')} {found[key]}" for key in texts if key in found]
    return ", ".join([*parts, *(f"{factor} {level}" for factor, level in found.get("factors", {}).items())])


def totals(brew: Brew) -> list[tuple[str, Cell]]:
    """Return the numbers of the whole brew, in the order in which they come about."""
    hand, bed, found, lag = brew.metrics, brew.bed, brew.extraction, brew.segments
    law = bed.law
    not_weighed = " (not weighed)" if found.beverage_source == "from_retention" else ""
    return [
        ("water poured", cell(brew.water_g, " g")),
        ("flow while pouring", cell(hand.pouring_flow_g_per_s, " g/s")),
        ("longest rest", cell(hand.longest_rest_s, " s")),
        ("first drip", cell(bed.first_drip_s, " s")),
        ("end of the drawdown", cell(bed.drawdown_end_s, " s")),
        ("drawdown", cell(bed.drawdown_s, " s")),
        ("drain exponent", cell(law if isinstance(law, Undefined) else law.exponent)),
        ("beverage", cell(found.beverage_g, f" g{not_weighed}")),
        ("retention", cell(found.retention_g_per_g, " g/g")),
        ("retained water", cell(bed.retained_water_g_per_g, " g/g")),
        ("strength", cell(found.strength_pct, " %")),
        ("extraction yield", cell(found.yield_pct, " %")),
        ("brew ratio", cell(found.brew_ratio, " g/g")),
        ("lag of the scale", Cell(f"{lag.scale_lag_s} s ({lag.lag_source})")),
    ]


def cup_numbers(brew: Brew) -> list[str]:
    """Return in few words what was extracted."""
    found = brew.extraction
    return [f"yield {cell(found.yield_pct, ' %').text}", f"retention {cell(found.retention_g_per_g, ' g/g').text}"]


def bed_numbers(brew: Brew) -> list[str]:
    """Return in few words how the bed drained."""
    bed, law = brew.bed, brew.bed.law
    return [
        f"first drip {cell(bed.first_drip_s, ' s').text}",
        f"drawdown ends {cell(bed.drawdown_end_s, ' s').text}",
        f"drain exponent {cell(law if isinstance(law, Undefined) else law.exponent).text}",
    ]


def sources_of_doubt(brew: Brew) -> list[str]:
    """Return in sentences how uncertain the numbers are, and where that comes from."""
    lines = []
    found = brew.extraction
    number = found.yield_pct
    if isinstance(number, Estimate):
        low, high = number.value - 2 * number.sd, number.value + 2 * number.sd
        lines.append(f"The yield lies between {low:.1f} and {high:.1f} % with about 95 % confidence.")
        largest = max(found.budget, key=lambda row: row.share, default=None)
        if largest is not None and largest.share > 0:
            share = min(99.0, 100 * largest.share)
            lines.append(
                f"{'Over ' if largest.share > 0.99 else ''}{share:.0f} % of its variance comes from {largest.name}, {largest.value}."
            )
    else:
        lines.append(f"There is no yield: {number.reason}.")
    if found.beverage_source == "from_retention":
        lines.append("The beverage was not weighed: its mass follows from a stated retention, and so does the yield.")
    return [*on_the_log(brew), *lines, *map(_sentence, [*found.warnings, *brew.bed.warnings]), *by_hand(brew)]


def on_the_log(brew: Brew) -> list[str]:
    """Return in sentences what is doubtful of the log as a whole."""
    return [_sentence(warning) for warning in brew.warnings]


def by_hand(brew: Brew) -> list[str]:
    """Return in sentences what was set by hand; nothing where no labels were given."""
    found = brew.labelled
    if found is None:
        return []
    labels = found.labels
    who = f" by {labels.by}" if labels.by else ""
    note = f" ({labels.note})" if labels.note else ""
    same = "" if found.warnings else ", and they are those that were found"
    return [f"The pours are those of labels set by hand{who}{note}{same}.", *map(_sentence, found.warnings)]


def _sentence(warning: str) -> str:
    return f"{warning[:1].upper()}{warning[1:]}."


def budget_rows(brew: Brew) -> list[list[str]]:
    """Return a row for each input of the yield: what it is, what it adds."""
    budget = sorted(brew.extraction.budget, key=lambda row: -row.share)
    return [
        [row.name, str(row.value), f"{row.contribution_pct:.3f}", f"{100 * row.share:.1f}"]
        for row in budget
        if row.share > 0
    ]


def sample_counts(brew: Brew) -> list[str]:
    """Return for each weight what became of its samples."""
    lines = []
    trace = brew.trace
    for name, channel in (("water", trace.water), ("beverage", trace.beverage)):
        if channel is None:
            continue
        counts = Counter(channel.flag.tolist())
        parts = [f"{counts.pop('used', 0)} used", *(f"{n} {flag}" for flag, n in counts.most_common())]
        lines.append(
            f"{name}: {len(trace)} samples at {trace.rate_hz:.1f} Hz: {', '.join(parts)}; "
            f"noise {channel.noise_sd_g} g, readout step {channel.step_g:g} g"
        )
    return lines


def event_rows(brew: Brew) -> list[list[str]]:
    """Return a row an event."""
    return [
        [e.kind, e.channel, f"{e.start_s:.2f}", f"{e.end_s:.2f}", _size(e.size_g), str(e.samples), e.action]
        for e in brew.events
    ]


def _size(size_g: float) -> str:
    return f"{size_g:+.1f}" if size_g else ""
