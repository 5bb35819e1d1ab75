"""The report: its inputs can be checked, a comparison is complete, and no text gets through as
markup.
"""

from __future__ import annotations

import hashlib
import re
import struct
from html import escape
from pathlib import Path

import numpy as np
import pytest

import pourline
from pourline._figures.pointing import script
from pourline._text.provenance import digest

NASTY = "<script>alert(1)</script>&\"'"


def check_alone(page: str) -> None:
    """Hold that a page runs nothing but the script that reads its figures, and asks for nothing."""
    page = page.replace(script(), "")
    assert not re.search(r"<(?:script|link|iframe|img|object|embed)|\son\w+=", page)
    assert not re.search(r"(?:src|href)=|@import|url\(", page)


@pytest.fixture(scope="module")
def compared() -> pourline.Comparison:
    flows = [6.1, 6.9, 6.3, 7.0, 6.2, 6.8, 6.5, 7.3]
    own = pourline.Table({"kettle": [NASTY, "Broadlip"] * 4, "person": ["Ada"] * 4 + ["Bo"] * 4, "flow": flows})
    return pourline.compare(own, "flow", by="kettle", blocks="person")


def by_hand(*columns: tuple[bytes, list[float]]) -> str:
    # Source: FIPS 180-4 as hashlib has it; doubles by struct, not by the code that is tested.
    found = hashlib.sha256()
    for name, values in columns:
        found.update(name + b"\n" + b"".join(struct.pack("<d", value) for value in values))
    return found.hexdigest()


def test_the_digest_is_that_of_the_samples_and_not_of_the_text(tmp_path: Path) -> None:
    time_s = [k / 10 for k in range(300)]
    water_g = [round(min(6.0 * max(t - 5, 0.0), 60.0), 1) for t in time_s]
    expected = by_hand((b"time_s", time_s), (b"water_g", water_g))
    for place, form in enumerate(("{},{}", "{:.3f},{:.2f}")):
        file = tmp_path / f"{place}.csv"
        file.write_text("time_s,water_g\n" + "\n".join(form.format(*row) for row in zip(time_s, water_g, strict=True)))
        log = pourline.read(file)
        page = pourline.report(pourline.analyze(log), tmp_path / "page.html", logs=log).read_text(encoding="utf-8")
        assert f"SHA-256 of the samples of the log: {expected}" in page
    moved = pourline.Log(time_s, [*water_g[:-1], water_g[-1] + 0.1])
    page = pourline.report(pourline.analyze(moved), tmp_path / "page.html", logs=moved).read_text(encoding="utf-8")
    assert expected not in page


def test_missing_samples_have_one_digest_and_a_negative_zero_is_zero() -> None:
    quiet = struct.unpack("<d", struct.pack("<Q", 0x7FF8000000000000))[0]
    other = struct.unpack("<d", struct.pack("<Q", 0xFFF8000000000001))[0]
    assert digest({"time_s": np.array([-0.0, other])}) == by_hand((b"time_s", [0.0, quiet]))


def test_logs_that_are_not_those_of_the_brews_are_refused(
    brew: pourline.Brew, log: pourline.Log, tmp_path: Path
) -> None:
    assert log.water_g is not None
    later = pourline.Log(log.time_s + 1, log.water_g, log.beverage_g)
    heavier = pourline.Log(log.time_s, np.append(log.water_g[:-1], log.water_g[-1] + 0.1), log.beverage_g)
    for wrong in (later, heavier, [log, log]):
        with pytest.raises(pourline.PourlineError, match="log"):
            pourline.report(brew, tmp_path / "page.html", logs=wrong)
    assert not list(tmp_path.iterdir())


def test_a_brew_tells_its_log_its_options_and_its_version_by_itself(
    brew: pourline.Brew, log: pourline.Log, tmp_path: Path
) -> None:
    page = pourline.report(brew, tmp_path / "page.html").read_text(encoding="utf-8")
    assert f"SHA-256 of the samples of the log: {log.digest}" in page
    assert "All options at their defaults." in page
    assert f"pourline {brew.version}" in page


def test_a_comparison_is_told_whole(compared: pourline.Comparison, tmp_path: Path) -> None:
    page = pourline.report(compared, tmp_path / "page.html").read_text(encoding="utf-8")
    check_alone(page)
    assert "<svg" in page
    text = re.sub(r"\s+", " ", page)
    for said in [*compared.sentences, *compared.warnings]:
        assert escape(said) in text
    assert escape(str(compared.pairs[0].difference)) in page
    assert page.count("<circle") == 8
    assert re.search(r"SHA-256 of the values of flow compared and their sd: [0-9a-f]{64}", page)
    assert page.count('<p class="warning">') == len(compared.warnings)
    for head in ("Groups", "Pairs", "Missing", "Provenance"):
        assert re.search(rf"<h2[^>]*>{head}</h2>", page)


def test_a_kettle_named_like_markup_stays_text(compared: pourline.Comparison, tmp_path: Path) -> None:
    page = pourline.report(compared, tmp_path / "page.html", title=NASTY).read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_the_dots_stand_where_the_values_are(compared: pourline.Comparison, tmp_path: Path) -> None:
    page = pourline.report(compared, tmp_path / "page.html").read_text(encoding="utf-8")
    at = np.array([float(x) for x in re.findall(r'<circle cx="([\d.]+)"', page)])
    table = compared.values_table()
    names = compared.groups_table()["kettle"].tolist()
    values = np.concatenate([table["flow"][table["kettle"] == name] for name in names])
    slope, offset = np.polyfit(values, at, 1)
    assert slope > 0
    np.testing.assert_allclose(at, slope * values + offset, atol=0.1)


def test_the_title_of_a_comparison_is_a_sentence(compared: pourline.Comparison, tmp_path: Path) -> None:
    pair = compared.pairs[0]
    side = "higher" if pair.difference.value > 0 else "lower"
    expected = (
        f"Flow is {side} with {pair.b} than with {pair.a}"
        if pair.verdict == "shown"
        else f"No difference in flow is shown between {pair.a} and {pair.b}"
    )
    page = pourline.report(compared, tmp_path / "page.html").read_text(encoding="utf-8")
    assert f"<h1>{escape(expected)}</h1>" in page
    assert escape(compared.basis) in page
    several = pourline.report([compared, compared], tmp_path / "two.html").read_text(encoding="utf-8")
    assert several.count(": all values</summary>") == 2
    brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    with pytest.raises(pourline.PourlineError, match="a page each"):
        pourline.report([brew, compared], tmp_path / "both.html")
