"""In: what the package tells of its columns. Out: docs/columns.md, and the table of README.md with those of a row a pour."""

from __future__ import annotations

import re
from pathlib import Path

import pourline
from pourline._descriptions import page, rows

Path("docs/columns.md").write_text(page(), encoding="utf-8")
log, _ = pourline.simulate("clean")
columns = [name for name in pourline.analyze(log).table().columns if not re.search("_sd(_|$)", name)]
readme = Path("README.md")
before, head, after = readme.read_text(encoding="utf-8").partition("## What you get\n")
after = re.sub(r"^\| column .*?\n\n", lambda _: rows(columns) + "\n", after, count=1, flags=re.MULTILINE | re.DOTALL)
readme.write_text(before + head + after, encoding="utf-8")
