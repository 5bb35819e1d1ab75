"""In: the descriptions of the package's columns. Out: docs/columns.md, and the tables and outputs of README.md
(`.ci/readme.py`).
"""

from __future__ import annotations

import runpy
from pathlib import Path

from pourline._descriptions import page

Path("docs/columns.md").write_text(page(), encoding="utf-8")
runpy.run_path(str(Path(__file__).with_name("readme.py")), run_name="__main__")
