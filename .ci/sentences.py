"""In: README.md and the guide, or any text of Markdown. Out: the lengths of its sentences and lines.

`python .ci/sentences.py` prints one row per page, then the lines of prose over 120 characters in the source, which
are only counted. `tests/python/test_documents.py` checks the pages: 20 words per sentence on average, 120 characters
per line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
MOST_WORDS, MOST_CHARACTERS = 20, 120
# Generated pages: their text is in the program that writes them.
WRITTEN = {
    *("accuracy", "beside_others", "calibration", "columns", "coverage", "faults", "licences"),
    *("live_figures", "many_figures", "quality", "scales", "steadiness", "worlds"),
}
FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
# Rows of tables, headings, pictures and comments have no sentences.
NO_PROSE = re.compile(r"^(?:\||#|!\[|<!--).*$", re.MULTILINE)
# An item of a list, a blank line, or a full stop, question or exclamation mark before a blank.
ENDS = re.compile(r"\n(?=\s*(?:[-*]|\d+\.) )|\n\s*\n|(?<=[.!?])[)\"]?\s+(?=[^a-z])")
COMMENT = {".rs": re.compile(r"^\s*//[/!]?"), ".py": re.compile(r"^\s*#"), ".pyi": re.compile(r"^\s*#")}


def pages() -> list[Path]:
    """Return README.md and the pages of the guide that are not generated."""
    return [ROOT / "README.md", *(path for path in sorted((ROOT / "docs").glob("*.md")) if path.stem not in WRITTEN)]


def sentences(text: str) -> list[str]:
    """Return the sentences of the prose: no code, tables, headings; code between backticks and a link count by their
    text.
    """
    text = NO_PROSE.sub("", FENCE.sub("\n\n", text))
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text)
    text = re.sub(r"`[^`]*`", "Code", text)
    found = (re.sub(r"^\s*(?:[-*]|\d+\.) ", "", one).strip() for one in ENDS.split(text))
    return [one for one in found if re.search(r"\w", one)]


def words(sentence: str) -> int:
    """Return the number of words; a word has a letter or a digit."""
    return sum(bool(re.search(r"\w", one)) for one in sentence.split())


def mean_words(text: str) -> float:
    """Return the mean number of words in a sentence, 0 without sentences."""
    lengths = [words(one) for one in sentences(text)]
    return sum(lengths) / len(lengths) if lengths else 0.0


def long_lines(text: str) -> list[int]:
    """Return the lines over 120 characters, from 1, outside of blocks of code and of tables."""
    blank = FENCE.sub(lambda found: "\n" * found[0].count("\n"), text)
    return [
        number
        for number, line in enumerate(blank.split("\n"), 1)
        if len(line) > MOST_CHARACTERS and not line.startswith(("|", "<!--"))
    ]


def long_comments() -> Iterator[tuple[Path, int]]:
    """Go through the source; yield each file that has comments over 120 characters, and how many."""
    for folder in ("src", "python", "tests", "benches"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in COMMENT and path.is_file() and not path.is_symlink():
                lines = path.read_text(encoding="utf-8").splitlines()
                count = sum(len(one) > MOST_CHARACTERS and bool(COMMENT[path.suffix].match(one)) for one in lines)
                if count:
                    yield path.relative_to(ROOT), count


def main() -> None:
    """Print the measurements."""
    print(f"{'page':28}  sentences  mean words  long lines")
    for path in pages():
        text = path.read_text(encoding="utf-8")
        mean, too_long = mean_words(text), len(long_lines(text))
        print(f"{path.relative_to(ROOT)!s:28}  {len(sentences(text)):9}  {mean:10.1f}  {too_long:10}")
    counts = list(long_comments())
    print(f"{sum(count for _, count in counts)} comment lines over {MOST_CHARACTERS} characters in {len(counts)} files")


if __name__ == "__main__":
    main()
