"""In: a page with figures and tables. Out: the script that shows values at the pointer and sorts tables, and a policy
that blocks other scripts.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

EVERY = """for (const svg of document.querySelectorAll("svg.pourline-figure")) readable(svg);
for (const hint of document.querySelectorAll(".pourline-hint")) hint.hidden = false;
for (const table of document.querySelectorAll(".pourline-sorted table")) sortable(table);"""


@cache
def pointing() -> str:
    """Return the script in the form used by the view."""
    return _read("pointing.js")


def _read(name: str) -> str:
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


@cache
def _inline() -> str:
    lines = (line.strip() for line in f"{pointing()}{_read('sorting.js')}{EVERY}".splitlines())
    short = "\n".join(line for line in lines if line and not line.startswith(("//", "/**")))
    # In braces, because a page may hold it more than once.
    return f"{{\n{short}\n}}"


def script() -> str:
    """Return the element that makes the preceding figures readable by pointer and keys, and tables sortable."""
    return f"<script>{_inline()}</script>"


@cache
def policy() -> str:
    """Return the element that permits only this script and blocks all requests."""
    import base64
    import hashlib

    found = base64.b64encode(hashlib.sha256(_inline().encode()).digest()).decode()
    rules = f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{found}'"
    return f'<meta http-equiv="Content-Security-Policy" content="{rules}">'
