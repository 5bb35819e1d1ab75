"""The columns that most people need, and the rest."""

from __future__ import annotations

import numpy as np

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
