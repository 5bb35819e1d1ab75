"""In: a page with figures. Out: the one script that reads them off at a pointer, and a policy by which the page runs no
other.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

EVERY = 'for (const svg of document.querySelectorAll("svg.pourline-figure")) readable(svg);'


@cache
def pointing() -> str:
    """Return the script as the view takes it."""
    return (Path(__file__).parent / "pointing.js").read_text(encoding="utf-8")


@cache
def _inline() -> str:
    # In braces, since a page may hold it more than once.
    return f"{{\n{pointing()}{EVERY}\n}}"


def script() -> str:
    """Return the element that makes all figures before it readable by pointer and keys."""
    return f"<script>{_inline()}</script>"


@cache
def policy() -> str:
    """Return the element that lets a page run this script alone and fetch nothing."""
    import base64
    import hashlib

    found = base64.b64encode(hashlib.sha256(_inline().encode()).digest()).decode()
    rules = f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{found}'"
    return f'<meta http-equiv="Content-Security-Policy" content="{rules}">'
