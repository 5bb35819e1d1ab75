"""In: the bundled brews. Out: tests/golden/brews.json, what an analysis gives for them to the last bit. `make golden` runs it after a meant change.

IEEE 754 fixes the four operations and the root to the last bit, not sine or logarithm: those are as the system's library has them, and differ even with the
processor. So the file also holds what they gave where it was written; elsewhere the digests tell nothing, and the numbers are held within APART.

A digest is SHA-256 over columns, each its name, a line feed and its values as IEEE 754 doubles, the least significant byte first (as `Log.digest`). That of
`json` is over the whole text of `Brew.to_json`, with no version, so that it stays the same from release to release.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

import pourline
from pourline._text.provenance import digest

KEPT = Path(__file__).parents[1] / "tests" / "golden" / "brews.json"
# Where the mathematical library is another one: s, g and percentage points.
APART = 1e-9
OF_A_POUR = ("half_rise_s", "half_fall_s", "mass_g")
OF_A_BREW = ("water_g", "beverage_g", "yield_pct")


def mathematics() -> str:
    """Return the digest of what this system's library makes of 4,000 numbers each."""
    points = [k / 128 for k in range(1, 4001)]
    named: dict[str, Callable[[float], float]] = {
        "exp": math.exp,
        "ln": math.log,
        "sin": math.sin,
        "cos": math.cos,
        "tan": math.tan,
        "powf": lambda x: math.pow(x, 0.3),
        "exp_m1": math.expm1,
        "ln_1p": math.log1p,
        "log2": math.log2,
        "log10": math.log10,
    }
    return digest({name: np.array([function(x) for x in points]) for name, function in named.items()})


def brews(threads: int | None = None) -> list[pourline.Brew]:
    """Return the bundled brews, analysed."""
    logs = [pourline.datasets.load(name) for name in pourline.datasets.names()]
    found = pourline.analyze_many(logs, threads=threads, progress=False)
    return [brew for brew in found if isinstance(brew, pourline.Brew)]


def columns(table: pourline.Table | Mapping[str, Any]) -> dict[str, str]:
    """Return a digest a column of numbers."""
    names = table.columns if isinstance(table, pourline.Table) else list(table)
    return {name: digest({name: table[name].astype("f8")}) for name in names if table[name].dtype.kind in "fi"}


def of_brew(brew: pourline.Brew) -> dict[str, Any]:
    """Return what is held of one brew: digests of all, and a handful of numbers to read."""
    trace, flow = brew.trace, brew.flow
    assert trace.water is not None
    assert trace.beverage is not None
    assert flow is not None
    masses = {"time_s": trace.time_s, "water_g": trace.water.mass_g, "beverage_g": trace.beverage.mass_g}
    flows = {n: getattr(flow, n) for n in ("time_s", "flow_g_per_s", "flow_sd_g_per_s", "water_g", "water_sd_g")}
    text = brew.to_json().replace(f'"version":"{brew.version}"', '"version":""')
    table = brew.table()
    return {
        "log": brew.log_digest,
        "masses": digest(masses),
        "flow": digest(flows),
        "json": hashlib.sha256(text.encode()).hexdigest(),
        **{name: table[name].tolist() for name in OF_A_POUR},
        **{name: table[name].tolist()[0] for name in OF_A_BREW},
    }


def found(all_brews: Iterable[pourline.Brew]) -> dict[str, Any]:
    """Return what the file holds."""
    kept = list(all_brews)
    return {
        "mathematics": mathematics(),
        "rows a pour": columns(pourline.tables.stack(brew.table() for brew in kept)),
        "rows a brew": columns(pourline.gather(kept).table()),
        "brews": {str(brew.meta.name): of_brew(brew) for brew in kept},
    }


if __name__ == "__main__":
    KEPT.write_text(json.dumps(found(brews()), indent=1) + "\n", encoding="utf-8")
