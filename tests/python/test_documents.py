"""The code of README.md and the guide runs, and their sentences are short.

In: the markdown files. Checked: every ```python block (those of one file in order, in one namespace; `>>>` as
doctests), every `pourline` line of every ```sh block, every link to a file, every picture, that every `make x` is a
target, and the length of sentences and lines.
"""

from __future__ import annotations

import doctest
import importlib.util
import re
import shlex
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import pourline

ROOT = Path(__file__).parents[2]
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
NAMES = [str(path.relative_to(ROOT)) for path in DOCUMENTS]
PICTURE = re.compile(r"!\[[^\]]*\]\((?:docs/)?(pictures/(\w+\.png))\)")
BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def script(name: str) -> ModuleType:
    """Return a script of .ci as a module; the test is skipped if the folder is missing."""
    path = ROOT / ".ci" / f"{name}.py"
    if not path.exists():
        pytest.skip("only the documents are here")
    found = importlib.util.spec_from_file_location(f"ci_{name}", path)
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def run_python(code: str, names: dict[str, object], where: str) -> None:
    if ">>>" in code:
        test = doctest.DocTestParser().get_doctest(code, names, where, where, 0)
        runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE)
        report: list[str] = []
        runner.run(test, out=report.append, clear_globs=False)
        names.update(test.globs)
        assert not runner.failures, "".join(report)
    else:
        exec(compile(code, where, "exec"), names)


def run_shell(code: str) -> None:
    for line in code.splitlines():
        command, _, comment = line.partition("#")
        if command.startswith("pourline "):
            done = subprocess.run(
                [sys.executable, "-m", *shlex.split(command)], capture_output=True, text=True, check=False
            )
            expected = int(found[1]) if (found := re.search(r"exit code (\d)", comment)) else 0
            assert done.returncode == expected, f"{line}\n{done.stdout}{done.stderr}"


@pytest.mark.slow
@pytest.mark.parametrize("path", DOCUMENTS, ids=NAMES)
def test_every_block_of_code_runs(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    # README.md reads a brew of this folder.
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    names: dict[str, object] = {}
    text = path.read_text(encoding="utf-8")
    for language, code in BLOCK.findall(text):
        if language == "python":
            run_python(code, names, path.name)
        elif language == "sh":
            run_shell(code)
    # A picture is what the page's own code draws: docs/pictures/make.py takes it from there.
    for picture, name in PICTURE.findall(text):
        assert (tmp_path / name).exists(), f"no code of {path.name} saves {name}"
        assert 1_000 < (ROOT / "docs" / picture).stat().st_size < 100_000


def test_every_picture_is_shown_by_a_page() -> None:
    shown = {picture for path in DOCUMENTS for picture, _ in PICTURE.findall(path.read_text(encoding="utf-8"))}
    assert {f"pictures/{path.name}" for path in (ROOT / "docs" / "pictures").glob("*.png")} == shown


def test_what_is_written_into_the_readme_is_fresh() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert readme == script("readme").filled(readme), "run python .ci/readme.py"
    assert len(readme.splitlines()) <= 130


def test_sentences_and_lines_are_short() -> None:
    measure = script("sentences")
    assert measure.sentences("# No\n\nOne. `a. b` is two\nof them.\n- three\n\n| no | no |\n```sh\nno. no.\n```\n") == [
        "One.",
        "Code is two\nof them.",
        "three",
    ]
    assert measure.long_lines("a\n" + "b" * 121 + "\n```\n" + "c" * 200 + "\n```\n") == [2]
    for path in measure.pages():
        text = path.read_text(encoding="utf-8")
        assert measure.mean_words(text) <= measure.MOST_WORDS, path
        assert measure.long_lines(text) == [], path


@pytest.mark.parametrize("path", DOCUMENTS, ids=NAMES)
def test_every_link_to_a_file_leads_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", path.read_text(encoding="utf-8")):
        assert target.startswith("http") or (path.parent / target).exists(), target


@pytest.mark.parametrize("path", DOCUMENTS, ids=NAMES)
def test_every_make_target_that_is_named_exists(path: Path) -> None:
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    named = set(re.findall(r"(?:^|`)make ([a-z-]+)", path.read_text(encoding="utf-8"), re.MULTILINE))
    assert named <= targets, named - targets


@pytest.mark.parametrize("stage", ["condition", "segment", "metrics", "agitation", "bed", "extraction"])
def test_the_guide_lists_every_option_with_its_default(stage: str) -> None:
    guide = "".join(path.read_text(encoding="utf-8") for path in DOCUMENTS)
    (table,) = re.findall(rf"^\| option of `{stage}` .*\n\|[-|]+\n((?:\|.*\n)+)", guide, re.MULTILINE)
    told = dict(re.findall(r"^\| `(\w+)` \| (\S+) \|", table, re.MULTILINE))
    words = {None: "none", True: "true", False: "false"}
    stages: dict[str, Any] = {**pourline.Options().to_dict()}
    options = stages[stage].items()
    assert told == {
        name: str(round(default, 4))
        if isinstance(default, float)
        else words.get(None if default == [] else default, str(default))
        for name, default in options
    }


def test_the_guide_lists_every_flag_and_every_kind_of_event() -> None:
    guide = (ROOT / "docs" / "conditioning.md").read_text(encoding="utf-8")
    source = (ROOT / "src" / "condition" / "trace.rs").read_text(encoding="utf-8")
    for name in ("Flag", "EventKind"):
        (body,) = re.findall(rf"pub enum {name} \{{(.*?)^\}}", source, re.MULTILINE | re.DOTALL)
        for variant in re.findall(r"^    ([A-Z]\w+),", body, re.MULTILINE):
            assert f"`{variant.lower()}`" in guide, variant


def test_the_first_page_lists_every_extra() -> None:
    page = (ROOT / "docs" / "get_going.md").read_text(encoding="utf-8")
    (table,) = re.findall(r"^\| extra .*\n\|[-|]+\n((?:\|.*\n)+)", page, re.MULTILINE)
    listed = {name for row in table.splitlines() for name in re.findall(r"`(\w+)`", row.split("|")[1])}
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    (part,) = re.findall(r"^\[project.optional-dependencies\]\n(.*?)\n\n", text, re.MULTILINE | re.DOTALL)
    extras = set(re.findall(r"^(\w+) = ", part, re.MULTILINE))
    assert listed == extras - {"all", "docs", "browser", "dev"}
    (of_all,) = re.findall(r'^all = \["pourline\[(.*)\]"\]', part, re.MULTILINE)
    assert set(of_all.split(",")) == listed - {"engines", "sklearn"}


def test_every_term_of_the_glossary_stands_once_with_its_definition_and_a_reference() -> None:
    page = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    tables = re.findall(r"^\| term .*\n\|[-|]+\n((?:\|.*\n)+)", page, re.MULTILINE)
    terms: list[str] = []
    for table in tables:
        rows = [[cell.strip() for cell in row.split("|")[1:-1]] for row in table.splitlines()]
        assert all(len(row) == 3 and all(row) for row in rows)
        assert [row[0].lower() for row in rows] == sorted(row[0].lower() for row in rows)
        terms += [row[0] for row in rows]
    assert len(set(terms)) == len(terms) > 50


def test_the_laws_of_imports_are_told_as_the_tests_hold_them() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    ((rust, python),) = re.findall(r"^Rust: (.*?)^Python: (.*?)^```$", text, re.MULTILINE | re.DOTALL)
    told = [[set(re.findall(r"\w+", rooms)) for rooms in law.split("> ")][::-1] for law in (rust, python)]
    (held,) = re.findall(
        r"^const LAW: .*?\[$(.*?)^\];", (ROOT / "tests" / "house.rs").read_text(encoding="utf-8"), re.M | re.S
    )
    assert told[0] == [set(re.findall(r"\w+", rooms)) for rooms in held.strip().splitlines()]
    (held,) = re.findall(
        r"^LAW = \($(.*?)^\)", (ROOT / "tests" / "python" / "test_house.py").read_text(encoding="utf-8"), re.M | re.S
    )
    # The compiled core and escapes below, `python -m pourline` above are no rooms.
    assert told[1] == [set(re.findall(r"\w+", rooms)) for rooms in held.strip().splitlines()][1:-1]
