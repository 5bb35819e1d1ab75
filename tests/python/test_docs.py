"""Every public name, and every method of a public class, is documented: what each parameter is, and an example
that runs as it stands.
"""

from __future__ import annotations

import ast
import doctest
import inspect
import re
import types
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import pytest

import pourline
from pourline import _pourline

mpl.use("agg")
MODULES = (pourline, pourline.balance, pourline.datasets, pourline.water)
WITHOUT_EXAMPLE = {"pourline.__version__", "pourline.datasets"}
STUB = ast.parse((Path(_pourline.__file__).parent / "_pourline.pyi").read_text(encoding="utf-8"))


def public() -> dict[str, Any]:
    """Return every public name, with the methods of the classes."""
    found: dict[str, Any] = {}
    for module in MODULES:
        for name in module.__all__:
            thing = getattr(module, name)
            found[f"{module.__name__}.{name}"] = thing
            if isinstance(thing, type):
                found |= {f"{module.__name__}.{name}.{method}": one for method, one in methods(thing)}
    return found


def methods(owner: type) -> Iterator[tuple[str, Callable[..., Any]]]:
    """Return the public methods that a class does not have from Python's own."""
    own = [base for base in owner.__mro__ if base.__module__ != "builtins"]
    for name in {name for base in own for name in vars(base)}:
        one = getattr(owner, name)
        if not name.startswith("_") and callable(one):
            yield name, one


PUBLIC = public()
CALLED = {name: thing for name, thing in PUBLIC.items() if callable(thing)}


@pytest.mark.parametrize("name", sorted(set(PUBLIC) - WITHOUT_EXAMPLE))
def test_the_example_runs(name: str) -> None:
    text = PUBLIC[name].__doc__
    examples = doctest.DocTestParser().get_doctest(text, {}, name, None, None)
    assert examples.examples, "there is no example"
    report: list[str] = []
    failed, _ = doctest.DocTestRunner(verbose=False).run(examples, out=report.append)
    assert not failed, "".join(report)


@pytest.mark.parametrize("name", sorted(CALLED))
def test_each_parameter_is_told(name: str) -> None:
    thing = CALLED[name]
    try:
        parameters = list(inspect.signature(thing).parameters.values())
    except ValueError:
        # Classes without a constructor, such as results.
        return
    told = f"{thing.__doc__}\n{getattr(thing, '__init__').__doc__ if isinstance(thing, type) else ''}"  # noqa: B009
    words = set(re.findall(r"\w+", re.sub(r"^\s*(>>>|\.\.\.).*$", "", told, flags=re.MULTILINE)))
    # Keywords without a name of their own: options of a stage, and what goes on to `Meta`.
    words |= {"options"} if {"Keywords", "keyword"} & words else set()
    words |= {"meta"} if "metadata" in words or thing is pourline.Meta else set()
    assert {parameter.name for parameter in parameters} - {"self", "cls"} <= words


@pytest.mark.parametrize("name", sorted(CALLED))
def test_each_parameter_and_what_is_returned_has_its_type(name: str) -> None:
    thing = CALLED[name]
    *_, owner, last = name.split(".")
    nodes = {node.name: node for node in STUB.body if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    if isinstance(thing, types.FunctionType):
        signature = inspect.signature(thing)
        assert signature.return_annotation is not inspect.Signature.empty
        assert all(one.annotation is not one.empty for one in signature.parameters.values() if one.name != "self")
    elif not isinstance(thing, type):
        among = nodes[owner].body if owner in nodes else STUB.body
        (node,) = [one for one in among if isinstance(one, ast.FunctionDef) and one.name == last]
        assert node.returns is not None
        arguments = (node.args.posonlyargs, node.args.args, node.args.kwonlyargs, [node.args.vararg, node.args.kwarg])
        assert all(one.annotation for some in arguments for one in some if one and one.arg not in ("self", "cls"))


def test_all_names_are_those_of_the_package() -> None:
    there = {name for name in dir(pourline) if not name.startswith("_")}
    modules = {"errors", "tables", "cli", "on_dask", "on_spark", "on_sklearn"}
    assert there - modules == set(pourline.__all__) - {"__version__"}
