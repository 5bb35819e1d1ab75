"""Forty short logs in one long table, and the rows that one machine gives for them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pyarrow as pa
import pytest

import pourline

LOGS, SAMPLES = 40, 300
Rows = list[dict[str, object]]


@pytest.fixture(scope="session")
def long() -> pa.Table:
    time_s = np.arange(SAMPLES) / 10
    parts = []
    for number in range(LOGS):
        noise = np.random.default_rng(number).normal(0, 0.03, SAMPLES)
        water_g = np.round(5 * np.clip(time_s - 5, 0, 8 + number % 5) + noise, 1)
        kettle = ["Fernspout", "Broadlip"][number % 2]
        parts.append(
            pa.table(
                {
                    "log": [f"log {number:02}"] * SAMPLES,
                    "time_s": time_s,
                    "water_g": water_g,
                    "kettle": [kettle] * SAMPLES,
                }
            )
        )
    # One that fails.
    parts.append(parts[0].slice(0, 2).set_column(0, "log", pa.array(["short"] * 2)))
    return pa.concat_tables(parts)


@pytest.fixture(scope="session")
def here(long: pa.Table) -> Rows:
    return sort(pa.table(pourline.analyze_table(long, meta=["kettle"])))


@pytest.fixture(scope="session")
def in_order() -> Callable[[pa.Table], Rows]:
    return sort


def sort(rows: pa.Table) -> Rows:
    """Rows sorted by log and pour; floats stay as they are, so that equal means equal to the last bit."""
    found: Rows = rows.sort_by([("log", "ascending"), ("pour", "ascending")]).to_pylist()
    return found
