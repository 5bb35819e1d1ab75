"""The reference of the guide has every public name once, its front page every page, and no page may load from
elsewhere.

The pages themselves are built by `make guide`, where a warning is an error.
"""

from __future__ import annotations

import importlib.util
import inspect
import re
from collections import Counter
from pathlib import Path
from types import ModuleType

import pytest

import pourline
from pourline import on_dask, on_sklearn, on_spark

GUIDE = Path(__file__).parents[2] / "docs"
MODULES = (pourline, pourline.balance, pourline.datasets, pourline.water, on_dask, on_spark, on_sklearn)


@pytest.fixture(scope="module")
def conf() -> ModuleType:
    found = importlib.util.spec_from_file_location("guide_conf", GUIDE / "conf.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    found.loader.exec_module(module)
    return module


def test_the_reference_has_every_public_name_once() -> None:
    text = "".join(path.read_text(encoding="utf-8") for path in (GUIDE / "reference").glob("*.rst"))
    told = Counter(re.findall(r"^\.\. auto\w+:: (\S+)$", text, re.MULTILINE))
    public = {f"{module.__name__}.{name}" for module in MODULES for name in module.__all__}
    public = {"pourline." + name.removeprefix("pourline.") for name in public}
    assert told == Counter(public)


def test_the_front_page_and_that_of_quality_lead_to_every_page(conf: ModuleType) -> None:
    front, quality = ((GUIDE / name).read_text(encoding="utf-8") for name in ("README.md", "quality.md"))
    linked = set(re.findall(r"^- \[[^\]]+\]\(([^)]+)\)", front, re.MULTILINE))
    measured = set(re.findall(r"\]\((\w+\.md)\b", quality))
    there = {path.name for path in GUIDE.iterdir() if path.suffix in (".md", ".ipynb")}
    assert linked | measured == there - {"README.md", *conf.exclude_patterns} | {"reference/index.rst"}
    # The measured pages are details: the contents name the page above them alone.
    assert not linked & measured


def test_the_contents_have_a_part_for_each_heading(conf: ModuleType) -> None:
    source = [
        "# Front\n\n## Begin\n\n- [One](one.md): first.\n- [Two](two.ipynb).\n\n## Then\n\n- [All](part/index.rst)\n"
    ]
    conf.add_contents(None, "README", source)
    contents = source[0].split("```{toctree}")[1:]
    assert [re.findall(r"^(?!:|`)\S+$", part, re.MULTILINE) for part in contents] == [["one", "two"], ["part/index"]]
    below = ["# Quality\n\n- [One](one.md) and [two](two.md), [one](one.md#again)\n"]
    conf.add_contents(None, "quality", below)
    assert re.findall(r"^\w+$", below[0].split("```{toctree}")[1], re.MULTILINE) == ["one", "two"]


@pytest.mark.parametrize(
    "text",
    [
        '<script src="https://a.example/x.js"></script>',
        '<link rel="stylesheet" href="//a.example/x.css" />',
        "<img alt='x' src='http://a.example/x.png'>",
        "@font-face { src: url(https://a.example/x.woff2) }",
        '@import "https://a.example/x.css";',
    ],
)
def test_what_is_loaded_from_elsewhere_is_found(conf: ModuleType, text: str) -> None:
    (address,) = conf.loaded_from_outside(text)
    assert "//a.example/x." in address


def test_a_link_to_click_and_a_file_beside_are_no_such_thing(conf: ModuleType) -> None:
    text = '<a href="https://a.example/">x</a><img src="x.png"><svg xmlns="http://www.w3.org/2000/svg"></svg>'
    assert conf.loaded_from_outside(text) == []


def test_signatures_name_their_types(conf: ModuleType) -> None:
    def of(what: str, name: str, thing: object) -> tuple[str, str | None] | None:
        found: tuple[str, str | None] | None = conf.write_signature(None, what, name, thing)
        return found

    assert of("function", "pourline.analyze", pourline.analyze) == (
        "(log: Log | str | PathLike[str] | bytes | ArrowStream | Mapping[str, ArrayLike], "
        "options: Options | Mapping[str, Mapping[str, Any]] | None=None, labels: Labels | None=None)",
        "Brew",
    )
    assert of("method", "pourline.Plan.follow", pourline.Plan.follow) == ("(brew: Brew)", "PlanResult")
    assert of("class", "pourline.Brew", pourline.Brew) == ("", None)
    assert of("property", "pourline.Brew.pours", pourline.Brew.pours) is None
    assert of("function", "pourline.report", pourline.report) is None


def test_a_property_is_told_as_it_stands_after_its_type(conf: ModuleType) -> None:
    lines = ["what something else made of it"]
    conf.write_text(
        None,
        "property",
        "pourline.PlannedPourResult.start_deviation_s",
        pourline.PlannedPourResult.start_deviation_s,
        None,
        lines,
    )
    assert lines == [f"`Estimate | Undefined`: {pourline.PlannedPourResult.start_deviation_s.__doc__}", ""]
    plural = ["numbers or `Estimate`s"]
    conf.write_text(None, "class", "pourline.Stream", pourline.Stream, None, plural)
    assert plural == ["numbers or `Estimate`\\ s"]


def test_all_that_is_compiled_is_declared_for_the_reference(conf: ModuleType) -> None:
    functions = [name for name in pourline.__all__ if inspect.isbuiltin(getattr(pourline, name))]
    assert functions
    assert [name for name in functions if conf.declaration(f"pourline.{name}") is None] == []
