"""Agitation in Python: two pours from arithmetic, a stream from the balances, options, table, command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

import pourline
from pourline.cli import main
from pourline.tables import stack

G_M_PER_S2 = 9.80665
KETTLE: Any = {"spout_bore_m": 0.006, "fall_height_m": 0.2}


def known(number: pourline.Estimate | pourline.Undefined) -> pourline.Estimate:
    assert isinstance(number, pourline.Estimate), number
    return number


def rows(brew: pourline.Brew) -> list[pourline.PourAgitation]:
    assert brew.agitation is not None
    return brew.agitation.pours


@pytest.fixture(scope="module")
def hot(time_s: object, water_g: object) -> pourline.Log:
    return pourline.Log(time_s, water_g, dose_g=7.5, water_c=93)  # type: ignore[arg-type]


def test_without_a_kettle_the_flow_alone_is_told(brew: pourline.Brew) -> None:
    # 6 g/s for 10 s and 5 g/s for 12 s, by construction.
    for row, (flow, lasts) in zip(rows(brew), [(6, 10), (5, 12)], strict=True):
        assert float(row.flow_impulse_g2_per_s) == pytest.approx(flow**2 * lasts, rel=0.02)
        assert float(row.mass_weighted_flow_g_per_s) == pytest.approx(flow, rel=0.02)
        assert float(row.peak_to_mean_flow) == pytest.approx(1, abs=0.06)
        assert isinstance(row.energy_j, pourline.Undefined)
        assert "spout_bore_m was not given" in row.energy_j.reason
        assert isinstance(row.stream.fall_height_m, pourline.Undefined)
        assert isinstance(row.stream.arrival, pourline.Undefined)
        assert row.speed_source is None
        assert (row.swirls, row.lifts, row.knocks, row.splashes) == (0, 0, 0, 0)


def test_with_a_kettle_the_energy_is_that_of_the_fall(hot: pourline.Log) -> None:
    for row in rows(pourline.analyze(hot, pourline.Options(agitation=KETTLE))):
        # 60 g from 20 cm, and a little for the speed at the spout; own arithmetic.
        spout = known(row.stream.spout_speed_m_per_s).value
        assert float(row.energy_j) == pytest.approx(0.06 * (G_M_PER_S2 * 0.2 + spout**2 / 2), rel=2e-3)
        assert float(row.energy_j_per_g) == pytest.approx(float(row.energy_j) / 7.5)
        assert float(row.stream.speed_m_per_s) == pytest.approx((spout**2 + 2 * G_M_PER_S2 * 0.2) ** 0.5)
        assert row.speed_source == "stated"
        assert row.stream.arrival in ("likely_unbroken", "may_be_broken", "likely_broken")


def test_a_stream_is_that_of_the_balances() -> None:
    # Computed outside the library with IAPWS water at 93 C: 5 mL/s, 6 mm, 20 cm.
    stream = pourline.Stream(4.816355, 0.006, 0.2, 93)
    told = [stream.speed_m_per_s, stream.width_mm, stream.reynolds, stream.weber, stream.force_n, stream.in_flight_g]
    expected = [1.9884, 1.789, 11284, 113.1, 9.577e-3, 0.890]
    assert [float(number) for number in told] == pytest.approx(expected, rel=6e-4)
    with pytest.raises(pourline.PourlineError) as refused:
        pourline.Stream(4.8, 0.006, -0.2, 93)
    assert refused.value.kind == "out_of_range"
    with pytest.raises(pourline.PourlineError, match="fall_height_m"):
        pourline.Stream(4.8, 0.006, pourline.Undefined("nobody knows"), 93)  # type: ignore[arg-type]


def test_the_height_comes_from_a_fast_and_clean_log_and_says_so() -> None:
    recipe = pourline.recipe()
    recipe["hand"] |= {"stream_m_per_s": [2.0, 2.0]}
    recipe["scale"] |= {"rate_hz": 50, "noise_sd_g": 0.02, "step_g": 0.01}
    recipe["meta"] |= {"water_c": 93.0}
    log, _ = pourline.simulate(recipe, seed=3)
    row = rows(pourline.analyze(log, pourline.Options(agitation={"spout_bore_m": 0.006})))[0]
    height = known(row.stream.fall_height_m)
    expected = (4.0 - known(row.stream.spout_speed_m_per_s).value ** 2) / (2 * G_M_PER_S2)
    assert abs(height.value - expected) < 3 * height.sd < 0.1
    assert row.speed_source == "scale"


def test_options_reach_the_stage_and_wrong_ones_are_refused(hot: pourline.Log) -> None:
    trace = pourline.condition(hot)
    segments = pourline.segment(trace)
    flow = pourline.flow(trace, segments)
    above = pourline.agitation(trace, segments, flow, above_g_per_s=5.5, **KETTLE).pours
    assert float(above[0].time_above_s) == pytest.approx(10, abs=0.5)
    assert float(above[1].time_above_s) < 1.5
    wrongs: list[Any] = [{"spout_bore_m": 6}, {"fall_height_m": 0}, {"above_g_per_s": -1}]
    for wrong in wrongs:
        with pytest.raises(pourline.PourlineError) as refused:
            pourline.Options(agitation=wrong)
        assert refused.value.kind == "out_of_range"
    with pytest.raises(pourline.PourlineError, match="spout_bore_m"):
        pourline.Options(agitation={"spout_bore": 0.006})  # type: ignore[arg-type]


def test_every_column_says_that_it_is_an_ordinal_proxy(hot: pourline.Log) -> None:
    brew = pourline.analyze(hot, pourline.Options(agitation=KETTLE))
    table = brew.table(all=True)
    names = [name for name, note in table.notes.items() if note == "ordinal proxy for agitation"]
    assert {"energy_j", "energy_sd_j", "flow_impulse_sd_g2_per_s", "reynolds", "arrival", "splashes"} <= set(names)
    assert table.notes["mass_g"] == ""
    field = pa.table(table).schema.field("energy_j")
    assert field.metadata == {b"unit": b"J", b"note": b"ordinal proxy for agitation"}
    assert table.to_pandas().attrs["notes"] == table.notes
    assert stack([table, table]).notes == table.notes
    assert "ordinal proxies" in repr(brew.agitation) + repr(rows(brew)[0])
    assert "ordinal proxies" in repr(rows(brew)[0].stream)
    assert json.loads(brew.to_json())["agitation"]["pours"][0]["speed_source"] == "stated"


def test_the_command_line_takes_its_options(tmp_path: Path) -> None:
    log = pourline.datasets.FOLDER / "brews" / "fernspout-ada-01.csv"
    out = tmp_path / "table.csv"
    words = ["--option", "agitation.spout_bore_m=0.006", "--option", "agitation.fall_height_m=0.2"]
    assert main(["analyze", str(log), *words, "--full", "-o", str(out)]) == 0
    head, first, *_ = out.read_text(encoding="utf-8").splitlines()
    assert float(dict(zip(head.split(","), first.split(","), strict=True))["energy_j"]) > 0


def test_without_water_there_is_no_agitation(time_s: object, beverage_g: object) -> None:
    assert pourline.analyze(pourline.Log(time_s, None, beverage_g)).agitation is None  # type: ignore[arg-type]
