"""The law of imports between the folders of the package: one way, no circles, each name from the module that defines
it.
"""

from __future__ import annotations

import ast
import re
from graphlib import TopologicalSorter
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType

import pytest

import pourline
from pourline import balance, datasets, errors, on_dask, on_spark, tables, water

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "python" / "pourline"
FILES = {path.relative_to(PACKAGE).with_suffix("").as_posix(): path for path in PACKAGE.rglob("*.py")}
# A room may import from those above it in this list, and from itself. The compiled core asks for upper rooms by name,
# when it is called.
LAW = (
    {"_pourline", "_escape"},
    {"errors"},
    {"tables"},
    {"_io", "balance", "datasets", "water"},
    {"_text"},
    {"_figures"},
    {"_pages"},
    {"_view", "_cli", "on_dask", "on_spark", "on_sklearn"},
    {"cli"},
    {"__main__"},
)
RANK = {room: rank for rank, rooms in enumerate(LAW) for room in rooms}


def room(module: str) -> str:
    return "_text" if module.startswith(("_columns", "_descriptions")) else module.split("/")[0]


def imports(module: str) -> list[str]:
    """Return the modules of the package that a module imports; `from the root: x` for a name that the root only hands
    on.
    """
    found = []
    for node in ast.walk(ast.parse(FILES[module].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [f"from the root: {one.name}" for one in node.names if one.name.split(".")[0] == "pourline"]
        if not isinstance(node, ast.ImportFrom) or not (node.level or (node.module or "").startswith("pourline")):
            continue
        base = module.split("/")[: -node.level] if node.level else []
        words = (node.module or "").removeprefix("pourline" if not node.level else "").strip(".").split(".")
        path = "/".join([*base, *filter(None, words)])
        for one in node.names:
            to = next((to for to in (path, f"{path}/{one.name}".strip("/")) if to in FILES or to == "_pourline"), None)
            found.append(to or f"from the root: {one.name}")
    return found


GRAPH = {module: imports(module) for module in FILES if module != "__init__"}


def test_imports_run_one_way_and_name_the_module_that_defines() -> None:
    assert {room(module) for module in GRAPH} | {"_pourline"} == set(RANK)
    broken = [
        f"{module} imports {to}"
        for module, found in GRAPH.items()
        for to in found
        if to.startswith("from the root") or not (room(to) == room(module) or RANK[room(to)] < RANK[room(module)])
    ]
    assert broken == []


def test_no_circle_of_imports() -> None:
    assert len(list(TopologicalSorter(GRAPH).static_order())) > 40


def test_folders_hand_nothing_on() -> None:
    assert [module for module in GRAPH if module.endswith("/__init__") and GRAPH[module]] == []


def test_each_public_name_has_one_path() -> None:
    seen: dict[int, str] = {}
    for module in (pourline, balance, datasets, errors, on_dask, on_spark, tables, water):
        for name in module.__all__:
            path = f"{module.__name__}.{name}"
            assert seen.setdefault(id(getattr(module, name)), path) == path


@pytest.mark.parametrize("module", [balance, datasets, errors, tables, water])
def test_a_name_of_a_public_module_is_that_of_the_module_or_of_the_package(module: ModuleType) -> None:
    handed_on = {name for name in pourline.__all__ if getattr(pourline, name) is vars(module).get(name)}
    own = {
        name
        for name, thing in vars(module).items()
        if not name.startswith("_") and getattr(thing, "__module__", None) == module.__name__
    }
    assert handed_on.isdisjoint(module.__all__)
    assert own <= handed_on | set(module.__all__)


def test_errors_and_tables_have_their_class_in_the_package() -> None:
    assert (pourline.PourlineError, pourline.Interrupted) == (errors.PourlineError, errors.Interrupted)
    assert (pourline.Table, errors.__all__, tables.__all__) == (tables.Table, [], ["stack"])


def test_the_core_asks_for_modules_that_are_there() -> None:
    sources = [path.read_text(encoding="utf-8") for path in (ROOT / "src" / "bindings").glob("*.rs")]
    asked = {
        name for text in sources for name in re.findall(r"(?:import\(\"|import_exception!\()(pourline[\w.]+)", text)
    }
    assert len(asked) > 5
    assert [name for name in sorted(asked) if find_spec(name) is None] == []
