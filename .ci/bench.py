"""In: what criterion wrote of the benches `analyze`, `batch` and `live`. Out: one table, with the 95 % interval of each
time.
"""

from __future__ import annotations

import json
from pathlib import Path

BENCHES = ("analyze", "batch", "live")
UNITS = ((1e9, "s"), (1e6, "ms"), (1e3, "us"), (1.0, "ns"))


def read(found: Path) -> tuple[list[float], int]:
    """Mean and its interval in ns, and the number of samples or logs."""
    mean = json.loads((found / "estimates.json").read_text(encoding="utf-8"))["mean"]
    interval = mean["confidence_interval"]
    given = json.loads((found / "benchmark.json").read_text(encoding="utf-8"))
    return [mean["point_estimate"], interval["lower_bound"], interval["upper_bound"]], given["throughput"]["Elements"]


def formatted(nanoseconds: float) -> str:
    """A time in a suitable unit."""
    size, unit = next((size, unit) for size, unit in UNITS if nanoseconds >= size or size == 1.0)
    return f"{nanoseconds / size:.3g} {unit}"


rows, means = [("what", "time", "95 %", "each")], {}
for name in BENCHES:
    found = [(path, *read(path)) for path in Path("target/criterion", name).rglob("new")]
    for path, (mean, low, high), elements in sorted(found, key=lambda one: (one[2], str(one[0]))):
        what = " ".join(path.parent.relative_to("target/criterion").parts)
        means[what] = mean
        of = f"a log of {elements}" if name == "batch" else f"a sample of {elements}"
        rows.append(
            (what, formatted(mean), f"{formatted(low)} to {formatted(high)}", f"{formatted(mean / elements)} {of}")
        )
widths = [max(len(row[k]) for row in rows) for k in range(4)]
print("\n".join("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows))
one = means["batch threads 1"]
for what, mean in means.items():
    if what.startswith("batch") and what != "batch threads 1":
        print(f"{what}: {one / mean:.2f} times as fast as one thread")
