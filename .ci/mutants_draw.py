"""In: the core's sources. Out: every change that a mutant could be, and sources in which those drawn stand behind a
switch.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import tree_sitter_rust
from tree_sitter import Language, Node, Parser

PARSER = Parser(Language(tree_sitter_rust.language()))

SWAPPED = {
    "+": "-",
    "-": "+",
    "*": "/",
    "/": "*",
    "&&": "||",
    "||": "&&",
    "+=": "-=",
    "-=": "+=",
    "*=": "/=",
    "/=": "*=",
}
COMPARED = {"<", "<=", ">", ">="}
METHODS = {
    "max": "min",
    "min": "max",
    "floor": "ceil",
    "ceil": "floor",
    "first": "last",
    "last": "first",
    "any": "all",
    "all": "any",
}
# A call of one of these is replaced by its receiver or its first argument.
DROPPED = {"sqrt", "abs", "hypot", "clamp", "recip", "exp", "ln", "midpoint", "powi", "max", "min"}
# These nodes compute no value at run time.
SKIPPED = {
    "attribute_item",
    "inner_attribute_item",
    "static_item",
    "macro_invocation",
    "macro_definition",
    "match_pattern",
    "parameters",
    "type_arguments",
    "array_type",
    "use_declaration",
    "line_comment",
    "block_comment",
    "string_literal",
}
SD = re.compile(
    r"(^|[^a-z])(sds?|se|variances?|vars?|covs?|covariances?|sigmas?|errors?2?|noise|uncertain\w*|unseen)([^a-z]|$)"
)


@dataclass
class Mutant:
    """A change of one place: its identity moves with the text and not with the file's folder."""

    path: str
    function: str
    line: int
    start: int
    end: int
    before: str
    after: str
    code: str
    kind: str
    group: str
    nth: int = 0
    id: int = -1
    sites: list[tuple[int, int]] = field(default_factory=list)

    @property
    def key(self) -> str:
        """Its key in the list of equivalents."""
        nth = f" #{self.nth}" if self.nth else ""
        return f"{Path(self.path).name} {self.function}: `{self.before}` -> `{self.after}`{nth}"

    def rank(self, seed: int) -> str:
        """Its rank in the draw of a seed."""
        return hashlib.sha256(f"{seed} {self.key}".encode()).hexdigest()

    @property
    def folder(self) -> str:
        """The folder below src, or the file if it is in no folder."""
        inside = Path(self.path).relative_to("src")
        return str(inside.parent) if len(inside.parts) > 1 else inside.name


def text_of(node: Node) -> str:
    """The source of a node."""
    assert node.text is not None
    return node.text.decode()


def flat(text: str) -> str:
    """A text in one line."""
    return re.sub(r"\s+", " ", text)


def is_test(attributes: list[str]) -> bool:
    """Whether the item with these attributes is excluded from the core's build."""
    return any(re.search(r"cfg\((test|doctest|feature)|#\[test\]", text) for text in attributes)


def files(root: Path, left_out: list[str]) -> list[Path]:
    """The core's files without excluded folders and files of tests."""
    found = []
    tests = set()
    for path in sorted((root / "src").rglob("*.rs")):
        for match in re.finditer(r"#\[cfg\(test\)\]\s*(?:pub(?:\([a-z]+\))? )?mod (\w+);", path.read_text()):
            home = path.parent if path.stem in ("mod", "lib") else path.with_suffix("")
            tests |= {home / f"{match[1]}.rs", home / match[1] / "mod.rs"}
    for path in sorted((root / "src").rglob("*.rs")):
        inside = path.relative_to(root / "src")
        folders = [str(parent) for parent in inside.parents]
        if path not in tests and not {*left_out, "bindings"} & {*folders}:
            found.append(path)
    return found


def possible(root: Path) -> list[Mutant]:
    """Every mutant of the core; mutants with the same key are numbered."""
    found = [mutant for path in files(root, []) for mutant in Reader(root, path).found]
    seen: Counter[str] = Counter()
    for mutant in found:
        key = mutant.key
        mutant.nth = seen[key]
        seen[key] += 1
    return found


class Reader:
    """All mutants of one file."""

    def __init__(self, root: Path, path: Path) -> None:
        """Reads the file."""
        self.source = path.read_bytes()
        self.path = str(path.relative_to(root))
        self.found: list[Mutant] = []
        tree = PARSER.parse(self.source).root_node
        self.consts = {
            text_of(name): flat(text_of(value))
            for item in tree.children
            if item.type == "const_item" and (name := item.child_by_field_name("name"))
            and (value := item.child_by_field_name("value"))
            and re.fullmatch(r"(f64|usize|[iu](32|64))", text_of(item.child_by_field_name("type") or item))
        }  # fmt: skip
        self.uses: dict[str, list[Node]] = {}
        self.walk(tree, "")
        self.of_consts()

    def walk(self, node: Node, function: str) -> None:
        """Visits the nodes that are built and run."""
        attributes: list[str] = []
        for child in node.children:
            if child.type == "attribute_item":
                attributes.append(text_of(child))
                continue
            if child.type in ("line_comment", "block_comment"):
                continue
            is_built = not is_test(attributes)
            attributes = []
            if not is_built or child.type in SKIPPED or child.type == "const_item":
                continue
            inside = function
            if child.type == "function_item":
                modifiers = [text_of(part) for part in child.children if part.type == "function_modifiers"]
                if any("const" in text.split() for text in modifiers):
                    continue
                inside = text_of(child.child_by_field_name("name") or child)
            if inside:
                self.mutate(child, inside)
            self.walk(child, inside)

    def mutate(self, node: Node, function: str) -> None:
        """Replacements of this node."""
        kind = node.type
        if kind in ("binary_expression", "compound_assignment_expr"):
            self.of_operation(node, function)
        elif kind == "float_literal":
            self.of_number(node, function, float(re.sub(r"_|f64", "", text_of(node))), ".0")
        elif kind == "integer_literal":
            plain = re.fullmatch(r"([0-9_]+)([iu](?:8|16|32|64|size))?", text_of(node))
            if plain and (node.parent is None or node.parent.type != "field_expression"):
                self.of_number(node, function, int(plain[1].replace("_", "")), plain[2] or "")
        elif kind == "unary_expression" and text_of(node).startswith("-"):
            inner = node.named_children[-1]
            if inner.type not in ("float_literal", "integer_literal"):
                self.add(node, function, text_of(inner), "sign")
        elif kind in ("if_expression", "while_expression"):
            condition = node.child_by_field_name("condition")
            if condition and condition.type not in ("let_condition", "let_chain"):
                self.add(condition, function, f"!({text_of(condition)})", "condition")
        elif kind == "call_expression":
            self.of_call(node, function)
        elif kind == "identifier" and text_of(node) in self.consts:
            self.uses.setdefault(text_of(node), []).append(node)

    def of_operation(self, node: Node, function: str) -> None:
        """Operators swapped, terms dropped, comparisons off."""
        left, operator, right = (node.child_by_field_name(name) for name in ("left", "operator", "right"))
        if not (left and operator and right) or "let_condition" in {left.type, right.type}:
            return
        a, op, b = text_of(left), text_of(operator), text_of(right)
        if op in COMPARED:
            fixed = re.compile(r"-?[0-9][0-9_.]*|[A-Z][A-Z0-9_]*")
            of_left = bool(fixed.fullmatch(a)) and not fixed.fullmatch(b)
            code = f'crate::mutant::off({a}, "{op}", {b}, {str(of_left).lower()})'
            self.add(node, function, f"{a} {op}' {b}", "comparison", code)
        elif op in SWAPPED:
            logic = op in ("&&", "||")
            self.add(node, function, f"{a} {SWAPPED[op]} {b}", "logic" if logic else "operator")
            if node.type == "binary_expression":
                self.add(node, function, a, "logic" if logic else "term")
        elif op in ("==", "!="):
            self.add(node, function, f"{a} {'!=' if op == '==' else '=='} {b}", "logic")

    def of_number(self, node: Node, function: str, value: float, suffix: str) -> None:
        """A constant doubled, incremented, or set to 0."""
        if node.parent and node.parent.type == "array_expression" and node.parent.child_by_field_name("length") == node:
            return
        for other in dict.fromkeys([value * 2, value + 1, 0]):
            if other != value:
                text = repr(float(other)) if suffix == ".0" else f"{other}{suffix}"
                self.add(node, function, text, "constant")

    def of_call(self, node: Node, function: str) -> None:
        """One method replaced by another, or removed."""
        called, arguments = node.child_by_field_name("function"), node.child_by_field_name("arguments")
        if not (called and arguments):
            return
        if called.type == "field_expression":
            value, name = called.child_by_field_name("value"), called.child_by_field_name("field")
        elif called.type == "scoped_identifier" and arguments.named_children:
            value, name = arguments.named_children[0], called.child_by_field_name("name")
        else:
            return
        if not (value and name):
            return
        method = text_of(name)
        start = name.start_byte - node.start_byte
        if method in METHODS:
            text = node.text or b""
            self.add(
                node,
                function,
                (text[:start] + METHODS[method].encode() + text[start + len(method) :]).decode(),
                "method",
            )
        if method in DROPPED and not (method in ("max", "min") and not arguments.named_children):
            self.add(node, function, text_of(value), "method")

    def of_consts(self) -> None:
        """A constant of the file, doubled, moved by a quarter, or set to 0, at all its uses at once."""
        for name, nodes in self.uses.items():
            places = [
                node for node in nodes if node.parent and node.parent.type not in ("scoped_identifier", "const_item")
            ]
            spans = [(node.start_byte, node.end_byte) for node in places]
            value = self.consts[name]
            whole = re.fullmatch(r"[0-9_]+", value)
            changes = (["* 2", "+ 1"] if whole else ["* 2.0", "* 1.25"]) if places else []
            for change in changes:
                first = places[0]
                mutant = self.add(first, "const", f"{name} {change}", "constant", f"({name} {change})")
                mutant.sites, mutant.before = spans, f"{name} = {value}"
                mutant.group = group_of(first, "const", name)

    def add(self, node: Node, function: str, after: str, kind: str, code: str | None = None) -> Mutant:
        """Records one mutant."""
        before, after = flat(text_of(node)), flat(after)
        line = node.start_point[0] + 1
        group = group_of(node, function, before, kind)
        span = (node.start_byte, node.end_byte)
        code = code or after
        mutant = Mutant(self.path, function, line, *span, before, after, code, kind, group, sites=[span])
        self.found.append(mutant)
        return mutant


def group_of(node: Node, function: str, before: str, kind: str = "") -> str:
    """Whether a limit, a term of an sd or a formula is changed, judged by position and by names."""
    around = node
    statement = (
        "let_declaration",
        "expression_statement",
        "field_initializer",
        "assignment_expression",
        "function_item",
        "closure_expression",
    )
    limit = kind in ("comparison", "condition", "logic")
    while around.parent and around.type not in statement:
        around = around.parent
        if around.type == "binary_expression":
            operator = around.child_by_field_name("operator")
            limit |= operator is not None and text_of(operator) in COMPARED
    if limit:
        return "limit"
    named = text_of(around) if around.type != "function_item" else before
    return "sd" if SD.search(re.sub(r"_", " ", f"{function} {named}".lower())) else "formula"


def written(source: bytes, mutants: list[Mutant]) -> tuple[bytes, list[tuple[int, int, int]]]:
    """A source with switches, and the bytes of each mutant."""
    places: dict[tuple[int, int], list[Mutant]] = {}
    for mutant in mutants:
        for span in mutant.sites:
            places.setdefault(span, []).append(mutant)
    spans: list[tuple[int, int, int]] = []
    out = bytearray()

    def copy(start: int, end: int, inner: list[tuple[int, int]]) -> None:
        """Writes a part of the source, with its switches."""
        at = start
        while inner:
            span = inner.pop(0)
            within = [one for one in inner if one[1] <= span[1]]
            del inner[: len(within)]
            out.extend(source[at : span[0]])
            begin = len(out)
            here = places[span]
            for mutant in here:
                out.extend(f"(if crate::mutant::on({mutant.id}) {{ {mutant.code} }} else {{ ".encode())
                spans.append((begin, len(out), mutant.id))
                begin = len(out)
            copy(*span, within)
            out.extend(b" })" * len(here))
            at = span[1]
        out.extend(source[at:end])

    copy(0, len(source), sorted(places, key=lambda span: (span[0], -span[1])))
    return bytes(out), spans
