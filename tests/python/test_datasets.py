"""The demo brews: number, invented names, checksums, and detection by the library in agreement with their labels."""

from __future__ import annotations

import importlib.util
import json
import shutil
from pathlib import Path

import numpy as np
import pytest

import pourline
from pourline import datasets

SOURCE = Path(__file__).parents[2] / "datasets"
NAMES = datasets.names()


def test_there_are_24_brews_with_two_weights_at_10_hz() -> None:
    assert len(NAMES) >= 24
    for name, log in zip(NAMES, datasets.load_all(), strict=True):
        assert log == datasets.load(name)
        assert log.water_g is not None
        assert log.beverage_g is not None
        assert np.median(np.diff(log.time_s)) == pytest.approx(0.1, abs=0.01)
        assert log.meta.name == name


def test_the_index_tells_origin_licence_and_all_that_the_log_knows() -> None:
    index = datasets.index()
    assert {"name", "file", "sha256", "licence", "origin", "kettle", "person", "coffee", "dose_g", "tds_pct"} <= set(
        index.columns
    )
    for place, name in enumerate(index["name"].tolist()):
        meta = datasets.load(name).meta
        for key in ("kettle", "person", "coffee", "roast", "grinder_setting", "dose_g", "tds_pct", "water_c"):
            assert getattr(meta, key) == index[key][place], (name, key)
    assert index["origin"].tolist() == ["simulated: datasets/make.py from datasets/recipes.json"] * len(NAMES)


def test_kettles_and_people_are_balanced_and_half_of_the_brews_are_disturbed() -> None:
    index = datasets.index().to_pandas()
    assert index.groupby(["kettle", "person", "coffee"]).size().nunique() == 1
    wrong = index["wrong"].notna().sum()
    assert len(NAMES) / 3 <= wrong <= 2 * len(NAMES) / 3
    assert {"knock", "gap", "lift", "rinse"} <= set(" ".join(index["wrong"].dropna()).split())


def test_kettles_pour_as_the_trade_says() -> None:
    # Common practice, no source: a restricted spout runs near 10 g/s at most, an open one 12 to 15 g/s.
    flows: dict[str, list[float]] = {}
    for name in NAMES:
        kettle = datasets.load(name).meta.kettle
        flows.setdefault(str(kettle), []).extend(p["median_flow_g_per_s"] for p in datasets.labels(name)["pours"])
    assert 8 <= np.median(flows["Fernspout"]) <= 10
    assert 12 <= np.median(flows["Broadlip"]) <= 15
    assert max(flows["Thimblebeak"]) < 8


@pytest.mark.parametrize("name", NAMES)
def test_the_pours_of_the_labels_are_found(name: str) -> None:
    brew, labels = pourline.analyze(datasets.load(name)), datasets.labels(name)
    assert len(brew.pours) == len(labels["pours"])
    for found, true in zip(brew.pours, labels["pours"], strict=True):
        assert isinstance(found.half_rise_s, pourline.Estimate)
        assert isinstance(found.half_fall_s, pourline.Estimate)
        assert abs(found.half_rise_s.value - true["half_rise_s"]) < 0.3
        assert abs(found.half_fall_s.value - true["half_fall_s"]) < 0.3
        assert abs(found.mass_g.value - true["mass_g"]) < 0.5


def test_a_file_that_was_changed_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(datasets.FOLDER, folder)
    monkeypatch.setattr(datasets, "FOLDER", folder)
    file = folder / "brews" / f"{NAMES[0]}.csv"
    file.write_bytes(file.read_bytes().replace(b",0.0,", b",0.1,", 1))
    with pytest.raises(pourline.PourlineError, match="sha256") as caught:
        datasets.load(NAMES[0])
    assert caught.value.kind == "format"
    file.unlink()
    with pytest.raises(pourline.PourlineError) as caught:
        datasets.load(NAMES[0])
    assert caught.value.kind == "io"
    (folder / "brews" / f"{NAMES[1]}.json").write_text("{}")
    with pytest.raises(pourline.PourlineError, match="sha256"):
        datasets.labels(NAMES[1])


@pytest.mark.parametrize("name", ["none", "", 3, None, [], "../index"])
def test_an_unknown_name_is_answered_with_those_that_there_are(name: str) -> None:
    for function in (datasets.load, datasets.labels):
        with pytest.raises(pourline.PourlineError, match="fernspout-ada-01"):
            function(name)


def test_the_committed_brews_are_what_the_recipes_make() -> None:
    spec = importlib.util.spec_from_file_location("make", SOURCE / "make.py")
    assert spec is not None
    assert spec.loader is not None
    make = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(make)
    for file, text in make.made(json.loads((SOURCE / "recipes.json").read_text(encoding="utf-8"))).items():
        assert (SOURCE / file).read_text(encoding="utf-8") == text, f"{file}: run python datasets/make.py"
