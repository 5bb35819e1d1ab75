"""Reading one CSV of time, water and beverage: `pourline.read` against polars' reader on one thread, in turn, in one
run.

In: the size in MB (100). Out: the time of each pair, and the ratio of the best times. polars gives three columns and
judges nothing; `read` also finds separator, header and units, and holds every value against the rules of a log.
"""

from __future__ import annotations

import os

os.environ["POLARS_MAX_THREADS"] = "1"

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

import pourline

PAIRS = 9


def write_csv(path: Path, megabytes: int) -> int:
    log = pourline.datasets.load("thimblebeak-ada-20")
    brew = pl.DataFrame({"time_s": log.time_s, "water_g": log.water_g, "beverage_g": log.beverage_g})
    length_s, rows = log.time_s[-1] + 0.1, 0
    with path.open("wb") as file:
        while file.tell() < megabytes * 1_000_000:
            shifted = brew.with_columns((pl.col("time_s") + rows / len(log) * length_s).round(3))
            shifted.write_csv(file, include_header=rows == 0)
            rows += len(log)
    return rows


def main(megabytes: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        rows = write_csv(path, megabytes)
        print(
            f"{path.stat().st_size / 1e6:.0f} MB, {rows} rows; polars {pl.__version__} on {pl.thread_pool_size()} thread; load {os.getloadavg()[0]:.1f}"
        )
        best_s = {"pourline": np.inf, "polars": np.inf}
        for _ in range(PAIRS):
            for name, reader in (("pourline", pourline.read), ("polars", pl.read_csv)):
                begun, before = time.perf_counter(), time.process_time()
                read = reader(path)
                took_s, worked_s = time.perf_counter() - begun, time.process_time() - before
                best_s[name] = min(best_s[name], worked_s)
                assert len(read) == rows
                print(f"  {name:8} {took_s:.3f} s, of the processor {worked_s:.3f} s")
                del read
        log, frame = pourline.read(path), pl.read_csv(path)
        assert log.water_g is not None
        assert np.array_equal(log.time_s, frame["time_s"].to_numpy()), "the two read different numbers"
        assert np.array_equal(log.water_g, frame["water_g"].to_numpy()), "the two read different numbers"
    print(f"processor time, best of {PAIRS}: pourline {best_s['pourline']:.3f} s, polars {best_s['polars']:.3f} s")
    print(f"pourline reads {best_s['polars'] / best_s['pourline']:.2f} times as much per core as polars")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
