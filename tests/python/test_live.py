"""A brew while it is poured, in Python: the state at each sample, and that its end is the whole analysis."""

from __future__ import annotations

import numpy as np
import pytest

import pourline


def test_the_end_is_what_analyze_makes_of_the_log(log: pourline.Log, brew: pourline.Brew) -> None:
    meta = log.meta.to_dict()
    water_g, beverage_g = log.water_g, log.beverage_g
    assert water_g is not None
    assert beverage_g is not None
    one, many = pourline.Live(**meta), pourline.Live(**meta)
    for sample in zip(log.time_s, water_g, beverage_g, strict=True):
        last = one.push(*sample)
    for part in np.array_split(np.arange(len(log)), 9):
        now = many.extend(log.time_s[part], water_g[part], beverage_g[part])
    assert now is not None
    assert repr(now) == repr(last)
    assert len(one) == len(log)
    assert one.finish().to_json() == many.finish().to_json() == brew.to_json()
    np.testing.assert_array_equal(one.log().water_g, water_g)


def test_pours_are_told_while_they_run(log: pourline.Log) -> None:
    # By arithmetic: 60 g at 6 g/s from 10 s, 60 g at 5 g/s from 35 s, on a scale without lag.
    live = pourline.Live(options=pourline.Options(condition={"scale_lag_s": 0.0}))
    assert log.water_g is not None
    nows = [live.push(t, w) for t, w in zip(log.time_s, log.water_g, strict=True)]
    assert [now.began for now in nows if now.began is not None] == pytest.approx([10, 35], abs=0.15)
    assert [now.ended for now in nows if now.ended is not None] == pytest.approx([20, 47], abs=0.4)
    middle = nows[400]
    assert (middle.time_s, middle.state, middle.pour, middle.flag) == (40.0, "pouring", 2, "used")
    assert middle.flow_g_per_s.value == pytest.approx(5, abs=0.5)
    assert middle.mass_g == pytest.approx(25, abs=0.3)
    assert middle.poured_g == pytest.approx(85, abs=0.3)
    assert middle.water_g.value == pytest.approx(85, abs=0.3)
    assert middle.start_s == pytest.approx(35, abs=0.15)
    last = nows[-1]
    assert (last.state, last.pour, last.mass_g, last.start_s) == ("rest", None, None, None)
    assert all(now.provisional and now.withdrawn is None for now in nows)


def test_what_is_missing_late_or_off_is_flagged() -> None:
    live = pourline.Live()
    live.extend(np.arange(50) / 10, np.tile([0.0, 0.1], 25))
    assert live.push(5.0, None).flag == "missing"
    assert live.push(5.1, float("nan")).flag == "missing"
    assert live.push(4.0, 0.0).flag == "late"
    assert live.push(5.2, 80.0).flag == "off"
    assert live.push(9.0, 0.0).flag == "after_gap"
    assert live.extend([], []) is None


def test_what_cannot_be_is_an_error() -> None:
    live = pourline.Live(keep_log=False)
    with pytest.raises(pourline.PourlineError, match="row 1: inf is not a finite number"):
        live.push(0.0, float("inf"))
    with pytest.raises(pourline.PourlineError, match="2 values, but time has 1"):
        live.extend([0.0], [1.0, 2.0])
    with pytest.raises(pourline.PourlineError, match="keep_log"):
        live.finish()
    with pytest.raises(pourline.PourlineError, match="dose"):
        pourline.Live(dose=15)  # type: ignore[call-arg]
