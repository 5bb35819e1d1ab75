"""In: a text from anywhere. Out: the text as HTML and SVG may hold it, in element or attribute: it shows and does nothing else."""

from __future__ import annotations

import html
import re

# No XML may hold controls, halves of surrogate pairs and non-characters, escaped or not; what turns the direction of reading would let a name
# rewrite the words around it; and the separators of lines and paragraphs end a line in some readers.
UNFIT = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


def escape(text: str) -> str:
    """Return a text for a page; a sign that no page may hold stands there as U+FFFD."""
    return html.escape(UNFIT.sub("\ufffd", text))
