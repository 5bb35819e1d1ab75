"""The page on quality agrees with the detail pages."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def test_the_summary_is_that_of_the_detail_pages() -> None:
    spec = importlib.util.spec_from_file_location("quality", ROOT / ".ci" / "quality.py")
    assert spec is not None
    assert spec.loader is not None
    quality = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(quality)
    told = (ROOT / "docs" / "quality.md").read_text(encoding="utf-8")
    assert told == quality.written(quality.earlier_times()), "run: python3 .ci/quality.py"
    with pytest.raises(SystemExit, match="no page matches: nothing like it"):
        quality.found("nothing like it", told)
