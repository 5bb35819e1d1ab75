"""In: an untrusted text. Out: the text escaped for an element or attribute of HTML and SVG, or for a terminal."""

from __future__ import annotations

import re

# XML forbids controls, lone surrogates and non-characters, escaped or not. Bidirectional controls would let a name
# reorder the text around it. Separators of lines and paragraphs end a line in some readers.
UNFIT = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


def fit(text: str) -> str:
    """Return a text with U+FFFD in place of characters that a page may not hold."""
    return UNFIT.sub("\ufffd", text)


# Characters that control a terminal, change the direction of reading or begin a new line; `src/error.rs` escapes the
# same characters.
STEERS = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


def plain(text: str) -> str:
    """Return a text for a line of a terminal or of a message: controls are written as escapes such as
    `\\u{1b}`.
    """
    return STEERS.sub(lambda found: f"\\u{{{ord(found[0]):x}}}", text)


def escape(text: str) -> str:
    """Return a text for a page, element or attribute."""
    from html import escape

    return escape(fit(text))
