"""Many brews in rows: what is gathered, what is missing, how factors lie to each other."""

from __future__ import annotations

import numpy as np
import pytest

import pourline

NAMES = ("fernspout-ada-01", "fernspout-ada-02", "broadlip-ada-09", "broadlip-ada-10")


@pytest.fixture(scope="module")
def brews() -> list[pourline.Brew]:
    found = pourline.analyze_many([pourline.datasets.load(name) for name in NAMES])
    return [brew for brew in found if isinstance(brew, pourline.Brew)]


def test_a_row_is_the_mean_of_the_pours_with_their_sd(brews: list[pourline.Brew]) -> None:
    flows = [pour.mean_flow_g_per_s for pour in brews[0].pours]
    taken = pourline.gather(brews).take("mean_flow_g_per_s", "kettle")
    assert taken["brew"].tolist() == list(NAMES)
    assert taken["kettle"].tolist() == ["Fernspout", "Fernspout", "Broadlip", "Broadlip"]
    assert taken["mean_flow_g_per_s"][0] == pytest.approx(np.mean([flow.value for flow in flows]), rel=1e-12)
    # The sd of a mean of n independent numbers is the root of the sum of their squares over n (JCGM 100:2008, 5.1.2).
    sd = np.sqrt(sum(flow.sd**2 for flow in flows)) / len(flows)
    assert taken["mean_flow_sd_g_per_s"][0] == pytest.approx(sd, rel=1e-12)
    assert taken.units["mean_flow_g_per_s"] == "g/s"


def test_one_pour_or_each_pour_can_be_taken(brews: list[pourline.Brew]) -> None:
    second = pourline.gather(brews, pours=2).take("mass_g")
    assert second["mass_g"].tolist() == [brew.pours[1].mass_g.value for brew in brews]
    each = pourline.gather(brews, pours="each")
    assert len(each) == sum(len(brew.pours) for brew in brews)
    assert each.table()["pour"].tolist()[:4] == [1, 2, 3, 4]
    ninth = pourline.gather(brews, pours=9).missing("mass_g")
    assert ninth["reason"].tolist() == [f"the brew has {len(brew.pours)} pours" for brew in brews]


def test_what_is_missing_is_named(brews: list[pourline.Brew]) -> None:
    rests = pourline.gather(brews).missing("rest_before_s")
    assert rests["reason"].tolist() == ["pour 1: no pour comes before the first"] * len(brews)
    failed = pourline.analyze_many(["no such file.csv"])
    study = pourline.gather([*brews, *failed])
    assert len(study) == len(brews)
    missing = study.missing("mass_g")
    assert missing["brew"].tolist() == [f"brew {len(brews) + 1}"]
    assert "no such file.csv" in missing["reason"][0]


def test_rows_are_found_by_their_levels(brews: list[pourline.Brew]) -> None:
    study = pourline.gather(brews)
    assert study.levels("kettle") == ["Broadlip", "Fernspout"]
    assert len(study.only(kettle="Broadlip", day=1)) + len(study.only(kettle="Broadlip", day=2)) == 2
    with pytest.raises(pourline.PourlineError, match="there are: Broadlip, Fernspout"):
        study.only(kettle="Nobody's")
    with pytest.raises(pourline.PourlineError, match="there is no factor"):
        study.take("mass_g", "kettel")
    with pytest.raises(pourline.PourlineError, match="there is no measure"):
        study.take("mass")


def test_a_setting_that_is_a_number_can_be_taken_as_one(brews: list[pourline.Brew]) -> None:
    taken = pourline.gather(brews).take("grinder_setting", "coffee")
    assert set(taken["grinder_setting"].tolist()) <= {22.0, 26.0}


def test_a_table_goes_in_and_out_of_pandas(brews: list[pourline.Brew]) -> None:
    first = pourline.gather(brews)
    again = pourline.Study(first.table().to_pandas())
    assert again.measures == first.measures
    assert again.factors == first.factors
    one, other = (study.take("mean_flow_g_per_s", "kettle") for study in (first, again))
    assert one.to_dict() == other.to_dict()
    # Units live in the field's metadata, which pandas does not carry and polars does not either; our own table does.
    assert pourline.Study(first.table()).units == first.units


@pytest.mark.parametrize(
    ("person", "kettle", "layout", "balanced"),
    [
        (["a", "a", "b", "b"], ["x", "y", "x", "y"], "crossed", True),
        (["a", "a", "a", "b", "b"], ["x", "x", "y", "x", "y"], "crossed", False),
        (["a", "a", "b", "b"], ["x", "x", "y", "y"], "nested", False),
        (["a", "a", "b", "b"], ["x", "y", "y", "y"], "partial", False),
    ],
)
def test_the_design_is_told(person: list[str], kettle: list[str], layout: str, balanced: bool) -> None:
    study = pourline.Study(pourline.Table({"person": person, "kettle": kettle, "mass_g": [1.0] * len(person)}))
    design = study.design("person", "kettle")
    assert (design.layout, design.balanced) == (layout, balanced)
    counts = design.table()
    expected = [[sum(p == a and k == x for p, k in zip(person, kettle, strict=True)) for a in "ab"] for x in "xy"]
    assert [counts[x].tolist() for x in "xy"] == expected


def test_bad_input_is_refused_with_what_to_do(brews: list[pourline.Brew]) -> None:
    with pytest.raises(pourline.PourlineError, match="a Brew is needed"):
        pourline.gather([3])  # type: ignore[list-item]
    with pytest.raises(pourline.PourlineError, match="place from 1"):
        pourline.gather(brews, pours="median")  # type: ignore[arg-type]
    with pytest.raises(pourline.PourlineError, match="counted from 1"):
        pourline.gather(brews, pours=0)
    with pytest.raises(pourline.PourlineError, match="brews"):
        pourline.gather([])
    with pytest.raises(pourline.PourlineError, match="__arrow_c_stream__"):
        pourline.Study([1, 2])  # type: ignore[arg-type]


def test_instants_are_compared_from_the_first_start_of_each_brew() -> None:
    """The same brews on clocks that are 100 s later do not differ."""
    brews = []
    for clock, later_s in (("early", 0.0), ("late", 100.0)):
        for n in range(1, 5):
            log = pourline.datasets.load(f"fernspout-ada-0{n}")
            moved = pourline.Log(log.time_s + later_s, log.water_g, log.beverage_g, factors={"clock": clock})
            brews.append(pourline.analyze(moved))
    study = pourline.gather(brews)
    for name in ("start_s", "end_s", "half_rise_s", "half_fall_s", "peak_s", "first_drip_s", "drawdown_end_s"):
        difference = pourline.compare(study, name, by="clock").pairs[0].difference
        # The instant of a peak is estimated from samples of the posterior.
        assert abs(difference.value) < 0.1, name
    values = pourline.compare(study, "drawdown_end_s", by="clock").values_table()
    ends_s = brews[0].bed.drawdown_end_s
    assert isinstance(ends_s, pourline.Estimate)
    assert values[values.columns[-2]][0] == pytest.approx(ends_s.value - brews[0].time_zero_s)
