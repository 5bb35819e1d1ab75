"""The stub is up to date, and declares the compiled module: names, properties, signatures, first lines of the docs."""

from __future__ import annotations

import ast
import importlib.util
import inspect
from pathlib import Path

import pytest

from pourline import _pourline

TEXT = (Path(_pourline.__file__).parent / "_pourline.pyi").read_text(encoding="utf-8")
STUB = ast.parse(TEXT)
# A pour of a brew answers for these as well.
ANSWERED = {"Pour": ("PourMetrics", "PourAgitation", "PourDrain")}
Functions = ast.FunctionDef | ast.AsyncFunctionDef
CLASSES = {node.name: node for node in STUB.body if isinstance(node, ast.ClassDef)}
FUNCTIONS = {node.name: node for node in STUB.body if isinstance(node, ast.FunctionDef)}


def first_line(text: str | None) -> str:
    return (text or "").strip().split("\n")[0]


def parameters(node: ast.FunctionDef) -> list[tuple[str, str, bool]]:
    """Name, kind and whether there is a default, of all parameters but the receiver."""
    arguments = node.args
    places = [*arguments.posonlyargs, *arguments.args]
    optional = len(places) - len(arguments.defaults)
    found = [(a.arg, "place", i >= optional) for i, a in enumerate(places)]
    found += [
        (a.arg, "keyword", d is not None) for a, d in zip(arguments.kwonlyargs, arguments.kw_defaults, strict=True)
    ]
    if arguments.vararg:
        found.insert(len(places), (arguments.vararg.arg, "more", False))
    if arguments.kwarg:
        found.append((arguments.kwarg.arg, "others", False))
    return [one for one in found if one[0] not in ("self", "cls")]


def real_parameters(function: object) -> list[tuple[str, str, bool]]:
    kinds: dict[object, str] = {
        inspect.Parameter.POSITIONAL_ONLY: "place",
        inspect.Parameter.POSITIONAL_OR_KEYWORD: "place",
        inspect.Parameter.KEYWORD_ONLY: "keyword",
        inspect.Parameter.VAR_POSITIONAL: "more",
        inspect.Parameter.VAR_KEYWORD: "others",
    }
    assert callable(function)
    return [
        (p.name, kinds[p.kind], p.default is not inspect.Parameter.empty)
        for p in inspect.signature(function).parameters.values()
        if p.name not in ("self", "cls")
    ]


def members(node: ast.ClassDef) -> dict[str, ast.FunctionDef]:
    return {part.name: part for part in node.body if isinstance(part, ast.FunctionDef)}


def test_the_stub_is_what_its_sources_give() -> None:
    spec = importlib.util.spec_from_file_location("stub", Path(__file__).parents[2] / ".ci" / "stub.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    assert script.stub() == TEXT, "run make columns"


def test_every_property_says_what_it_is_in_one_line() -> None:
    for owner, properties in _pourline._types:
        for name, _ in properties:
            said = first_line(getattr(getattr(_pourline, owner), name).__doc__)
            assert said.endswith("."), f"{owner}.{name}: the first line of its doc is no sentence: {said}"


def test_the_stub_has_the_names_of_the_module() -> None:
    real = {name for name in dir(_pourline) if not name.startswith("_")} - {"annotations"}
    assert real == {name for name in set(CLASSES) | set(FUNCTIONS) if not name.startswith("_")}


@pytest.mark.parametrize("name", sorted(FUNCTIONS))
def test_functions_take_what_the_stub_says(name: str) -> None:
    real = getattr(_pourline, name)
    assert parameters(FUNCTIONS[name]) == real_parameters(real)
    assert first_line(ast.get_docstring(FUNCTIONS[name])) == first_line(real.__doc__)


@pytest.mark.parametrize("name", sorted(CLASSES))
def test_classes_have_what_the_stub_says(name: str) -> None:
    real = getattr(_pourline, name)
    stubbed = members(CLASSES[name])
    assert first_line(ast.get_docstring(CLASSES[name])) == first_line(real.__doc__)
    types: dict[str, list[tuple[str, str]]] = dict(_pourline._types)
    answered = {member: getattr(_pourline, part) for part in ANSWERED.get(name, ()) for member, _ in types[part]}
    public = {member for member in [*dir(real), *answered] if not member.startswith("_")}
    assert public == {member for member in stubbed if not member.startswith("_")}
    for member, node in stubbed.items():
        is_property = any(isinstance(d, ast.Name) and d.id == "property" for d in node.decorator_list)
        found = getattr(answered[member] if member in answered and not hasattr(real, member) else real, member)
        if is_property:
            assert inspect.isgetsetdescriptor(found), member
        elif member == "__new__":
            if name != "Meta":
                assert parameters(node) == real_parameters(real)
        elif not member.startswith("__"):
            assert parameters(node) == real_parameters(found), member
        if not member.startswith("_") and ast.get_docstring(node):
            assert first_line(ast.get_docstring(node)) == first_line(found.__doc__), member


def test_every_member_of_a_class_is_told_in_a_sentence() -> None:
    for name, node in CLASSES.items():
        for member, part in members(node).items():
            assert member.startswith("_") or ast.get_docstring(part), f"{name}.{member}"
