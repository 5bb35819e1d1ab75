"""Every public name is told in a sentence, with an example that runs as it stands."""

from __future__ import annotations

import doctest

import matplotlib as mpl
import pytest

import pourline

mpl.use("agg")
WITHOUT_EXAMPLE = {"__version__", "datasets"}


@pytest.mark.parametrize("name", sorted(set(pourline.__all__) - WITHOUT_EXAMPLE))
def test_the_example_runs(name: str) -> None:
    text = getattr(pourline, name).__doc__
    examples = doctest.DocTestParser().get_doctest(text, {}, name, None, None)
    assert examples.examples, "there is no example"
    report: list[str] = []
    failed, _ = doctest.DocTestRunner(verbose=False).run(examples, out=report.append)
    assert not failed, "".join(report)


def test_all_names_are_those_of_the_package() -> None:
    there = {name for name in dir(pourline) if not name.startswith("_")}
    modules = {"plots", "reports", "tables", "cli", "on_dask", "on_spark"}
    assert there - modules == set(pourline.__all__) - {"__version__"}
