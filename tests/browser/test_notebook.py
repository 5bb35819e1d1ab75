"""The first notebook in JupyterLab, as a reader opens it: it runs, its figure shows, and the view in it is worked by
hand.

The notebook is a copy of docs/first_brew.ipynb with a view at its end; what the view then holds is asked of the
kernel, by a cell.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

import pourline

FIRST = Path(__file__).parents[2] / "docs" / "first_brew.ipynb"
VIEW = "view = pourline.view(log)\nview"
ASK = "import json\nprint(json.dumps([view.labels.pours, view.brew.labelled and view.brew.labelled.by_hand]))"
# JupyterLab by itself asks for news and updates, and makes cells only when they come into sight.
SETTINGS = {"@jupyterlab/notebook-extension:tracker": {"windowingMode": "none"}}
LEFT_OUT = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}
PATIENCE_MS = 120_000


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A separate JupyterLab with all files in a temporary folder; the address of the notebook."""
    folder = tmp_path_factory.mktemp("jupyter")
    cells = json.loads(FIRST.read_text(encoding="utf-8"))
    for place, source in enumerate((VIEW, ASK)):
        cells["cells"].append(
            {
                "cell_type": "code",
                "id": f"v{place}",
                "metadata": {},
                "execution_count": None,
                "outputs": [],
                "source": source,
            }
        )
    (folder / "work").mkdir()
    (folder / "work" / FIRST.name).write_text(json.dumps(cells), encoding="utf-8")
    config = folder / "config" / "labconfig"
    config.mkdir(parents=True)
    (config / "default_setting_overrides.json").write_text(json.dumps(SETTINGS), encoding="utf-8")
    (config / "page_config.json").write_text(json.dumps(LEFT_OUT), encoding="utf-8")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    token = secrets.token_hex(16)
    told = {
        "ip": "127.0.0.1",
        "port": port,
        "port_retries": 0,
        "root_dir": folder / "work",
        "open_browser": False,
        "allow_root": True,
    }
    options = [f"--ServerApp.{name}={value}" for name, value in told.items()]
    homes = {name: str(folder / name) for name in ("JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR")}
    environment = {**os.environ, **homes, "JUPYTER_CONFIG_DIR": str(folder / "config"), "JUPYTER_TOKEN": token}
    command = [sys.executable, "-m", "jupyterlab", *options, "--LabApp.extension_manager=readonly"]
    with (folder / "jupyter.log").open("w") as log:
        server = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
        try:
            address = f"http://127.0.0.1:{port}"
            up(f"{address}/api?token={token}", server, folder / "jupyter.log")
            yield f"{address}/lab/tree/{FIRST.name}?token={token}"
        finally:
            # It ends its kernels and then itself.
            server.terminate()
            server.wait(30)


def up(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + PATIENCE_MS / 1000
    while True:
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return
        except OSError:
            assert server.poll() is None, log.read_text()
            assert time.monotonic() < end, log.read_text()
            time.sleep(0.2)


@pytest.fixture(scope="module")
def lab(notebook: str, opened_once: Callable[..., Page]) -> Page:
    """The notebook, run from top to bottom."""
    # In this order, so that the page is closed before its server ends.
    page = opened_once(viewport={"width": 1400, "height": 1100})
    page.goto(notebook)
    page.set_default_timeout(PATIENCE_MS)
    expect(page.locator(".jp-CodeCell")).to_have_count(8, timeout=PATIENCE_MS)
    # Ready once the kernel is.
    page.get_by_text("| Idle").wait_for(timeout=PATIENCE_MS)
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    prompts = page.locator(".jp-CodeCell .jp-InputPrompt")
    expect(prompts.last).to_have_text("[8]:", timeout=PATIENCE_MS)
    page.locator(".pourline-view circle").first.wait_for()
    return page


def asked(page: Page) -> tuple[list[tuple[float, float]], list[str] | None]:
    """The state of the view in the kernel: the last cell, run again."""
    prompt = page.locator(".jp-CodeCell .jp-InputPrompt").last
    before = prompt.inner_text()
    page.locator(".jp-CodeCell .cm-content").last.click()
    page.keyboard.press("Control+Enter")
    expect(prompt).not_to_have_text(before)
    expect(prompt).not_to_have_text("[*]:")
    page.keyboard.press("Escape")
    pours, by_hand = json.loads(page.locator(".jp-CodeCell").last.locator(".jp-OutputArea-output").inner_text())
    return [(start_s, end_s) for start_s, end_s in pours], by_hand


def slider(page: Page, name: str) -> Any:
    return page.locator(".pourline-view").get_by_role("slider", name=name, exact=True)


def test_the_notebook_runs_and_its_figure_shows(lab: Page, shot: Any) -> None:
    assert lab.locator('.jp-OutputArea-output[data-mime-type="application/vnd.jupyter.stderr"]').count() == 0
    figure = lab.locator(".jp-OutputArea-output img").last
    figure.scroll_into_view_if_needed()
    script = """(image) => {
      const canvas = new OffscreenCanvas(image.naturalWidth, image.naturalHeight).getContext("2d");
      canvas.drawImage(image, 0, 0);
      const seen = new Uint32Array(canvas.getImageData(0, 0, image.naturalWidth, image.naturalHeight).data.buffer);
      return [image.width, image.height, new Set(seen).size];
    }"""
    width, height, colours = figure.evaluate(script)
    assert min(width, height) > 200
    assert colours > 50
    # The cards of log and brew, drawn without matplotlib.
    for card in lab.locator(".jp-OutputArea-output[data-mime-type='text/html'] svg").all():
        box = card.bounding_box()
        assert box
        assert min(box["width"], box["height"]) > 100
    shot(lab, "notebook")
    # The card is read by pointer, in a notebook too; test_pages.py checks its text.
    card = lab.locator(".jp-OutputArea-output[data-mime-type='text/html'] svg.pourline-figure").first
    card.scroll_into_view_if_needed()
    card.hover()
    expect(card.get_by_role("slider")).to_have_attribute("aria-valuetext", re.compile(r" s, water \S+ g"))
    lab.mouse.move(2, 2)


def test_the_line_is_moved_by_pointer_and_by_keys(lab: Page) -> None:
    line, told = slider(lab, "time"), lab.locator(".pourline-told")
    lab.locator(".pourline-stage").scroll_into_view_if_needed()
    stage = lab.locator(".pourline-stage").bounding_box()
    assert stage
    before = told.inner_text()
    lab.mouse.move(stage["x"] + 300, stage["y"] + 200)
    lab.mouse.down()
    lab.mouse.move(stage["x"] + 500, stage["y"] + 200, steps=4)
    lab.mouse.up()
    assert told.inner_text() != before
    here = float(line.get_attribute("aria-valuenow"))
    assert f"{here:.2f} s" in told.inner_text()
    for _ in range(3):
        lab.keyboard.press("ArrowRight")
    assert float(line.get_attribute("aria-valuenow")) == pytest.approx(here + 0.15, abs=0.011)
    assert f"{float(line.get_attribute('aria-valuenow')):.2f} s" in told.inner_text()


def test_an_edge_is_moved_by_pointer_and_by_keys_and_the_kernel_knows(lab: Page, shot: Any, faults: Any) -> None:
    found, by_hand = asked(lab)
    brew = pourline.analyze(pourline.datasets.load("fernspout-bo-05"))
    assert found == [(pour.start_s.value, pour.end_s.value) for pour in brew.pours]
    assert by_hand is None

    end, row = slider(lab, "end of pour 2"), lab.locator(".pourline-view tbody tr").nth(1)
    told = row.inner_text()
    lab.locator(".pourline-stage").scroll_into_view_if_needed()
    box = end.bounding_box()
    lab.mouse.move(box["x"] + 14, box["y"] + 13)
    lab.mouse.down()
    lab.mouse.move(box["x"] + 34, box["y"] + 13, steps=4)
    lab.mouse.up()
    expect(row).not_to_have_text(told)
    expect(row.locator("td").first).to_have_text("end")
    shot(lab, "notebook_view")
    moved, by_hand = asked(lab)
    assert moved[1][1] == pytest.approx(float(end.get_attribute("aria-valuenow")), abs=0.006)
    assert moved[1][1] > found[1][1] + 1
    assert by_hand == ["none", "end", "none", "none"]

    start = slider(lab, "start of pour 3")
    start.focus()
    lab.keyboard.press("ArrowLeft")
    lab.keyboard.press("Shift+ArrowLeft")
    expect(lab.locator(".pourline-view tbody tr").nth(2).locator("td").first).to_have_text("start")
    assert faults(lab, ".pourline-view") == []
    again, by_hand = asked(lab)
    assert again[2][0] == pytest.approx(found[2][0] - 0.55, abs=1e-5)
    assert by_hand == ["none", "end", "start", "none"]


def test_keys_of_the_view_are_not_those_of_the_notebook(lab: Page) -> None:
    cells = lab.locator(".jp-Cell").count()
    slider(lab, "start of pour 1").focus()
    # In a notebook these take cells out, add one, and walk on.
    for key in ("d", "d", "a", "x", "ArrowDown", "Delete", "Escape"):
        lab.keyboard.press(key)
    expect(lab.locator(".pourline-view tbody tr")).to_have_count(3)
    assert lab.locator(".jp-Cell").count() == cells
