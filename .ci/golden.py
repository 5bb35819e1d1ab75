"""In: the bundled brews. Out: tests/golden/brews.json, the results of an analysis to the last bit. `make golden`
runs it after a meant change.

IEEE 754 fixes the four operations and the root to the last bit, not sine or logarithm: those are as the system's
library has them, and differ even with the processor. So the file also holds their digests on the system that wrote
it; on other systems the digests are not compared, and the numbers must agree within APART.

A digest is SHA-256 over values alone, as IEEE 754 doubles, the least significant byte first, with zeros and missing
values as in `Log.digest`. No name counts: if a column is renamed, its digest shows that its values are the same.
`json` is the digest of all finite numbers of `Brew.to_json` in ascending order: names, texts and the order of fields
do not count.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

import pourline

KEPT = Path(__file__).parents[1] / "tests" / "golden" / "brews.json"
# Tolerance under another mathematical library: s, g and percentage points.
APART = 1e-9
OF_A_POUR = ("half_rise_s", "half_fall_s", "mass_g")
OF_A_BREW = ("water_g", "beverage_g", "yield_pct")


def digest(*columns: Any) -> str:
    """Return the digest of values, column after column, as 64 hexadecimal digits."""
    hashed = hashlib.sha256()
    for values in columns:
        doubles = np.asarray(values, dtype="f8")
        missing = np.isnan(doubles)
        plain = np.where(missing, 0.0, doubles + 0.0).astype("<f8")
        plain.view("<u8")[missing] = 0x7FF8000000000000
        hashed.update(plain.tobytes())
    return hashed.hexdigest()


def numbers(tree: Any) -> Iterator[float]:
    """Yield the numbers of a JSON tree, without booleans."""
    if isinstance(tree, dict):
        tree = list(tree.values())
    if isinstance(tree, list):
        for branch in tree:
            yield from numbers(branch)
    elif isinstance(tree, (int, float)) and not isinstance(tree, bool):
        yield float(tree)


def mathematics() -> str:
    """Return the digest of the results of this system's mathematical library for 4,000 numbers per function."""
    points = [k / 128 for k in range(1, 4001)]
    functions: list[Callable[[float], float]] = [
        math.exp,
        math.log,
        math.sin,
        math.cos,
        math.tan,
        lambda x: math.pow(x, 0.3),
        math.expm1,
        math.log1p,
        math.log2,
        math.log10,
    ]
    return digest(*([function(x) for x in points] for function in functions))


def brews(threads: int | None = None) -> list[pourline.Brew]:
    """Return the bundled brews, analysed."""
    logs = [pourline.datasets.load(name) for name in pourline.datasets.names()]
    found = pourline.analyze_many(logs, threads=threads, progress=False)
    return [brew for brew in found if isinstance(brew, pourline.Brew)]


def columns(table: pourline.Table | Mapping[str, Any]) -> dict[str, str]:
    """Return one digest per column of numbers."""
    names = table.columns if isinstance(table, pourline.Table) else list(table)
    return {name: digest(table[name]) for name in names if table[name].dtype.kind in "fi"}


def of_brew(brew: pourline.Brew) -> dict[str, Any]:
    """Return the golden values of one brew: digests of all numbers, and a few readable numbers."""
    trace, flow = brew.trace, brew.flow
    assert trace.water is not None
    assert trace.beverage is not None
    assert flow is not None
    flows = (flow.time_s, flow.flow_g_per_s, flow.flow_sd_g_per_s, flow.water_g, flow.water_sd_g)
    table = brew.table(all=True)
    return {
        "log": brew.log_digest,
        "masses": digest(trace.time_s, trace.water.mass_g, trace.beverage.mass_g),
        "flow": digest(*flows),
        "json": digest(sorted(numbers(json.loads(brew.to_json())))),
        **{name: table[name].tolist() for name in OF_A_POUR},
        **{name: table[name].tolist()[0] for name in OF_A_BREW},
    }


def found(all_brews: Iterable[pourline.Brew]) -> dict[str, Any]:
    """Return the content of the file."""
    brews = list(all_brews)
    return {
        "mathematics": mathematics(),
        "rows a pour": columns(pourline.tables.stack(brew.table(all=True) for brew in brews)),
        "rows a brew": columns(pourline.gather(brews).table()),
        "brews": {str(brew.meta.name): of_brew(brew) for brew in brews},
    }


if __name__ == "__main__":
    KEPT.write_text(json.dumps(found(brews()), indent=1) + "\n", encoding="utf-8")
