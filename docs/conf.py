"""In: docs/ and the installed package. Out: the guide, as pages that load nothing from outside themselves.

`make guide` builds it and takes every warning for an error. Texts of the reference come from the compiled module,
signatures with their types from its stub.
"""

from __future__ import annotations

import ast
import inspect
import re
from pathlib import Path
from types import GetSetDescriptorType
from typing import TYPE_CHECKING, Any

import pourline
from pourline import _pourline

if TYPE_CHECKING:
    from collections.abc import Iterator

project = "pourline"
copyright = "the authors of pourline"
version = release = pourline.__version__
language = "en"
smartquotes = False
root_doc = "README"
# For developers, who read it beside the code.
exclude_patterns = ["design_notes.md"]

extensions = ["myst_nb", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
# What stands between single backticks in a docstring is code.
default_role = "literal"
autodoc_default_options = {"members": True, "undoc-members": True}
python_maximum_signature_line_length = 90
myst_heading_anchors = 3

# A bar of progress leaves a widget behind; its scripts would come from elsewhere, and all there is to see is over.
nb_ipywidgets_js: dict[str, Any] = {}
nb_execution_mode = "force"
nb_execution_raise_on_error = True
nb_execution_in_temp = True
nb_execution_timeout = 120
nb_merge_streams = True

html_theme = "furo"
html_title = "pourline"
html_static_path = ["_static"]
html_css_files = ["guide.css"]
html_copy_source = html_show_sourcelink = False

STUB = ast.parse((Path(_pourline.__file__).parent / "_pourline.pyi").read_text(encoding="utf-8"))
ALIASES = {node.target.id: node.value for node in STUB.body if isinstance(node, ast.AnnAssign) and node.value}
# Typed dicts: their keys are those of `Options` and `Meta`.
ALIASES |= {
    target.id: ast.parse(f"Mapping[str, {'Mapping[str, Any]' if target.id == '_Stages' else 'Any'}]", mode="eval").body
    for node in STUB.body
    if isinstance(node, ast.Assign)
    for target in node.targets
    if isinstance(target, ast.Name) and isinstance(node.value, ast.Call)
}
CLASSES = {node.name: node for node in STUB.body if isinstance(node, ast.ClassDef)}
DECLARED = {node.name: node for node in STUB.body if isinstance(node, ast.FunctionDef)} | {
    f"{name}.{node.name}": node
    for name, of_class in CLASSES.items()
    for node in of_class.body
    if isinstance(node, ast.FunctionDef)
}
LOADS = re.compile(
    r"""<(?:script|link|img|iframe|source|object|embed)\b[^>]*?(?:src|href|data|srcset)\s*=\s*["']?\s*((?:https?:)?//[^\s"'>]+)"""
    r"""|url\(\s*["']?\s*((?:https?:)?//[^\s"')]+)|@import\s+["']((?:https?:)?//[^"']+)""",
    re.IGNORECASE,
)
# Levels of headings, names of the two columns beside the text, code that scrolls.
MENDED = {
    'class="caption" role="heading">': 'class="caption" role="heading" aria-level="2">',
    '<aside class="sidebar-drawer">': '<aside class="sidebar-drawer" aria-label="contents of the guide">',
    '<aside class="toc-drawer">': '<aside class="toc-drawer" aria-label="contents of the page">',
    "<pre>": '<pre tabindex="0">',
}


class Spelt(ast.NodeTransformer):
    """Writes the stub's private aliases out."""

    def visit_Name(self, node: ast.Name) -> ast.expr:
        """Put what an alias stands for in its place."""
        return self.visit(ALIASES[node.id]) if node.id in ALIASES else node

    def visit_Subscript(self, node: ast.Subscript) -> ast.expr:
        """Leave the keys of further keywords to the text."""
        is_unpacked = isinstance(node.value, ast.Name) and node.value.id == "Unpack"
        return ast.Name("Any") if is_unpacked else self.generic_visit(node)  # type: ignore[return-value]


def written(node: ast.AST) -> str:
    """Return a piece of the stub as text."""
    return ast.unparse(Spelt().visit(node))


def declaration(full_name: str) -> ast.FunctionDef | None:
    """Return how the stub declares `pourline.Log.time_s`, `pourline.read` or, for a class, what makes one."""
    *_, owner, name = full_name.split(".")
    return DECLARED.get(f"{owner}.{name}") or DECLARED.get(f"{name}.__new__") or DECLARED.get(name)


def write_signature(app: object, what: str, name: str, thing: object, *_: object) -> tuple[str, str | None] | None:
    """Give what is compiled the signature of the stub; None leaves all else as it is."""
    if what not in ("class", "function", "method") or hasattr(thing, "__code__"):
        return None
    node = declaration(name)
    if node is None:
        return ("", None) if name.rsplit(".", 1)[-1] in CLASSES else None
    arguments = re.sub(r"^(?:self|cls)(?:, )?(?:/(?:, )?)?", "", written(node.args))
    return f"({arguments})", None if node.name == "__new__" or node.returns is None else written(node.returns)


def write_text(app: object, what: str, name: str, thing: object, options: object, lines: list[str]) -> None:
    """Let the text of a property begin with its type, and code in backticks end where a plural's s begins."""
    if isinstance(thing, property | GetSetDescriptorType) and thing.__doc__:
        # As it stands: napoleon takes what is before a colon for a type.
        lines[:] = [*inspect.cleandoc(thing.__doc__).split("\n"), ""]
        node = declaration(name)
        if node is not None and node.returns is not None:
            lines[0] = f"`{written(node.returns)}`: {lines[0]}"
    lines[:] = [re.sub(r"(`\w+`)(?=\w)", r"\1\\ ", line) for line in lines]


def add_contents(app: object, page: str, source: list[str]) -> None:
    """Make the links of the front page the contents of the guide, one part per heading; on the web they stay a list.

    The page of quality has the measured pages below it.
    """
    if page == "quality":
        below = dict.fromkeys(re.findall(r"\]\((\w+)\.md\b", source[0]))
        source[0] += "\n```{toctree}\n:hidden:\n\n" + "\n".join(below) + "\n```\n"
    if page != root_doc:
        return
    for title, part in re.findall(r"^## (.+?)\n(.*?)(?=^## |\Z)", source[0], re.MULTILINE | re.DOTALL):
        pages = re.findall(r"^- \[[^\]]+\]\(([\w/]+)\.(?:md|ipynb|rst)\)", part, re.MULTILINE)
        source[0] += f"\n```{{toctree}}\n:hidden:\n:caption: {title}\n\n" + "\n".join(pages) + "\n```\n"


def loaded_from_outside(text: str) -> list[str]:
    """Return the addresses that a page or a style sheet would load from elsewhere when it is opened."""
    return [next(filter(None, found)) for found in LOADS.findall(text)]


def outside(folder: Path) -> Iterator[str]:
    """Go through the pages and style sheets of a folder; yield each file that loads from elsewhere, with what."""
    for path in sorted(folder.rglob("*")):
        if path.suffix in (".html", ".css", ".svg"):
            yield from (f"{path.name}: {url}" for url in loaded_from_outside(path.read_text(encoding="utf-8")))


def refuse_outside(app: Any, failed: Exception | None) -> None:
    """Let the build fail where a page asks the network for anything."""
    # Here, so that the tests need no sphinx.
    from sphinx.errors import SphinxError

    if failed is None and (found := list(outside(Path(app.outdir)))):
        raise SphinxError("the guide loads from outside itself: " + "; ".join(found))


def mend(app: Any, failed: Exception | None) -> None:
    """Write into the pages what their theme leaves out for readers who hear them, or go by keys."""
    for path in Path(app.outdir).rglob("*.html") if failed is None else ():
        text = path.read_text(encoding="utf-8")
        for found, put in MENDED.items():
            text = text.replace(found, put)
        path.write_text(text, encoding="utf-8")


def setup(app: Any) -> None:
    """Hook them in."""
    app.connect("source-read", add_contents)
    app.connect("autodoc-process-signature", write_signature)
    app.connect("autodoc-process-docstring", write_text)
    app.connect("build-finished", refuse_outside)
    app.connect("build-finished", mend)
