"""Every column has its description, and the page of the guide agrees with it."""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest

import pourline
from pourline._descriptions import page

PAGE = Path(__file__).parents[2] / "docs" / "columns.md"


VALUES = [5.1, 4.7, 5.6, 4.9, 5.3, 5.8, 4.4, 5.0, 5.5, 4.8, 5.2, 5.7]
AB, XYZ = ["a", "b"] * 6, ["x", "x", "y", "y", "z", "z"] * 2


def tables(brew: pourline.Brew) -> dict[str, pourline.Table]:
    """Return a table of every kind that a result can give."""
    brews = [brew, brew, brew, brew]
    study = pourline.gather(brews)
    own = pourline.Study(pourline.Table({"brew": [str(i) for i in range(12)], "kettle": AB, "cup": XYZ, "v": VALUES}))
    compared = pourline.compare(own, "v", by="kettle", blocks="cup")
    yields = pourline.mean_beverage(
        pourline.Table(
            {
                "brew": ["1", "2", "3"],
                "yield_pct": [20.0, 20.5, 19.0],
                "beverage_g": [100.0, 90.0, 120.0],
                "tds_pct": [1.4, 1.5, 1.2],
                "dose_g": [7.0, 6.6, 7.6],
            }
        )
    )
    return {
        "brew": brew.table(all=True),
        "study": study.table(),
        "each pour": pourline.gather(brews, pours="each").table(),
        "take": own.take("v", "kettle"),
        "missing": study.missing("mean_flow_g_per_s"),
        "pairs": compared.table(),
        "groups": compared.groups_table(),
        "compared values": compared.values_table(),
        "not compared": compared.missing_table(),
        "contrasts": pourline.contrast(VALUES, AB).table(),
        "repeatability": pourline.repeatability(VALUES, by=AB).table(),
        "icc": pourline.icc(VALUES, subjects=[str(i // 2) for i in range(12)], raters=AB).table(),
        "crossed": pourline.crossed(VALUES, rows=AB, columns=XYZ).table(),
        "agreement": pourline.agreement(VALUES, VALUES[::-1]).table(),
        "dialled": pourline.dial_in(VALUES, VALUES[::-1]).table(),
        "not dialled": pourline.dial_in(VALUES, VALUES[::-1]).missing,
        "yields": yields.table(),
        "flips": yields.flips,
        "no yield": yields.missing,
        "profile": pourline.profile(brews).table(),
        "profile over water": pourline.profile(brews, axis="water").table(),
        "plan": pourline.Plan("p", [pourline.PlannedPour(0, 60, 6)]).follow(brew).table(),
        "progress": pourline.progress([(1, 0.5), (2, 0.6)]).table(),
        "descriptions": pourline.descriptions(),
    }


# A factor and a number of the study itself: only the study describes them.
OWN = {"cup", "v", "v_sd"}


def test_every_column_of_every_table_is_described_with_its_unit(brew: pourline.Brew) -> None:
    for kind, table in tables(brew).items():
        for name, unit in table.units.items():
            if name not in OWN:
                found = pourline.describe(name)
                assert found.unit == unit or found.unit.startswith("that of"), (kind, name)
                assert found.meaning, (kind, name)
                assert found.valid_when, (kind, name)


def test_every_attribute_of_every_result_is_described(brew: pourline.Brew) -> None:
    told = 0
    for owner in vars(pourline).values():
        for name, value in vars(owner).items() if isinstance(owner, type) else ():
            if inspect.isgetsetdescriptor(value) and not name.startswith("_"):
                assert pourline.describe(f"{owner.__name__}.{name}").meaning
                assert pourline.describe(name).meaning
                told += 1
    assert told > 300
    for name in dir(pourline.Meta()):
        if not name.startswith("_") and name not in ("to_dict", "factors"):
            assert pourline.describe(name).meaning, name


def test_an_attribute_has_the_unit_of_its_name() -> None:
    assert pourline.describe("DrainLaw.standing_g").unit == "g"
    assert pourline.describe("BedCurve.held_g").unit == "g"
    assert pourline.describe("speed_m_per_s").unit == "m/s"
    # If two classes describe one name differently, both descriptions are given.
    assert pourline.describe("average_s").meaning == pourline.describe("ScaleResponse.average_s").meaning
    assert "of Calibration: " in pourline.describe("misfit").meaning


def test_a_factor_of_ones_own_is_told_as_one() -> None:
    log = pourline.Log(range(5), range(5), factors={"shelf": "top"}, name="x")
    for of in (log, pourline.analyze(log)):
        assert pourline.describe("shelf", of).meaning == "a factor of your own, from the log's metadata"
        assert pourline.describe("mass_g", of) == pourline.describe("mass_g")
    study = pourline.Study(
        pourline.Table({"brew": ["1", "2"], "shelf": ["a", "b"], "cup": ["x", "x"], "v": [1.0, 2.0]})
    )
    assert "a factor" in pourline.describe("shelf", study).meaning
    assert "a number" in pourline.describe("v", study).meaning
    design = study.design("shelf", "cup")
    assert pourline.describe("x", design).meaning == "number of brews with cup x"
    with pytest.raises(pourline.PourlineError, match=r"describe\(name, brew\) includes your own factors"):
        pourline.describe("shelf")
    with pytest.raises(pourline.PourlineError, match="a Log, Brew"):
        pourline.describe("shelf", 3)  # type: ignore[arg-type]


def test_the_page_is_what_is_described() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run make columns"


def test_a_name_that_does_not_exist_is_answered_with_the_nearest() -> None:
    with pytest.raises(pourline.PourlineError, match="the nearest is 'flow_cv'"):
        pourline.describe("flow_vc")
    with pytest.raises(pourline.PourlineError, match="no column 'brew_sd_g'"):
        pourline.describe("brew_sd_g")


def test_a_description_is_shown_as_text_and_in_a_notebook() -> None:
    found = pourline.describe("energy_j")
    assert str(found).startswith("energy_j\n  meaning: energy of the water at the bed\n  unit: J\n")
    assert "<dt>reference</dt><dd>balance of energy</dd>" in found._repr_html_()
