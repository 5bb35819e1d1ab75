"""The columns that most people need, and the rest."""

from __future__ import annotations

import numpy as np
import pytest

import pourline


def test_a_table_has_some_twenty_columns_and_all_holds_them_unchanged() -> None:
    brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    first, every = brew.table(), brew.table(all=True)
    assert len(first.columns) < 32 < 100 < len(every.columns)
    assert [name for name in every.columns if name in first.columns] == first.columns
    for name in first.columns:
        np.testing.assert_array_equal(first[name], every[name])
        assert (first.units[name], first.notes[name]) == (every.units[name], every.notes[name])


def test_metadata_that_are_not_given_have_no_column() -> None:
    time_s = np.arange(0, 30, 0.1)
    water_g = np.interp(time_s, [5, 15], [0, 60])
    assert not {"kettle", "dose_g"} & set(pourline.analyze(pourline.Log(time_s, water_g)).table().columns)
    known = pourline.analyze(pourline.Log(time_s, water_g, kettle="Teacup", dose_g=4.0)).table()
    assert (known["kettle"][0], known["dose_g"][0]) == ("Teacup", 4.0)


def test_warnings_stand_in_every_row() -> None:
    log = pourline.datasets.load("fernspout-ada-01")
    exchanged = pourline.analyze(pourline.Log(log.time_s, log.beverage_g, log.water_g))
    table = exchanged.table()
    assert set(table["warnings"]) == {"; ".join(exchanged.warnings)}
    assert exchanged.warnings
    assert set(table["n_events"]) == {len(exchanged.events)}
    assert set(pourline.analyze(log).table()["warnings"]) == {""}


def brews_of_two_kettles() -> list[pourline.Brew]:
    """Return eight bundled brews; the two columns of the first are exchanged."""
    names = [name for name in pourline.datasets.names() if name.startswith(("fernspout", "broadlip"))][4:12]
    logs = [pourline.datasets.load(name) for name in names]
    logs[0] = pourline.Log(
        logs[0].time_s, logs[0].beverage_g, logs[0].water_g, name="exchanged", kettle=logs[0].meta.kettle
    )
    return [brew for brew in pourline.analyze_many(logs) if isinstance(brew, pourline.Brew)]


def test_a_study_says_which_brews_carry_warnings() -> None:
    study = pourline.gather(brews_of_two_kettles())
    assert study.warned == ["exchanged"]
    assert repr(study).endswith("; 1 brew with warnings>")
    found = pourline.compare(study, "mean_flow_g_per_s", by="kettle")
    assert any(line.startswith("1 of 8 brews carry warnings; exchanged: ") for line in found.warnings)
    again = pourline.Study(study.table())
    assert (again.warned, again.factors) == (study.warned, study.factors)


def test_warned_brews_are_dropped_if_asked() -> None:
    brews = brews_of_two_kettles()
    study = pourline.gather(brews, with_warnings="drop")
    assert (len(study), study.warned) == (7, [])
    found = pourline.compare(study, "mean_flow_g_per_s", by="kettle")
    assert found.groups_table()["units"].sum() == 7
    assert any("exchanged" in line for line in found.warnings)
    with pytest.raises(pourline.PourlineError, match="with_warnings"):
        pourline.gather(brews, with_warnings="mend")  # type: ignore[arg-type]
