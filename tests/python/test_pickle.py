"""Every public value can be pickled, copied and compared: walked over one object of each public class."""

from __future__ import annotations

import copy
import pickle
import struct
import time
from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
import pytest

import pourline
from pourline import balance

# A state that goes on changing has no value: its log has.
CHANGING = {pourline.Live}
CLASSES = {
    thing
    for module in (pourline, balance)
    for thing in vars(module).values()
    if isinstance(thing, type) and thing.__module__.startswith("pourline") and not issubclass(thing, BaseException)
}


def roots() -> Iterator[object]:
    """Yield results from which all others are reached by their properties."""
    log = pourline.datasets.load("fernspout-ada-01")
    knocked = pourline.datasets.load("fernspout-ada-02")
    brew, other = pourline.analyze(log), pourline.analyze(knocked)
    labels = pourline.Labels.of(brew, log).moved(2, end_s=61.5)
    yield from (log, brew, other, labels, pourline.analyze(log, labels=labels), brew.table(all=True))
    yield from (brew.flow.spectrum(brew.pours[0]), brew.extraction.monte_carlo(1000)) if brew.flow else ()
    simulated, truth = pourline.simulate(seed=7)
    found = pourline.analyze(simulated)
    yield from (truth, found, pourline.score(truth, found), pourline.Live().push(0.0, 1.0))
    calibration = pourline.calibrate(pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)[0])
    # Arithmetic: 200 g on for ten seconds, off for ten.
    time_s = np.arange(600) / 10
    known = pourline.calibrate(pourline.Log(time_s, 200.0 * (time_s % 20 > 10)), masses_g=[200])
    yield from (calibration, calibration.resolution(), known)
    plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(40, 100)])
    yield from (plan, plan.follow(brew), pourline.progress([(1, 0.5), (2, 0.7), (3, 0.8)]))
    days = [(day, day % 3 + (9 if day >= 6 else 0)) for day in range(12)]
    yield from (pourline.progress(days, changes={6: "new kettle"}), pourline.control_chart(days))
    yield from (pourline.design({"kettle": 2}, repeats=2), pourline.power_curve(0.5, pourline.Estimate(0.4, 0.1)))
    # The brew has no pour of 100 g: a deviation that recurs in each of its copies.
    yield from pourline.habits([plan.follow(brew)] * 3)
    names = [f"fernspout-ada-{n:02}" for n in range(1, 5)]
    brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
    good = [one for one in brews if isinstance(one, pourline.Brew)]
    others = pourline.analyze_many([pourline.datasets.load(f"broadlip-ada-{n:02}") for n in range(9, 13)])
    yield pourline.profile_difference({"one": good, "other": [one for one in others if isinstance(one, pourline.Brew)]})
    yield from (pourline.profile(good), pourline.distance(brew, other), pourline.gather(good))
    masses = [60.1, 59.7, 60.4, 61.0, 60.8, 61.3, 59.2, 59.9]
    by = ["Ada"] * 4 + ["Bo"] * 4
    yield from (pourline.repeatability(masses, by=by), pourline.contrast(masses, by))
    yield from (pourline.crossed(masses, rows=by, columns=list("xxyy") * 2), pourline.agreement(masses, masses[::-1]))
    yield pourline.icc(masses, subjects=list("aabbccdd"), raters=list("xy") * 4)
    yield pourline.equivalence(pourline.Estimate(0.1, 0.2), 20, margin=0.5)
    columns: dict[str, list[Any]] = {"kettle": list("xxyyxxyy"), "person": by, "mass_g": masses}
    table = pourline.Table(columns)
    study = pourline.Study(table)
    yield from (study, study.design("kettle", "person"), pourline.compare(study, "mass_g", by="kettle"))
    own: dict[str, list[float]] = {"dose_g": [15, 15, 15], "beverage_g": [240, 246, 234], "tds_pct": [1.38, 1.36, 1.40]}
    yield pourline.mean_beverage(pourline.Table(own))
    yield pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.40)
    yield pourline.Stream(4.8, 0.006, 0.2, water_c=93)
    yield pourline.Options(segment={"mass_g": 5})
    box = balance.ChartBox.scaa_2015()
    yield from (box, box.place(1.3, 20.0), balance.fractions([100, 100], [1.8, 0.9], 15))
    yield from balance.learn_retention([("dark", 2.3), ("dark", 2.1)])
    yield pourline.describe("mass_g")
    flows = [10, 10.2, 10.1, 10.3, 9.9, 17]
    yield pourline.profile([_rested(seed, rest_s) for seed, rest_s in enumerate(flows)])
    yield pourline.Logs([log], ["one.csv"])


def _rested(seed: int, rest_s: float) -> pourline.Brew:
    recipe = pourline.recipe("clean")
    pour = {"rest_s": 0, "mass_g": 50, "flow_g_per_s": 6 + 0.1 * (seed % 4), "rise_s": 0.3, "fall_s": 0.3}
    recipe["hand"] |= {"planned": [pour, pour | {"rest_s": rest_s}], "tremor": [0, 0]}
    return pourline.analyze(pourline.simulate(recipe, seed=seed)[0])


def reached(value: object, found: dict[type, object]) -> None:
    """Add the first object of each class."""
    if isinstance(value, list | tuple) and type(value) not in CLASSES:
        for one in value[:9]:
            reached(one, found)
    elif isinstance(value, dict):
        for one in value.values():
            reached(one, found)
    elif type(value) in CLASSES:
        found.setdefault(type(value), value)
        for name in dir(type(value)):
            member = getattr(type(value), name)
            if not name.startswith("_") and type(member).__name__ == "getset_descriptor":
                reached(getattr(value, name), found)


def must_be_same(one: Any, again: Any, path: str) -> None:
    """Compare what the two show, bit by bit and without their own equality."""
    assert type(one) is type(again), path
    if isinstance(one, np.ndarray):
        assert (one.dtype, one.tobytes()) == (again.dtype, again.tobytes()), path
    elif isinstance(one, float):
        assert struct.pack("d", one) == struct.pack("d", again), path
    elif isinstance(one, list | tuple):
        assert len(one) == len(again), path
        for place, (left, right) in enumerate(zip(one, again, strict=True)):
            must_be_same(left, right, f"{path}[{place}]")
    elif isinstance(one, dict):
        assert list(one) == list(again), path
        for name in one:
            must_be_same(one[name], again[name], f"{path}[{name}]")
    elif type(one) in CLASSES:
        for name in dir(type(one)):
            if type(getattr(type(one), name)).__name__ in ("getset_descriptor", "property") and name[:2] != "__":
                must_be_same(getattr(one, name), getattr(again, name), f"{path}.{name}")
        for method in ("to_json", "to_dict", "changed"):
            if hasattr(one, method):
                assert str(getattr(one, method)()) == str(getattr(again, method)()), path
    else:
        assert one == again, path


@cache
def objects() -> dict[type, Any]:
    found: dict[type, object] = {}
    for root in roots():
        reached(root, found)
    return found


def test_the_walk_reaches_every_public_class() -> None:
    assert CLASSES - set(objects()) == CHANGING


@pytest.mark.parametrize("protocol", range(pickle.HIGHEST_PROTOCOL + 1))
def test_every_value_comes_back_from_a_pickle_as_it_was(protocol: int) -> None:
    for kind, one in objects().items():
        again = pickle.loads(pickle.dumps(one, protocol))
        assert type(again) is kind
        assert again == one, kind
        must_be_same(one, again, kind.__name__)


def test_every_value_has_equal_copies_and_the_hash_of_its_bits() -> None:
    for kind, one in objects().items():
        again = pickle.loads(pickle.dumps(one))
        assert copy.copy(one) == copy.deepcopy(one) == one, kind
        assert one != object()
        if kind not in {pourline.Table, pourline.Logs}:
            assert hash(one) == hash(again), kind


def test_values_of_other_bits_differ() -> None:
    one, other = (pourline.datasets.load(f"fernspout-ada-0{n}") for n in (1, 2))
    assert one != other
    brew = pourline.analyze(one)
    assert brew == pourline.analyze(one) != pourline.analyze(other)
    assert brew != pourline.analyze(one, {"segment": {"mass_g": 3}})
    assert brew.pours[0] != brew.pours[1]
    assert pourline.Undefined("no dose") == pourline.Undefined("no dose") != pourline.Undefined("no strength")
    assert pourline.Meta(dose_g=15) != pourline.Meta(dose_g=15.5)
    assert {pourline.Options(), pourline.Options(segment={"mass_g": 2})} == {pourline.Options()}


def test_nan_equals_nan_in_the_same_place() -> None:
    nan = float("nan")
    logs = [pourline.Log([0, 0.1, 0.2, 0.3], [0, *two, 1], missing="flag") for two in ([nan, 1], [nan, 1], [1, nan])]
    assert logs[0] == logs[1] != logs[2]
    tables = [pourline.Table({"mass_g": two}) for two in ([nan, 1.0], [nan, 1.0], [1.0, nan])]
    assert tables[0] == tables[1] != tables[2]


def test_a_flow_that_was_pickled_alone_draws_the_same_curves() -> None:
    brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    assert brew.flow is not None
    drawn = brew.flow.sample(3, seed=1)
    for again in (pickle.loads(pickle.dumps(brew.flow)), pickle.loads(pickle.dumps(brew)).flow):
        assert np.array_equal(again.sample(3, seed=1), drawn)


def test_a_pickle_is_small_and_read_without_an_analysis() -> None:
    brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    log = pourline.datasets.load("fernspout-ada-01")
    assert log.water_g is not None
    arrays = log.time_s.nbytes + log.water_g.nbytes + (log.beverage_g.nbytes if log.beverage_g is not None else 0)
    assert len(pickle.dumps(log)) < 2 * arrays
    stored = pickle.dumps(brew)
    began = time.process_time()
    for _ in range(20):
        pickle.loads(stored)
    each_s = (time.process_time() - began) / 20
    began = time.process_time()
    pourline.analyze(log)
    assert each_s < 0.25 * (time.process_time() - began)


def test_a_pickle_of_another_version_says_which_and_what_to_do() -> None:
    estimate: Any = pourline.Estimate(1.0, 0.1)
    unpickle, (version, stored) = estimate.__reduce__()
    assert version == pourline.__version__
    with pytest.raises(pourline.PourlineError, match=r"a pickled Estimate is of version 0\.0\.9.*JSON") as caught:
        unpickle("0.0.9", stored)
    assert caught.value.kind == "format"
    for damaged in (b"", stored[:-1], b"\xff" * 30):
        with pytest.raises(pourline.PourlineError, match="cannot be read"):
            unpickle(version, damaged)


def test_errors_keep_what_they_hold() -> None:
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Log([0.0, 0.1, 0.2], [0.0, 1.0, float("nan")])
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.kind, again.row, again.column) == (str(caught.value), "not_finite", 3, "water_g")
    stopped = pickle.loads(pickle.dumps(pourline.Interrupted([again])))
    assert str(stopped) == "1 logs were done; `done` of this exception has their results"
    assert [str(one) for one in stopped.done] == [str(again)]


def test_copies_of_a_table_are_its_own() -> None:
    table = pourline.Table({"mass_g": [1.0, 2.0]}, units={"mass_g": "g"})
    again = copy.deepcopy(table)
    again["mass_g"][0] = 5
    assert table["mass_g"][0] == 1
