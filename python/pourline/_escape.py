"""In: a text from anywhere. Out: the text as HTML and SVG may hold it, in element or attribute, or as a terminal may:
it shows and does nothing else.
"""

from __future__ import annotations

import re

# No XML may hold controls, halves of surrogate pairs and non-characters, escaped or not; what turns the direction of
# reading would let a name rewrite the words around it; and the separators of lines and paragraphs end a line in some
# readers.
UNFIT = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


def fit(text: str) -> str:
    """Return a text with U+FFFD in place of what no page may hold."""
    return UNFIT.sub("\ufffd", text)


# What would steer a terminal, turn the direction of reading or begin a line of its own; `src/error.rs` writes the same
# as escapes.
STEERS = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def plain(text: str) -> str:
    """Return a text for a line of a terminal or of a message: what would steer is written as an escape such as
    `\\u{1b}`.
    """
    return STEERS.sub(lambda found: f"\\u{{{ord(found[0]):x}}}", text)


def escape(text: str) -> str:
    """Return a text for a page, element or attribute."""
    from html import escape

    return escape(fit(text))
