"""The examples of modules, and of names that are reached through a module alone; those of public names are run by
test_docs.py.
"""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from types import ModuleType

import matplotlib as mpl
import pytest

import pourline

mpl.use("agg")
RUN_ELSEWHERE = (pourline, pourline.balance, pourline.datasets, pourline.water)


def modules() -> list[ModuleType]:
    found = [info.name for info in pkgutil.walk_packages(pourline.__path__, "pourline.")]
    return [pourline, *(importlib.import_module(name) for name in found if not name.endswith("__main__"))]


def examples() -> dict[str, doctest.DocTest]:
    public = {getattr(module, name) for module in RUN_ELSEWHERE for name in module.__all__ if name != "__version__"}
    texts = {getattr(one, "__doc__", None) for one in public}
    texts |= {
        getattr(member, "__doc__", None) for one in public if isinstance(one, type) for member in vars(one).values()
    }
    finder = doctest.DocTestFinder(exclude_empty=True)
    tests = {test.name: test for module in modules() for test in finder.find(module) if test.examples}
    return {name: test for name, test in tests.items() if test.docstring not in texts}


EXAMPLES = examples()


@pytest.mark.parametrize("name", sorted(EXAMPLES))
def test_the_example_runs(name: str) -> None:
    report: list[str] = []
    failed, _ = doctest.DocTestRunner(verbose=False).run(EXAMPLES[name], out=report.append)
    assert not failed, "".join(report)


def test_modules_and_the_command_line_have_examples() -> None:
    assert {"pourline", "pourline.cli.main", "pourline.tables.stack"} <= set(EXAMPLES)
