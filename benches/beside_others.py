"""pourline compared with general-purpose packages for parts of its task: prints the page docs/beside_others.md.

In: nothing; simulated brews with known truth, and small studies. Out: the page on standard output. Method: each way
of finding pours is given the setting of a small grid that did best on brews of other seeds; pourline has its
defaults. Lines of code are counted from the sources below. A pour counts as found by the true pour that it overlaps
most.
"""

from __future__ import annotations

import inspect
import io
import itertools
import time
from collections.abc import Callable, Iterator
from functools import cache
from importlib.metadata import version
from statistics import fmean, median
from typing import Any

import numpy as np
import pandas as pd
import pingouin as pg
import ruptures as rpt
from numpy.typing import NDArray
from scipy.ndimage import binary_closing, label, median_filter
from scipy.signal import find_peaks, peak_widths, savgol_filter
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW
from uncertainties import ufloat

import pourline

Array = NDArray[np.float64]
Found = list[tuple[float, float, float]]
BREWS, TRAINING = 30, 10
FLOW_G_PER_S, LEAST_G = 0.5, 2.0


def even(csv: str) -> tuple[Array, Array, float]:
    """Read a CSV, resample it to an even grid for the filters below, and remove features under 0.35 s, such as
    knocks.
    """
    frame = pd.read_csv(io.StringIO(csv)).dropna().sort_values("time_s").drop_duplicates("time_s")
    step_s = float(frame["time_s"].diff().median())
    time_s = np.arange(frame["time_s"].iloc[0], frame["time_s"].iloc[-1], step_s)
    water_g = np.interp(time_s, frame["time_s"], frame["water_g"])
    return time_s, median_filter(water_g, size=2 * round(0.35 / step_s) + 1), step_s


def bursts(time_s: Array, water_g: Array, is_pour: NDArray[np.bool_]) -> Found:
    """Turn a mask into pours: start, end and mass; as in pourline's definition, pauses shorter than 1 s are part of a
    pour.
    """
    inside = np.ones(round(1.0 / (time_s[1] - time_s[0])), bool)
    runs, count = label(binary_closing(np.pad(is_pour, len(inside)), inside)[len(inside) : -len(inside)])
    edges = [np.flatnonzero(runs == k)[[0, -1]] for k in range(1, count + 1)]
    pours = [(time_s[i], time_s[j], water_g[j] - water_g[i]) for i, j in edges]
    return [(float(a), float(b), float(m)) for a, b, m in pours if m >= LEAST_G]


def by_pandas(csv: str, window_s: float) -> Found:
    time_s, water_g, step_s = even(csv)
    smooth = pd.Series(water_g).rolling(max(2, round(window_s / step_s)), center=True, min_periods=1).mean()
    return bursts(time_s, water_g, (smooth.diff() / step_s > FLOW_G_PER_S).to_numpy())


def by_savgol(csv: str, window_s: float) -> Found:
    time_s, water_g, step_s = even(csv)
    flow = savgol_filter(water_g, 2 * round(window_s / step_s / 2) + 1, 2, deriv=1, delta=step_s)
    return bursts(time_s, water_g, flow > FLOW_G_PER_S)


def by_peaks(csv: str, window_s: float) -> Found:
    time_s, water_g, step_s = even(csv)
    flow = savgol_filter(water_g, 2 * round(window_s / step_s / 2) + 1, 2, deriv=1, delta=step_s)
    peaks, _ = find_peaks(flow, height=1.5, prominence=1.5, distance=round(3 / step_s))
    _, _, left, right = peak_widths(flow, peaks, rel_height=0.9)
    places = [(round(i), min(round(j), len(time_s) - 1)) for i, j in zip(left, right, strict=True)]
    pours = [(time_s[i], time_s[j], water_g[j] - water_g[i]) for i, j in places]
    return [(float(a), float(b), float(m)) for a, b, m in pours if m >= LEAST_G]


def by_ruptures(csv: str, penalty: float) -> Found:
    time_s, water_g, step_s = even(csv)
    flow = savgol_filter(water_g, 2 * round(0.5 / step_s) + 1, 2, deriv=1, delta=step_s)
    ends = rpt.KernelCPD(kernel="linear", min_size=3).fit(flow).predict(pen=penalty)
    is_pour = np.zeros(len(flow), bool)
    for i, j in itertools.pairwise([0, *ends]):
        is_pour[i:j] = flow[i:j].mean() > FLOW_G_PER_S
    return bursts(time_s, water_g, is_pour)


def by_pourline(csv: str, _: float) -> Found:
    brew = pourline.analyze(csv.encode())
    return [(pour.start_s.value, pour.end_s.value, pour.mass_g.value) for pour in brew.pours]


WAYS: dict[str, tuple[Callable[[str, float], Found], tuple[float, ...], bool]] = {
    "pandas: rolling mean, difference, threshold": (by_pandas, (0.3, 0.5, 0.8, 1.2, 2.0), True),
    "scipy.signal: savgol_filter, threshold": (by_savgol, (0.5, 0.8, 1.2, 2.0, 3.0), True),
    "scipy.signal: savgol_filter, find_peaks": (by_peaks, (0.8, 1.2, 2.0, 3.0, 5.0), False),
    "ruptures: KernelCPD on the filtered flow": (by_ruptures, (3.0, 10.0, 30.0, 100.0), True),
    "pourline: analyze": (by_pourline, (0.0,), False),
}


@cache
def brews(level: str, seeds: range) -> list[tuple[str, pourline.Truth]]:
    """Simulate logs and write them as CSV."""
    made = []
    for seed in seeds:
        log, truth = pourline.simulate(level, seed)
        assert log.water_g is not None
        rows = "".join(f"{t:.3f},{w:.1f}\n" for t, w in zip(log.time_s, log.water_g, strict=True))
        made.append((f"time_s,water_g\n{rows}", truth))
    return made


def judged(truth: pourline.Truth, found: Found) -> tuple[int, int, list[float], list[float]]:
    """Count missed and false pours of a brew; return errors of edges and of masses of the others."""
    left, missed = list(found), 0
    edges: list[float] = []
    masses: list[float] = []
    for pour in truth.pours:
        shared = [min(b, pour.end_s) - max(a, pour.start_s) for a, b, _ in left]
        if not shared or max(shared) <= 0:
            missed += 1
            continue
        start_s, end_s, mass_g = left.pop(shared.index(max(shared)))
        edges += [abs(start_s - pour.start_s), abs(end_s - pour.end_s)]
        masses.append(abs(mass_g - pour.mass_g))
    return missed, len(left), edges, masses


def tried(level: str, seeds: range, way: Callable[[str, float], Found], setting: float) -> tuple[float, ...]:
    """Return missed and false pours, mean errors of edges and masses, and the median ms per log."""
    missed = false = 0
    edges: list[float] = []
    masses: list[float] = []
    spent_s: list[float] = []
    for csv, truth in brews(level, seeds):
        begun = time.perf_counter()
        found = way(csv, setting)
        spent_s.append(time.perf_counter() - begun)
        more = judged(truth, found)
        missed, false = missed + more[0], false + more[1]
        edges += more[2]
        masses += more[3]
    return missed, false, fmean(edges), fmean(masses), 1e3 * median(spent_s)


def best_of(grid: tuple[float, ...], way: Callable[[str, float], Found], level: str) -> float:
    """Return the best setting on other brews; a missed or false pour weighs as much as an edge error of 0.1 s
    in the mean.
    """
    if len(grid) == 1:
        return grid[0]
    losses = {}
    for setting in grid:
        missed, false, edge_s, *_ = tried(level, range(1000, 1000 + TRAINING), way, setting)
        losses[setting] = missed + false + 10 * edge_s
    return min(losses, key=lambda setting: losses[setting])


def lines_of(*functions: Callable[..., object]) -> int:
    """Count the lines of code of functions, without heads, docs and blank lines."""
    bodies = [inspect.getsource(one).split("\n")[1:] for one in functions]
    return sum(bool(line.strip()) and '"""' not in line for body in bodies for line in body)


def edges_table() -> Iterator[str]:
    """Compare the methods of detecting pours."""
    yield "| method | lines | setting | missed | false | edge error, s | mass error, g | has sd | ms per log |"
    yield "|---|---|---|---|---|---|---|---|---|"
    for level in ("clean", "usual", "hard"):
        yield f"| **{level}**, {BREWS} brews | | | | | | | | |"
        for name, (way, grid, masked) in WAYS.items():
            setting = best_of(grid, way, level)
            missed, false, edge_s, mass_g, spent_ms = tried(level, range(BREWS), way, setting)
            lines = lines_of(way, *([] if way is by_pourline else [even]), *([bursts] if masked else []))
            has_sd = "each number has its sd" if way is by_pourline else "no"
            best = "defaults" if way is by_pourline else f"{setting:g}"
            numbers = f"{missed:g} | {false:g} | {edge_s:.3f} | {mass_g:.2f} | {has_sd} | {spent_ms:.1f}"
            yield f"| {name} | {lines} | {best} | {numbers} |"


def same_table() -> Iterator[str]:
    """Show results that general-purpose packages reproduce."""
    rng = np.random.default_rng(5)
    a, b = rng.normal(5.0, 0.3, 12), rng.normal(5.4, 0.5, 9)
    low, high = CompareMeans(DescrStatsW(b), DescrStatsW(a)).tconfint_diff(usevar="unequal")
    (pair,) = pourline.contrast([*a, *b], ["a"] * 12 + ["b"] * 9).pairs
    assert isinstance(pair.interval, tuple)
    yield "| result | package | theirs | pourline |"
    yield "|---|---|---|---|"
    theirs, ours = f"{low:.5f} to {high:.5f}", f"{pair.interval[0]:.5f} to {pair.interval[1]:.5f}"
    yield f"| interval of a difference, Welch | statsmodels CompareMeans | {theirs} | {ours} |"
    subjects, raters = np.repeat(np.arange(8), 3), np.tile(np.arange(3), 8)
    values = rng.normal(5.0, 0.5, 8)[subjects] + rng.normal(0.0, 0.2, 24)
    frame = pd.DataFrame({"subject": subjects, "rater": raters, "value": values})
    icc: Any = pg.intraclass_corr(frame, targets="subject", raters="rater", ratings="value")["ICC"].iloc[1]
    mine = pourline.icc(values.tolist(), subjects=[str(s) for s in subjects], raters=[str(r) for r in raters])
    yield f"| intraclass correlation ICC(2,1) | pingouin.intraclass_corr | {icc:.4f} | {mine.forms[1].icc.value:.4f} |"
    tds, dose, beverage = ufloat(1.40, 0.03), ufloat(15.0, 0.1), ufloat(212.0, 0.2)
    by_hand = tds * beverage / dose
    meta = pourline.Meta(dose_g=15.0, dose_sd_g=0.1, tds_pct=1.40, tds_sd_pct=0.03)
    cup = pourline.extraction(meta, 240.0, pourline.Estimate(212.0, 0.2)).yield_pct
    assert isinstance(cup, pourline.Estimate)
    propagated = f"{by_hand.nominal_value:.4f} ± {by_hand.std_dev:.4f}"
    yield f"| yield with its sd, % | uncertainties | {propagated} | {cup.value:.4f} ± {cup.sd:.4f} |"


def design_table() -> Iterator[str]:
    """Show a study in which person and kettle are confounded."""
    flows = [5.1, 4.9, 5.2, 5.0, 6.1, 6.3, 5.9, 6.2]
    kettles, people = ["x"] * 4 + ["y"] * 4, ["Ada"] * 4 + ["Bo"] * 4
    theirs: Any = pg.ttest(flows[4:], flows[:4])
    p = float(theirs[next(c for c in theirs.columns if c.lower().startswith("p"))].iloc[0])
    own = pourline.Study(pourline.Table({"brew": list("abcdefgh"), "kettle": kettles, "person": people, "flow": flows}))
    (pair,) = pourline.compare(own, "flow", by="kettle", blocks="person").pairs
    assert isinstance(pair.p, pourline.Undefined)
    yield "| question | package | answer |"
    yield "|---|---|---|"
    yield f"| do the kettles differ? | pingouin.ttest | p = {p:.1g} |"
    yield f"| the same, within people | pourline.compare | no p: {pair.p.reason} |"


def page() -> Iterator[str]:
    """Write the page."""
    packages = ("pandas", "scipy", "ruptures", "statsmodels", "pingouin", "uncertainties")
    yield "# Compared with general-purpose packages"
    yield ""
    yield "Printed by `make quality` (`benches/beside_others.py`); no number here was typed. The page compares"
    yield f"{', '.join(f'{name} {version(name)}' for name in packages)}"
    yield "with pourline for the parts of this task. The times are medians on the machine that printed the page."
    yield ""
    yield "## From a CSV to pours"
    yield ""
    yield "Simulated logs with known true values are written as CSV and read back. Each method except pourline's"
    yield f"has the best setting of a small grid (a window in s, or a penalty) on {TRAINING} brews of other seeds;"
    yield "pourline has its defaults. The other methods remove features under 0.35 s, and join pours less than 1 s"
    yield "apart. The simulator is part of pourline and makes the faults that pourline detects, so this comparison"
    yield "favours pourline."
    yield ""
    yield from edges_table()
    yield ""
    yield "- A general filter does not model the lag of the scale, which shifts each start and end, and does not"
    yield "  distinguish a lifted vessel or a rinse from water. Further code is needed for both."
    yield "- They are much faster. If a rough start and mass of each pour suffice, a filter is the better choice."
    yield "- Their columns have no units and no sd, and an undefined number is NaN without a reason."
    yield "  `pourline.plot(brew)` is one line; a figure with matplotlib alone takes more lines, with full"
    yield "  control."
    yield ""
    yield "## The same numbers"
    yield ""
    yield "If a general-purpose package has the method, it gives the same result. pourline's tests compare many"
    yield "more of them."
    yield ""
    yield from same_table()
    yield ""
    yield "## A question that the study cannot answer"
    yield ""
    yield "Ada brewed four times with one kettle, Bo four times with the other. Kettle and person are confounded."
    yield ""
    yield from design_table()
    yield ""
    yield "A general-purpose package does not check the design. With a model of both factors it can reach the same"
    yield "conclusion."
    yield ""
    yield "## Advantages of general-purpose packages"
    yield ""
    yield "- **Any data.** pandas reads files and dates of any format; ruptures finds changes in any series;"
    yield "  pourline analyses only weights over time."
    yield "- **Any model.** statsmodels has covariates, generalised and mixed models; pourline has the few designs"
    yield "  of a brewing study."
    yield "- **Any formula.** uncertainties propagates an sd through any formula; pourline has the balances of a"
    yield "  brew."
    yield "- **Speed**, as above, and years of use by many people, which no test replaces."
    yield ""
    yield "They can be combined: `brew.table(all=True).to_pandas()` and `study.table().to_polars()` export every number"
    yield "with its sd."


if __name__ == "__main__":
    for line in page():
        print(line)
