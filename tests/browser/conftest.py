"""A browser without a window, pages that may load nothing from outside, and the checks that every page has to pass.

Debian's chromium is driven by playwright; the rules of accessibility are those of axe-core, which its package brings
along.
"""

from __future__ import annotations

import base64
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Route, sync_playwright

import pourline

Opened = Callable[..., Page]
FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
)
INSIDE = {"localhost", "127.0.0.1"}
# What the pages look like, for the eye: `make test-browser` leaves it there.
SHOTS = Path(__file__).parents[2] / "out" / "browser"
BARE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>a view</title>
<style>:root{color-scheme:%(scheme)s}%(css)s</style></head><body><main><h1>A view</h1><div id="el"></div></main>
<script type="module">%(esm)s
const read = (sent) => sent === null || typeof sent !== "object" ? sent
  : "bytes" in sent ? new DataView(Uint8Array.from(atob(sent.bytes), (c) => c.charCodeAt(0)).buffer)
  : Array.isArray(sent) ? sent.map(read)
  : Object.fromEntries(Object.entries(sent).map(([name, one]) => [name, read(one)]));
const [state, heard] = [read(await window.state()), new Set()];
const model = {
  get: (name) => state[name],
  on: (name, hear) => heard.add(hear),
  off: (name, hear) => heard.delete(hear),
  send: async (message) => { Object.assign(state, read(await window.send(message))); heard.forEach((hear) => hear()); },
};
widget.render({ model, el: document.getElementById("el") });
</script></body></html>"""


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium")
    assert chromium, "chromium is missing; on Debian: apt install chromium"
    SHOTS.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        # playwright gives it a new profile folder, and takes it away.
        found = playwright.chromium.launch(executable_path=chromium, args=FLAGS.split())
        yield found
        found.close()


@contextmanager
def guarded(browser: Browser) -> Iterator[Opened]:
    """Yield a factory of pages; at the end none may have sent a request outside or logged an error."""
    contexts: list[BrowserContext] = []
    wrong: list[str] = []

    def guard(route: Route) -> None:
        if urlsplit(route.request.url).hostname in INSIDE or route.request.url.startswith("file:"):
            route.continue_()
        else:
            wrong.append(f"asked the outside: {route.request.url}")
            route.abort()

    def made(**look: Any) -> Page:
        context = browser.new_context(**look)
        contexts.append(context)
        context.route("**/*", guard)
        page = context.new_page()
        page.on("console", lambda said: wrong.append(f"console: {said.text}") if said.type == "error" else None)
        page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
        return page

    yield made
    for context in contexts:
        context.close()
    assert not wrong, wrong


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opened]:
    """Pages for one test."""
    with guarded(browser) as made:
        yield made


@pytest.fixture(scope="module")
def opened_once(browser: Browser) -> Iterator[Opened]:
    """Pages for all tests of a file."""
    with guarded(browser) as made:
        yield made


@pytest.fixture
def view() -> Any:
    return pourline.view(pourline.datasets.load("fernspout-bo-05"))


@pytest.fixture
def shown(opened: Opened) -> Callable[..., Page]:
    """A view in a bare page: the page's own script, and behind it the view in this Python, without a notebook between."""

    def made(view: Any, width: int = 1000, dark: bool = False, **look: Any) -> Page:
        scheme = "dark" if dark else "light"
        page = opened(viewport={"width": width, "height": 900}, color_scheme=scheme, **look)

        def send(message: dict[str, Any]) -> object:
            view._answer(view, message, [])
            return _plain({"_now": view._now})

        page.expose_function("state", lambda: _plain({"_log": view._log, "_now": view._now}))
        page.expose_function("send", send)
        esm = str(view._esm).replace("export default {", "const widget = {")
        page.set_content(BARE % {"scheme": scheme, "css": str(view._css), "esm": esm})
        page.wait_for_selector(".pourline-view circle")
        return page

    return made


def _plain(sent: Any) -> Any:
    if isinstance(sent, bytes):
        return {"bytes": base64.b64encode(sent).decode()}
    if isinstance(sent, dict):
        return {name: _plain(one) for name, one in sent.items()}
    return [_plain(one) for one in sent] if isinstance(sent, (list, tuple)) else sent


@pytest.fixture(scope="session")
def faults() -> Callable[..., list[str]]:
    """What axe-core finds wrong with a page, or with a part of it."""
    axe = Axe()
    # A rule of WCAG 2.2 that axe-core checks only on request.
    # Style sheets are not read a second time: a browser does not let a file ask for a file.
    options = {"preload": False, "resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}

    def found(page: Page, part: str | None = None) -> list[str]:
        results = axe.run(page, context=part, options=options)
        return [
            f"{one['id']}: {[node['html'][:160] for node in one['nodes']]}" for one in results.response["violations"]
        ]

    return found


@pytest.fixture(scope="session")
def shot() -> Callable[[Page, str], None]:
    def taken(page: Page, name: str) -> None:
        page.screenshot(path=SHOTS / f"{name}.png", full_page=True)

    return taken
