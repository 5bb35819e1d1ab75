"""Names in logs are anybody's: no page, card or drawing lets one through as markup; and the package runs, loads and
fetches nothing.

What a document may hold is that of Extensible Markup Language 1.0, 5th ed., production 2 (Char), held by the parser
of the standard library (expat), and of HTML, held by its tokenizer (html.parser).
"""

from __future__ import annotations

import ast
import base64
import functools
import hashlib
import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import pourline
from pourline import _pourline
from pourline._figures import svg, svg_comparison
from pourline._figures.pointing import policy, script
from pourline._pages.report import page
from pourline.tables import Table

PACKAGE = Path(pourline.__file__).parent
HOSTILE = {
    "script": "<script>alert(1)</script>",
    "attribute": "\" onload=alert(1) x='",
    "cdata": "]]><b>&amp;&#60;i&#62;",
    "ampersand": "&lt;script&gt; & &copy",
    "comment": "--><!-- <svg/onload=alert(1)>",
    "bidi": "ada\u202elmth.exe\u2066\u200f",
    "control": "a\x00b\x07c\x1b[31md\x7fe\x9bf",
    "newline": "first\r\nsecond\u2028third",
    "closing": "</title></style></text></svg></td><img src=x onerror=alert(1)>",
}
NO_PAGE_MAY_HOLD = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\u2028\u2029\ufffe\uffff]")


class Seen(HTMLParser):
    """The tags and the attributes of a document; and whether every tag that opens closes."""

    void = frozenset({"meta", "br", "hr"})

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.open: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_startendtag(tag, attrs)
        if tag not in self.void:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.texts += [value for _, value in attrs if value]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        raise AssertionError(data)

    def unknown_decl(self, data: str) -> None:
        raise AssertionError(data)


def seen(text: str) -> Seen:
    found = Seen()
    # The one script of the package, to the last sign.
    found.feed(text.replace(script(), ""))
    found.close()
    assert not found.open
    return found


def log_of(word: str, seed: int, **texts: str) -> pourline.Log:
    log, _ = pourline.simulate("usual", seed=seed)
    words: dict[str, Any] = dict.fromkeys(
        ("name", "coffee", "roast", "grinder", "kettle", "person", "device", "note"), word
    )
    words |= texts
    return pourline.Log(log.time_s, log.water_g, log.beverage_g, dose_g=15, tds_pct=1.4, factors={word: word}, **words)


@functools.cache
def everything(word: str) -> dict[str, str]:
    """Return every card, page and drawing of results that contain the word wherever they show a text."""
    logs = [log_of(word, k, name=f"{word} {k}", kettle=(word, word + " wide")[k % 2]) for k in range(6)]
    brews = [pourline.analyze(log) for log in logs]
    labels = pourline.Labels([(p.start_s.value, p.end_s.value) for p in brews[0].pours], by=word, note=word)
    by_hand = pourline.analyze(logs[0], labels=labels)
    comparison = pourline.compare(brews, "mean_flow_g_per_s", by="kettle")
    failed = pourline.PourlineError(f"{word}, row 3: {word}", "parse", 3, word)
    followed = pourline.Plan(word, [pourline.PlannedPour(0, 50, 6), pourline.PlannedPour(200, 90)]).follow(brews[0])
    cards: dict[str, Any] = {
        "Log": logs[0],
        "Brew": brews[0],
        "Brew by hand": by_hand,
        "Comparison": comparison,
        "PlanResult": followed,
        "Pour": brews[0][0],
        "Extraction": brews[0].extraction,
        "Study": pourline.gather(brews),
        "Profile": pourline.profile(brews),
        "Table": Table({word: [word, "b"], "mass_g": [1.0, 2.0]}),
        "Table of a brew": brews[0].table(),
        "Description": pourline.Description(*[word] * len(pourline.Description._fields)),
    }
    made = {name: one._repr_html_() for name, one in cards.items()}
    made["view"] = pourline.view(logs[0], labels)._repr_mimebundle_()[0]["text/html"]
    made["page of brews"] = page([*brews, failed, by_hand], word, [*logs, failed, logs[0]])
    made["page of a brew"] = page(by_hand, None, logs[0])
    made["page of a comparison"] = page(comparison, None, logs)
    made["drawing of a log"] = svg.log_figure(logs[0])
    made["drawing of a brew"] = svg.brew_figure(by_hand)
    made["drawing of a comparison"] = svg_comparison.comparison_figure(comparison)
    return made


@pytest.fixture(scope="module")
def harmless() -> dict[str, Seen]:
    return {name: seen(text) for name, text in everything("a plain name as long as the others are").items()}


@pytest.mark.slow
@pytest.mark.parametrize("kind", HOSTILE)
def test_no_text_of_a_log_becomes_markup(kind: str, harmless: dict[str, Seen]) -> None:
    for name, text in everything(HOSTILE[kind]).items():
        found, plain = seen(text), harmless[name]
        # The tags and attributes of the same thing with a plain name are all that there are.
        assert found.tags <= plain.tags, name
        assert found.attributes <= plain.attributes, name
        assert found.tags.isdisjoint(
            {"script", "img", "iframe", "object", "embed", "link", "base", "form", "b", "i"}
        ), name
        assert not any(attribute.startswith("on") for attribute in found.attributes), name
        assert NO_PAGE_MAY_HOLD.search(text) is None, name
        text.encode()
        for drawing in re.findall(r"<svg.*?</svg>", text, re.DOTALL):
            ET.fromstring(drawing)
    # The text is not lost: its permitted characters remain.
    if kind in {"script", "ampersand"}:
        for name in ("Log", "Brew", "Table", "Description", "page of brews", "drawing of a comparison"):
            texts = seen(everything(HOSTILE[kind])[name]).texts
            assert any(HOSTILE[kind] in one for one in texts), name


# What is markup to one reader is not to another: all that a page could take for markup in one name, what is no letter
# in another, and two formulas.
NAMES = {
    "markup": "".join(HOSTILE[kind] for kind in ("script", "attribute", "cdata", "ampersand", "comment", "closing")),
    "no letters": "".join(HOSTILE[kind] for kind in ("bidi", "control", "newline")),
    "formula": "a $\\frac{$ b",
    "power": "$x^$",
}


@pytest.mark.slow
@pytest.mark.parametrize("word", NAMES.values(), ids=NAMES)
@pytest.mark.filterwarnings("ignore:Glyph:UserWarning", "ignore:constrained_layout not applied:UserWarning")
def test_figures_draw_any_name_as_it_is_written(word: str) -> None:
    import matplotlib as mpl

    mpl.use("agg")
    logs = [log_of(word, k, name=f"{word} {k}", kettle=(word, word + " wide")[k % 2]) for k in range(6)]
    brews = [pourline.analyze(log) for log in logs]
    plan = pourline.Plan(word, [pourline.PlannedPour(0, 50, 6)])
    flows = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6]
    people, kettles = [word, word, word, word, "b", "b", "b", "b"], [word, word, "wide", "wide"] * 2
    figures: list[Any] = [
        pourline.plot(brews[0])["weight"],
        pourline.plot_chart(brews, by="kettle"),
        pourline.plot_overlay(brews),
        pourline.plot_profile({word: pourline.profile(brews)}),
        pourline.plot_mean_beverage(pourline.mean_beverage(brews)),
        pourline.plot_comparison(pourline.compare(brews, "mean_flow_g_per_s", by="kettle"))[0],
        pourline.plot_plan(plan, brews[0])[0],
        pourline.plot_crossed(pourline.crossed(flows, rows=people, columns=kettles), label=word),
    ]
    for ax in figures:
        drawn = io.BytesIO()
        ax.figure.savefig(drawn, format="svg")
        assert not {"script", "img", "b", "i"} & {
            one.tag.rpartition("}")[2] for one in ET.fromstring(drawn.getvalue()).iter()
        }


def test_every_public_result_with_a_card_is_tried() -> None:
    with_card = {
        name
        for name in {*pourline.__all__, *vars(_pourline)}
        if hasattr(getattr(pourline, name, getattr(_pourline, name, None)), "_repr_html_")
    }
    assert with_card <= set(everything(HOSTILE["script"])), with_card
    # And no card is written without the one function that escapes.
    for path in PACKAGE.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert path.name == "_escape.py" or not re.search(r"(?:from|import) html\b", text), path.name
        if re.search(r"f['\"]+<\w", text):
            assert re.search(r"from \.+_escape import escape", text) or path.name in WITHOUT_TEXT, path.name


# They write numbers alone, and the script of the package.
WITHOUT_TEXT = {"progress.py", "pointing.py"}


def test_the_scripts_of_the_view_set_text_and_never_markup() -> None:
    scripts = sorted(PACKAGE.rglob("*.js"))
    assert scripts
    for path in scripts:
        text = path.read_text(encoding="utf-8")
        words = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|\bfetch\(|XMLHttpRequest|WebSocket|import\("
        assert re.search(words, text) is None, path.name


def test_a_page_may_run_its_own_script_alone(brew: pourline.Brew) -> None:
    # Content Security Policy Level 3, 6.7.3.3: the digest of the text between the tags, SHA-256 in base 64.
    text = script().removeprefix("<script>").removesuffix("</script>")
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'" in policy()
    assert "</" not in text
    made = page(brew)
    assert made.count("<script") == made.count(script()) == 1
    assert made.index(policy()) < made.index("<title")


FORBIDDEN_MODULES = {
    *("pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib"),
    *("socket", "ssl", "urllib", "requests", "http", "httpx", "aiohttp", "ftplib", "smtplib", "xmlrpc", "webbrowser"),
    *("subprocess", "ctypes", "code", "pty"),
}
FORBIDDEN_CALLS = {"eval", "exec", "compile", "__import__", "os.system", "os.popen", "os.startfile"}
FORBIDDEN_STARTS = ("os.exec", "os.spawn", "os.posix_spawn", "np.load", "numpy.load")
# `import_module` of literal names: the reader of Parquet that is installed, and the modules of the
# package itself.
MAY_IMPORT_BY_NAME = {"arrow.py", "__init__.py"}


def broken(name: str, code: str) -> list[str]:
    """Return what a file does that none may do."""
    found = []
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else [one.name for one in node.names]
            inner = isinstance(node, ast.ImportFrom) and node.level > 0
            found += [f"{name} imports {one}" for one in names if not inner and one.split(".")[0] in FORBIDDEN_MODULES]
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            by_name = called.endswith("import_module") and name not in MAY_IMPORT_BY_NAME
            if (
                called in FORBIDDEN_CALLS
                or called.startswith(FORBIDDEN_STARTS)
                or called.endswith(".read_pickle")
                or by_name
            ):
                found.append(f"{name} calls {called}")
            found += [
                f"{name}: {called} with {key.arg}"
                for key in node.keywords
                if key.arg in {"shell", "allow_pickle"} and not called.endswith(".format")
            ]
    return found


def test_the_package_runs_no_text_as_code_starts_nothing_and_fetches_nothing() -> None:
    files = sorted(PACKAGE.rglob("*.py"))
    assert len(files) > 40
    assert [line for path in files for line in broken(path.name, path.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize(
    "code",
    [
        "import pickle",
        "from urllib.request import urlopen",
        "import http.client as c",
        "eval('1')",
        "exec(text)",
        "import os\nos.system('x')",
        "run(x, shell=True)",
        "np.load(path, allow_pickle=True)",
        "importlib.import_module(name)",
    ],
)
def test_the_rule_finds_what_breaks_it(code: str) -> None:
    assert broken("x.py", code)


def test_importing_and_analysing_opens_no_connection(monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("a connection was asked for")

    asked: list[Callable[..., None]] = [refuse]
    monkeypatch.setattr(socket.socket, "connect", asked[0])
    log, _ = pourline.simulate("usual", seed=3)
    assert page(pourline.analyze(log), None, log)
