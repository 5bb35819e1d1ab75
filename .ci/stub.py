"""In: the compiled module, and `stub_parts.pyi` with the unlisted parts. Out: the stub python/pourline/_pourline.pyi."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from pourline import _pourline

STUB = Path("python/pourline/_pourline.pyi")
PARTS = Path(__file__).with_name("stub_parts.pyi")
# Usual members, which need no entry in the parts.
USUAL = {
    "table": "def table(self) -> Table: ...",
    "to_json": "def to_json(self) -> str: ...",
    "__float__": "def __float__(self) -> float: ...",
    "__format__": "def __format__(self, spec: str, /) -> str: ...",
    "__len__": "def __len__(self) -> int: ...",
    "_repr_html_": "def _repr_html_(self) -> str: ...",
    "__eq__": "def __eq__(self, other: object, /) -> bool: ...",
    "__ne__": "def __ne__(self, other: object, /) -> bool: ...",
    "__hash__": "def __hash__(self) -> int: ...",
}
# A pour of a brew answers for its metrics, agitation and drainage as well.
ANSWERED = {"Pour": ("PourMetrics", "PourAgitation", "PourDrain")}
HEAD = '"""The compiled module: logs, the stages as functions, and their results as frozen values. Written by `make columns`."""\n'


def stub() -> str:
    """Return the text of the stub."""
    parts = PARTS.read_text(encoding="utf-8")
    lines, tree = parts.splitlines(), ast.parse(parts)
    classes = {node.name: node for node in tree.body if isinstance(node, ast.ClassDef)}
    functions = [node for node in tree.body if isinstance(node, ast.FunctionDef)]
    types: dict[str, list[tuple[str, str]]] = dict(_pourline._types)
    first = min(node.lineno for node in (*classes.values(), *functions))
    # The docstring of the parts describes the parts, not the module.
    blocks = [HEAD, *lines[tree.body[0].end_lineno or 0 : first - 1]]
    for name in [*(name for name in classes if name not in types), *types]:
        body = list(members(name, types.get(name, []), classes.get(name)))
        known = {member for member, _ in types.get(name, [])}
        for part in ANSWERED.get(name, ()):
            for member, hint in types[part]:
                if member not in known:
                    body += attribute(member, hint, getattr(getattr(_pourline, part), member))
                    known.add(member)
        about = documented(getattr(_pourline, name), "    ")
        blocks += ["@final", f"class {name}:", *about, "", *body, ""]
    for node in functions:
        blocks += written(node, getattr(_pourline, node.name), "")
    return formatted("\n".join(blocks))


def members(name: str, types: list[tuple[str, str]], part: ast.ClassDef | None) -> Iterator[str]:
    """Return the lines of a class: its constructor, properties and methods."""
    real = getattr(_pourline, name)
    nodes = part.body if part else []
    yield from (line for node in nodes if is_new(node) for line in written(node, None, "    "))
    for member, hint in types:
        yield from attribute(member, hint, getattr(real, member))
    for node in nodes:
        if isinstance(node, ast.AnnAssign):
            member = ast.unparse(node.target)
            yield from attribute(member, ast.unparse(node.annotation), getattr(real, member))
        elif not is_new(node):
            yield from written(node, getattr(real, getattr(node, "name", ""), None), "    ")
    declared = {node.name for node in nodes if isinstance(node, ast.FunctionDef)}
    for member in [name for name in USUAL if name in vars(real).keys() - declared]:
        yield from written(ast.parse(USUAL[member]).body[0], getattr(real, member), "    ")


def is_new(node: ast.stmt) -> bool:
    """Return whether a node is `__new__`."""
    return isinstance(node, ast.FunctionDef) and node.name == "__new__"


def attribute(name: str, hint: str, real: object) -> list[str]:
    """Return a property with its docstring in the module."""
    return ["    @property", f"    def {name}(self) -> {hint}:", *documented(real, "        ")]


def written(node: ast.stmt, real: object, indent: str) -> list[str]:
    """Return a function as its part declares it; its docstring is that of the module, unless the part has one."""
    if isinstance(node, ast.FunctionDef) and not ast.get_docstring(node) and not node.name.startswith("_"):
        node.body = [ast.parse(line.strip()).body[0] for line in documented(real, "")]
    return [indent + line for line in ast.unparse(node).splitlines()]


def documented(real: object, indent: str) -> list[str]:
    """Return the first line of an object's docs as a docstring."""
    first = (real.__doc__ or "").strip().split("\n")[0]
    return [f'{indent}"""{first}"""'] if first else [f"{indent}..."]


def formatted(text: str) -> str:
    """Return the text as formatted by ruff."""
    command = [sys.executable, "-m", "ruff", "format", "--quiet", "--stdin-filename", str(STUB), "-"]
    done = subprocess.run(command, input=text, capture_output=True, check=True, encoding="utf-8")
    return done.stdout


if __name__ == "__main__":
    STUB.write_text(stub(), encoding="utf-8")
