"""Data of several tests: a log whose pours follow from arithmetic, and a demo brew with knocks."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pytest

import pourline

if TYPE_CHECKING:
    from jupyter_client.manager import AsyncKernelManager


def poured(time_s: np.ndarray) -> np.ndarray:
    """60 g at 6 g/s from 10 s, 60 g at 5 g/s from 35 s."""
    water_g: np.ndarray = 6.0 * np.clip(time_s - 10, 0, 10) + 5.0 * np.clip(time_s - 35, 0, 12)
    return water_g


@pytest.fixture(scope="session")
def time_s() -> np.ndarray:
    return np.arange(700) / 10


@pytest.fixture(scope="session")
def water_g(time_s: np.ndarray) -> np.ndarray:
    noise = np.random.default_rng(5).normal(0, 0.03, len(time_s))
    return np.round(poured(time_s) + noise, 1)


@pytest.fixture(scope="session")
def beverage_g(time_s: np.ndarray) -> np.ndarray:
    noise = np.random.default_rng(6).normal(0, 0.03, len(time_s))
    return np.round(0.8 * poured(time_s - 4) + noise, 1)


@pytest.fixture(scope="session")
def log(time_s: np.ndarray, water_g: np.ndarray, beverage_g: np.ndarray) -> pourline.Log:
    return pourline.Log(time_s, water_g, beverage_g, dose_g=7.5, tds_pct=1.4, name="two pours")


@pytest.fixture(scope="session")
def brew(log: pourline.Log) -> pourline.Brew:
    return pourline.analyze(log)


@pytest.fixture(scope="session")
def knocked() -> pourline.Brew:
    return pourline.analyze(pourline.datasets.load("fernspout-ada-02"))


@pytest.fixture(scope="session")
def this_python() -> type[AsyncKernelManager]:
    """Return the kernel of the Python that runs the tests, whatever other kernels the machine has."""
    # Imported here, because make versions runs tests without Jupyter.
    from jupyter_client.kernelspec import KernelSpec
    from jupyter_client.manager import AsyncKernelManager

    class ThisPython(AsyncKernelManager):
        @property
        def kernel_spec(self) -> KernelSpec:
            command = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
            return KernelSpec(argv=command, display_name="this Python", language="python")

    return ThisPython


@pytest.fixture(autouse=True)
def _no_figure_stays_open() -> Iterator[None]:
    yield
    pyplot = sys.modules.get("matplotlib.pyplot")
    if pyplot is not None:
        pyplot.close("all")
