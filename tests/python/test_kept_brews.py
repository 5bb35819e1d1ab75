"""A brew that was written as JSON is read back whole, also one that an earlier version wrote.

`kept/brew-0.1.0.json` was written by version 0.1.0 from the log that `short` makes. From the first release on it is
never rewritten: a later field has a default.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import pourline

KEPT = Path(__file__).parent / "kept" / "brew-0.1.0.json"


def short() -> pourline.Log:
    """One pour of 30 g, by arithmetic: 6 g/s from 2 to 7 s, of which 24 g have run through in the end."""
    time_s = np.round(np.arange(0, 16, 0.2), 1)
    water_g = np.round(np.clip((time_s - 2) * 6, 0, 30), 1)
    beverage_g = np.round(np.clip((time_s - 5) * 3, 0, 24), 1)
    return pourline.Log(time_s, water_g, beverage_g, name="short", dose_g=2.0, tds_pct=1.4)


@pytest.mark.parametrize("name", pourline.datasets.names())
def test_a_brew_reads_back_from_its_own_json(name: str) -> None:
    brew = pourline.analyze(pourline.datasets.load(name))
    again = pourline.Brew.from_json(brew.to_json())
    assert again.to_json() == brew.to_json()
    assert again.version == brew.version
    assert again.options == brew.options
    for column in brew.table(all=True).columns:
        np.testing.assert_array_equal(again.table(all=True)[column], brew.table(all=True)[column], err_msg=column)


def test_a_brew_with_missing_samples_reads_back() -> None:
    log = short()
    assert log.water_g is not None
    water_g = log.water_g.copy()
    water_g[30:33] = np.nan
    brew = pourline.analyze(pourline.Log(log.time_s, water_g, missing="flag"))
    assert pourline.Brew.from_json(brew.to_json()).to_json() == brew.to_json()


def test_a_brew_that_an_earlier_version_wrote_still_reads() -> None:
    kept = pourline.Brew.from_json(KEPT.read_text(encoding="utf-8"))
    assert kept.version == "0.1.0"
    assert kept.meta.name == "short"
    (pour,) = kept.pours
    assert isinstance(kept.beverage_g, pourline.Estimate)
    assert isinstance(kept.extraction.yield_pct, pourline.Estimate)
    # By the arithmetic of `short`.
    assert pour.mass_g.value == pytest.approx(30.0, abs=0.1)
    assert kept.beverage_g.value == pytest.approx(24.0, abs=0.1)
    # 24 g of 1.4 % from 2 g.
    assert kept.extraction.yield_pct.value == pytest.approx(16.8, abs=0.1)
    assert kept._repr_html_()


@pytest.mark.parametrize("text", ["", "{}", "[1, 2]", '{"meta": 3}', "\x00", "[" * 100_000])
def test_what_is_no_brew_is_refused(text: str) -> None:
    with pytest.raises(pourline.PourlineError, match="no brew as written by to_json"):
        pourline.Brew.from_json(text)


def test_a_brew_cut_short_is_refused() -> None:
    text = KEPT.read_text(encoding="utf-8")
    assert json.loads(text)
    with pytest.raises(pourline.PourlineError, match="EOF"):
        pourline.Brew.from_json(text[: len(text) // 2])
