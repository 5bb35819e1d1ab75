"""Many logs: time with one thread and with two, and the memory that a long table takes.

`many.py scaling [LOGS]` analyses bundled brews by one thread and by two in turn, and prints each pair. `many.py
memory [LOGS] [SAMPLES]` writes a folder of Parquet of that many logs, each the first pour of a bundled brew, and
prints the most memory that a process of its own took to analyse it; without numbers it does so for 240 whole brews
and for 100,000 logs. `make quality` runs both.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from itertools import cycle, islice
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

import pourline

LOGS_IN_A_FILE = 2000
# More samples than in any bundled brew.
WHOLE = 100_000


def scaling(logs: int = 96, pairs: int = 5) -> None:
    names = list(islice(cycle(pourline.datasets.names()), logs))
    loaded = [pourline.datasets.load(name) for name in names]
    print(
        f"{logs} bundled brews, by one thread and by two in turn, on {os.cpu_count()} cores; load before: {os.getloadavg()[0]:.1f}"
    )
    ratios = []
    for _ in range(pairs):
        took_s = []
        for threads in (1, 2):
            begun = time.perf_counter()
            pourline.analyze_many(loaded, threads=threads)
            took_s.append(time.perf_counter() - begun)
        ratios.append(took_s[0] / took_s[1])
        print(f"  {took_s[0]:6.2f} s  {took_s[1]:6.2f} s  {ratios[-1]:.2f} times as fast")
    print(f"best pair: {max(ratios):.2f} times as fast")


def around_first_pour(name: str, samples: int) -> dict[str, NDArray[np.float64]]:
    log = pourline.datasets.load(name)
    assert log.water_g is not None
    assert log.beverage_g is not None
    start_s = pourline.analyze(log).pours[0].start_s.value
    first = max(int(np.searchsorted(log.time_s, start_s)) - samples // 5, 0)
    some = slice(first, first + samples)
    return {"time_s": log.time_s[some], "water_g": log.water_g[some], "beverage_g": log.beverage_g[some]}


def write_logs(folder: Path, logs: int, samples: int) -> None:
    brews = [around_first_pour(name, samples) for name in pourline.datasets.names()]
    for first in range(0, logs, LOGS_IN_A_FILE):
        tables = []
        for number in range(first, min(first + LOGS_IN_A_FILE, logs)):
            columns = brews[number % len(brews)]
            tables.append(pa.table({"log": [f"log {number:07}"] * len(columns["time_s"])} | columns))
        pq.write_table(pa.concat_tables(tables), folder / f"part-{first:08}.parquet")


def most_mb() -> float:
    """The peak memory of this process, from Linux. `getrusage` would include that of the parent process."""
    (line,) = (line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024


def analyse(folder: str) -> None:
    before_mb, begun = most_mb(), time.perf_counter()
    rows = failed = 0
    for batch in pourline.analyze_table(folder):
        rows += batch.num_rows
        failed += batch.num_rows - batch["error"].null_count
    took_s = time.perf_counter() - begun
    print(
        f"  {rows} rows, {failed} logs without a pour or failed, {took_s:.0f} s; most memory {most_mb():.0f} MB, {before_mb:.0f} MB before"
    )


def memory(logs: int = 100_000, samples: int = 12) -> None:
    with tempfile.TemporaryDirectory() as folder:
        write_logs(Path(folder), logs, samples)
        size_mb = sum(file.stat().st_size for file in Path(folder).iterdir()) / 1e6
        print(f"{logs} logs of at most {samples} samples in {size_mb:.0f} MB of Parquet", flush=True)
        subprocess.run([sys.executable, __file__, "analyse", folder], check=True)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["analyse", folder]:
            analyse(folder)
        case ["scaling", *given]:
            scaling(*map(int, given))
        case ["memory", *given]:
            if given:
                memory(*map(int, given))
            else:
                memory(240, WHOLE)
                memory()
        case _:
            sys.exit(__doc__)
