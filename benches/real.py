"""Measured series of other fields, analysed by pourline and compared with plain means.

In: a folder of measured series, if there is one. Out: text; exit code 0 as long as nothing crashed. Method: time
and mass of each series are rescaled to those of a hand pour, by a factor that is printed with it; the options are
the defaults. "By eye" is a rule that a reader can repeat with a ruler (levels before and after, jumps between
neighbours), never a second detector to be beaten. No series holds the truth, so nothing here is a pass mark.
"""

from __future__ import annotations

import csv
import math
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from statistics import fmean, median, stdev

import pourline


@dataclass(frozen=True)
class Rise:
    """An interval with an increase of mass, in the units of its series."""

    start: float
    end: float
    mass: float


@dataclass(frozen=True)
class Series:
    """One measured series, the factors that rescale it to a pour, and values read by eye."""

    path: Path
    time: list[float]
    mass: list[float]
    time_unit: str
    mass_unit: str
    seconds_per_time: float
    grams_per_mass: float
    rule: str
    by_eye: list[Rise]


def column(path: Path, name: str) -> list[float]:
    with path.open(newline="", encoding="utf-8") as file:
        return [float(row[name] or "nan") for row in csv.DictReader(file)]


def jumps(time: list[float], mass: list[float], least: float, apart: float, kept: float) -> list[Rise]:
    """Rises of more than `least` between neighbours, those less than `apart` from each other taken as one.

    The mass is the median of the five readings after it less that of the five before; less than `kept` is no rise.
    """
    there = [i for i in range(1, len(mass)) if mass[i] - mass[i - 1] > least]
    groups: list[list[int]] = []
    for i in there:
        if groups and time[i] - time[groups[-1][-1]] < apart:
            groups[-1].append(i)
        else:
            groups.append([i])

    def level(first: int, last: int) -> float:
        known = [m for m in mass[max(first, 0) : last] if not math.isnan(m)]
        return median(known) if known else math.nan

    rises = [Rise(time[g[0] - 1], time[g[-1]], level(g[-1], g[-1] + 5) - level(g[0] - 5, g[0])) for g in groups]
    return [rise for rise in rises if rise.mass >= kept]


def robot(path: Path) -> Series:
    time, mass = column(path, "time_s"), [-m for m in column(path, "mass_mg")]
    rest = [m for t, m in zip(time, mass, strict=True) if t < 8]
    end_rest = [m for t, m in zip(time, mass, strict=True) if t > time[-1] - 5]
    before, after = fmean(rest), fmean(end_rest)
    start = next(t for t, m in reversed([*zip(time, mass, strict=True)]) if m < before + 4 * stdev(rest))
    end = next(t for t, m in zip(time, mass, strict=True) if m > after - 4 * stdev(end_rest))
    rule = "mean of the last 5 s less mean of the first 8 s, between the bands of 4 sd about the two"
    return Series(path, time, mass, "s", "mg", 1, 0.1, rule, [Rise(start, end, after - before)])


def pots(path: Path) -> Series:
    time, mass = [s / 3600 for s in column(path, "time_s")], [g / 1000 for g in column(path, "mass_g")]
    rule = "rises of more than 0.2 kg in 15 min, those within 6 h taken as one"
    return Series(path, time, mass, "h", "kg", 4, 10, rule, jumps(time, mass, 0.2, 6, 0.2))


def gauge(path: Path) -> Series:
    time, mass = [s / 3600 for s in column(path, "time_s")], column(path, "cumulative_mm")
    rule = "rises of more than 0.5 mm in 30 min, those within 3 h taken as one, if the level is 1 mm higher after it"
    return Series(path, time, mass, "h", "mm", 2, 2, rule, jumps(time, mass, 0.5, 3, 1))


def voids(path: Path) -> Series:
    time, mass = column(path, "time"), column(path, "volume_ml")
    rule = "rises of more than 0.1 mL between neighbours, those within 5 samples taken as one"
    return Series(path, time, mass, "sample", "mL", 1, 20, rule, jumps(time, mass, 0.1, 5, 0.1))


def levels(path: Path) -> Series:
    marks = path.with_suffix(".changepoints.csv")
    with path.open(newline="", encoding="utf-8") as file:
        name = next(csv.reader(file))[1]
    index, value = column(path, "index"), column(path, name)
    seen = sorted(i for i in column(marks, "index_0based") if not math.isnan(i))
    groups: list[list[float]] = []
    for i in seen:
        if groups and i - groups[-1][0] <= 5:
            groups[-1].append(i)
        else:
            groups.append([i])
    agreed = [int(median(g)) for g in groups if len(g) >= 3]
    steps = [Rise(i - 1, i, median(value[i : i + 9]) - median(value[max(i - 9, 0) : i])) for i in agreed]
    spread = median(abs(b - a) for a, b in pairwise(value))
    rule = "rising steps that three of the five annotators mark (falling ones are no pours)"
    return Series(path, index, value, "sample", "unit", 1, 1 / spread, rule, [s for s in steps if s.mass > 0])


KINDS = {
    "liqtransfer/*.csv": robot,
    "icrisat_pots/*.csv": pots,
    "precip_gauge/*.csv": gauge,
    "rat_voids/*.csv": voids,
    "tcpd/*.csv": levels,
}


def all_series(folder: Path) -> Iterator[Series]:
    for pattern, read in KINDS.items():
        for path in sorted(folder.glob(pattern)):
            if not path.name.endswith(".changepoints.csv"):
                yield read(path)


def show(series: Series) -> None:
    per_s, per_g = 1 / series.seconds_per_time, 1 / series.grams_per_mass
    print(f"\n{series.path.parent.name}/{series.path.name}: times in {series.time_unit}, masses in {series.mass_unit}")
    print(
        f"  as a pour: 1 {series.time_unit} taken as {series.seconds_per_time:g} s, "
        f"1 {series.mass_unit} as {series.grams_per_mass:.3g} g"
    )
    try:
        log = pourline.Log([t / per_s for t in series.time], [m / per_g for m in series.mass], missing="flag")
        brew = pourline.analyze(log)
    except pourline.PourlineError as error:
        print(f"  refused ({error.kind}): {error}")
        return
    kinds = Counter(event.kind for event in brew.events)
    response = brew.segments.response
    print(f"  delay of the scale, {response.source}: {response.delay_s} s as a pour")
    print(f"  events: {', '.join(f'{n} {kind}' for kind, n in sorted(kinds.items())) or 'none'}")
    print(f"  by eye: {series.rule}")
    found = [
        (Rise(p.start_s.value * per_s, p.end_s.value * per_s, p.mass_g.value * per_g), p.mass_g.sd * per_g)
        for p in brew.pours
    ]
    met: set[int] = set()
    for rise in series.by_eye:
        low, high = rise.start - 2 * per_s, rise.end + 2 * per_s
        here = [i for i, (pour, _) in enumerate(found) if pour.start < high and pour.end > low]
        met.update(here)
        if here:
            mass, sd = sum(found[i][0].mass for i in here), math.hypot(*(found[i][1] for i in here))
            told = f"{mass:8.2f} ± {sd:.2f} from " + ", ".join(
                f"{found[i][0].start:.2f} to {found[i][0].end:.2f}" for i in here
            )
        else:
            events = {e.kind for e in brew.events if e.start_s * per_s < high and e.end_s * per_s > low}
            told = "nothing" + (f"; events there: {', '.join(sorted(events))}" if events else "")
        print(f"    {rise.start:9.2f} to {rise.end:9.2f}, {rise.mass:8.2f} | found {told}")
    for i, (pour, sd) in enumerate(found):
        if i not in met:
            print(f"    {'nothing':>32} | found {pour.mass:8.2f} ± {sd:.2f} from {pour.start:.2f} to {pour.end:.2f}")
    eye, all_found = sum(r.mass for r in series.by_eye), sum(pour.mass for pour, _ in found)
    print(f"  {peaks(brew, log)}")
    print(f"  in all: {len(series.by_eye)} by eye, {eye:.2f}; found in {len(found)} pours, {all_found:.2f}")


def steepest(log: pourline.Log, from_s: float, to_s: float) -> float:
    """Largest rise of the readings within a second, g/s: a peak that is averaged over less may be a little higher."""
    water_g = log.time_s[:0] if log.water_g is None else log.water_g
    rows = [(t, m) for t, m in zip(log.time_s, water_g, strict=True) if from_s - 1 <= t <= to_s + 1 and m == m]
    best = math.nan
    for i, (t, m) in enumerate(rows):
        later = next(((u, n) for u, n in rows[i + 1 :] if u - t >= 1), None)
        if later and not (m + best * (later[0] - t) > later[1]):
            best = (later[1] - m) / (later[0] - t)
    return best


def peaks(brew: pourline.Brew, log: pourline.Log) -> str:
    """Stated peaks beside the steepest rise of the readings."""
    ratios, beyond = [], 0
    for pour, row in zip(brew.pours, brew.metrics.pours, strict=True):
        slope, peak = steepest(log, pour.start_s.value, pour.end_s.value), row.peak_flow_g_per_s
        if isinstance(peak, pourline.Estimate) and slope > 0:
            ratios.append(peak.value / slope)
            beyond += peak.value - 2 * peak.sd > 1.5 * slope
    if not ratios:
        return "no peak is stated"
    return (
        f"peak over the steepest rise in a second: {min(ratios):.2f} to {max(ratios):.2f}; "
        f"{beyond} of {len(ratios)} beyond 1.5 by more than two sd"
    )


def main(folder: Path) -> None:
    count = 0
    for series in all_series(folder):
        show(series)
        count += 1
    if not count:
        print(f"no measured series in {folder}: nothing to try (name another folder with 'make real REAL=path')")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
