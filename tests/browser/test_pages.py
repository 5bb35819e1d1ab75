"""Reports and the guide as they are handed over: they load nothing, complain of nothing, print on A4, and axe-core finds nothing wrong.

A4 is 210 mm by 297 mm: ISO 216:2007.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

import pourline

GUIDE = Path(__file__).parents[2] / "out" / "guide"
A4_MM = (210, 297)
MM_PER_POINT = 25.4 / 72


@pytest.fixture(scope="module")
def logs() -> list[pourline.Log]:
    return [pourline.datasets.load(name) for name in pourline.datasets.names()[:16]]


@pytest.fixture(scope="module")
def reports(logs: list[pourline.Log], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("reports")
    brews = [one for one in pourline.analyze_many(logs) if isinstance(one, pourline.Brew)]
    kettles = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", blocks="person")
    broken = pourline.PourlineError("no such file", "io")
    labels = pourline.Labels.of(brews[1]).moved(1, end_s=brews[1].pours[0].end_s.value + 0.4)
    by_hand = pourline.analyze(logs[1], labels=labels)
    return {
        "brew": pourline.report(brews[0], folder / "brew.html", logs=logs[0]),
        "by_hand": pourline.report(by_hand, folder / "by_hand.html", logs=logs[1]),
        "brews": pourline.report([*brews[:3], broken], folder / "brews.html"),
        "comparison": pourline.report(kettles, folder / "comparison.html", logs=logs),
    }


@pytest.mark.parametrize("name", ["brew", "by_hand", "brews", "comparison"])
@pytest.mark.parametrize("dark", [False, True])
def test_a_report_opens_and_axe_finds_nothing(
    opened: Callable[..., Page], reports: dict[str, Path], faults: Any, shot: Any, name: str, dark: bool
) -> None:
    page = opened(viewport={"width": 1000, "height": 900}, color_scheme="dark" if dark else "light")
    page.goto(reports[name].as_uri())
    figure = page.locator("svg").first.bounding_box()
    assert figure
    assert min(figure["width"], figure["height"]) > 100
    assert faults(page) == []
    shot(page, f"report_{name}_{'dark' if dark else 'light'}")


@pytest.mark.parametrize(("name", "most"), [("brew", 3), ("by_hand", 3), ("brews", 10), ("comparison", 3)])
def test_a_report_prints_on_a4(
    opened: Callable[..., Page], reports: dict[str, Path], tmp_path: Path, name: str, most: int
) -> None:
    page = opened()
    page.goto(reports[name].as_uri())
    page.pdf(path=tmp_path / "page.pdf", prefer_css_page_size=True, print_background=True)
    pages = PdfReader(tmp_path / "page.pdf").pages
    print(f"{name}: {len(pages)} pages")
    assert 1 <= len(pages) <= most
    for one in pages:
        size = [float(side) * MM_PER_POINT for side in (one.mediabox.width, one.mediabox.height)]
        assert size == pytest.approx(A4_MM, abs=0.5)
        assert one.extract_text().strip()


@pytest.mark.skipif(not (GUIDE / "README.html").exists(), reason="the guide is not built: make guide")
@pytest.mark.parametrize("name", ["README.html", "get_going.html", "labels.html"])
def test_a_page_of_the_guide_opens_and_axe_finds_nothing(
    opened: Callable[..., Page], faults: Any, shot: Any, name: str
) -> None:
    page = opened(viewport={"width": 1200, "height": 900})
    page.goto((GUIDE / name).as_uri())
    assert faults(page) == []
    shot(page, f"guide_{name.removesuffix('.html')}")
