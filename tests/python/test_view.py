"""The Python side of the view: what is sent, what each message does, what is refused. What the page does is in
tests/browser.

What is drawn is read back by the rules of SVG 2 for paths and held against the brew, numbers of pours against
`analyze` with the same labels.
"""

from __future__ import annotations

import re
import sys
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import pourline


@pytest.fixture
def view(log: pourline.Log) -> Any:
    return pourline.view(log)


def ask(view: Any, **message: Any) -> dict[str, Any]:
    view._answer(view, message, [])
    found: dict[str, Any] = view._now
    return found


def points(svg: str, name: str) -> np.ndarray:
    """Return the points of a line of the figure: a point, and how far it is to each of the next."""
    (path,) = ET.fromstring(svg).iterfind(f".//*[@data-name='{name}']")
    stretches = [
        np.array(re.findall(r"-?(?:\d+\.?\d*|\.\d+)", part), dtype=float).reshape(-1, 2).cumsum(axis=0)
        for part in path.get("d", "").replace("h0", "").split("M")[1:]
    ]
    return np.concatenate(stretches)


def values(svg: str, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Return time and value of the points of a line, by the ranges that the figure states."""
    root = ET.fromstring(svg)
    left, width, low_s, high_s = map(float, root.attrib["data-x"].split())
    (path,) = root.iterfind(f".//*[@data-name='{name}']")
    top, height, low, high = map(float, path.attrib["data-y"].split())
    across, up = points(svg, name).T
    return low_s + (across - left) / width * (high_s - low_s), high - (up - top) / height * (high - low)


def test_it_begins_with_the_pours_that_are_found(view: Any, log: pourline.Log, brew: pourline.Brew) -> None:
    assert view.labels == pourline.Labels.of(brew, log)
    assert view.brew.to_json() == brew.to_json()
    now = view._now
    assert now["by_hand"] == ["none", "none"]
    assert (now["steps"], now["as_found"]) == (0, True)
    assert now["rows"][0][:2] == [f"{brew.pours[0].mass_g}", f"{brew.pours[0].duration_s}"]


def test_it_begins_with_labels_that_are_given(log: pourline.Log, brew: pourline.Brew) -> None:
    labels = pourline.Labels(pourline.Labels.of(brew).pours, sd_s=0.1, by="Ada").moved(1, end_s=21.0)
    view: Any = pourline.view(log, labels=labels)
    assert view.labels == labels
    assert view._now["by_hand"] == ["end", "none"]
    assert ask(view, do="reset")["by_hand"] == ["none", "none"]
    assert (view.labels.by, view.labels.sd_s, view.brew.labelled) == ("Ada", 0.1, None)
    assert ask(view, do="undo", steps=1)["by_hand"] == ["end", "none"]


def test_labels_of_another_log_are_refused(log: pourline.Log, time_s: np.ndarray, water_g: np.ndarray) -> None:
    other = pourline.Log(time_s, water_g)
    with pytest.raises(pourline.PourlineError):
        pourline.view(log, labels=pourline.Labels.of(pourline.analyze(other), other))


def test_a_moved_edge_is_analysed_at_once(view: Any, log: pourline.Log) -> None:
    before = view.labels
    now = ask(view, do="move", pour=2, start_s=34.0, ask="a")
    assert view.labels == before.moved(2, start_s=34.0)
    assert view.brew.to_json() == pourline.analyze(log, labels=view.labels).to_json()
    assert now["by_hand"] == ["none", "start"]
    assert (now["answer"], now["said"]) == ("a", "pour 2 starts at 34.00 s")
    # 60 g at 5 g/s from 35 s, by arithmetic: the mass stays, a second of rest more makes the mean flow smaller.
    pour = view.brew.pours[1]
    assert pour.mass_g.value == pytest.approx(60, abs=4 * pour.mass_g.sd)
    assert pour.mean_flow_g_per_s.value == pytest.approx(60 / 13, abs=0.05)
    assert now["warnings"] == view.brew._further != []


def test_every_step_can_be_taken_back(view: Any) -> None:
    first = view.labels
    for end_s in (20.5, 21.0, 21.5):
        ask(view, do="move", pour=1, end_s=end_s)
    ask(view, do="remove", pour=2)
    assert len(view.labels.pours) == len(view.brew.pours) == 1
    assert ask(view, do="undo", steps=1)["steps"] == 3
    assert view.labels == first.moved(1, end_s=21.5)
    assert ask(view, do="undo", steps=3)["as_found"]
    assert view.labels == first
    assert ask(view, do="undo", steps=1)["said"] == "there is no step to undo"


def test_a_pour_is_added_where_there_is_room(view: Any) -> None:
    now = ask(view, do="add", at_s=27.0)
    assert now["added"] == 2
    assert view.labels.pours[1] == (24.5, 29.5)
    assert [pour.start_s.value for pour in view.brew.pours] == [start_s for start_s, _ in view.labels.pours]
    # Between its neighbours there are about 4.5 s, a twentieth of which stays free at each side.
    end_s = view.labels.pours[0][1]
    ask(view, do="add", at_s=22.0)
    start, end = view.labels.pours[1]
    assert start == pytest.approx(end_s + (24.5 - end_s) / 20, abs=0.011)
    assert end == pytest.approx(24.5 - (24.5 - end_s) / 20, abs=0.011)
    assert view.brew.labelled.added == [2, 3]


def test_what_is_refused_changes_nothing(view: Any) -> None:
    before = view.labels
    assert "lies in pour 1" in ask(view, do="add", at_s=12.0)["said"]
    assert "labels.start_s" in ask(view, do="move", pour=2, start_s=5.0)["said"]
    assert "labels.end_s" in ask(view, do="move", pour=2, end_s=1e6)["said"]
    assert ask(view, do="remove", pour=7)["said"]
    assert ask(view, do="dance")["said"] == "not understood"
    assert view.labels == before
    assert view._now["steps"] == 0


def test_a_change_can_be_observed(view: Any) -> None:
    seen: list[pourline.Labels] = []
    view.observe(lambda change: seen.append(change["new"]), "labels")
    ask(view, do="move", pour=1, end_s=20.5)
    assert seen == [view.labels]
    with pytest.raises(Exception, match="read-only"):
        view.labels = None


def test_labels_are_written_only_when_asked(view: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    ask(view, do="move", pour=1, end_s=20.5)
    assert list(tmp_path.iterdir()) == []
    view.labels.write("labels.json")
    assert pourline.Labels.read("labels.json") == view.labels


def test_a_long_log_is_drawn_thinned_and_a_closer_look_is_not() -> None:
    time_s = np.arange(100_000) / 100
    water_g = sum(6.0 * np.clip(time_s - start, 0, 10) for start in range(10, 900, 60))
    water_g = np.round(water_g + np.random.default_rng(3).normal(0, 0.03, len(time_s)), 1)
    view: Any = pourline.view(pourline.Log(time_s, water_g))
    flow = view.brew.flow
    svg = ask(view, do="look", span_s=[0.0, 999.99], width=1000)["svg"]
    assert len(svg) < 150_000
    # No peak is lost: a hundredth of a pixel is less than this.
    _, drawn = values(svg, "flow of water")
    assert len(drawn) <= 4000
    assert drawn.max() == pytest.approx(flow.flow_g_per_s.max(), abs=0.002)
    at_s, drawn = values(ask(view, do="look", span_s=[129.0, 131.0], width=1000)["svg"], "flow of water")
    inside = (time_s >= 129) & (time_s <= 131)
    assert (at_s[0], at_s[-1]) == pytest.approx((129, 131), abs=1e-4)
    # Every sample lies on the line, to a hundredth of a pixel.
    np.testing.assert_allclose(np.interp(time_s[inside], at_s, drawn), flow.flow_g_per_s[inside], atol=0.002)


def test_what_the_figure_draws_can_be_read_off_it(view: Any, brew: pourline.Brew) -> None:
    svg = view._now["svg"]
    flow, trace = brew.flow, brew.trace
    assert flow is not None
    assert trace.water is not None
    at_s, drawn = values(svg, "flow of water")
    # Half a hundredth of a pixel across is 0.5 ms, in which the steepest edge (50 g/s²) changes by 0.025 g/s.
    np.testing.assert_allclose(drawn, np.interp(at_s, flow.time_s, np.maximum(flow.flow_g_per_s, 0)), atol=0.025)
    at_s, drawn = values(svg, "water")
    used = trace.water.flag == "used"
    np.testing.assert_allclose(drawn, np.interp(at_s, trace.time_s[used], trace.water.mass_g[used]), atol=0.1)
    (rect,) = ET.fromstring(svg).findall(".//*[@data-pour='2']")[:1]
    left, width, low_s, high_s = map(float, ET.fromstring(svg).attrib["data-x"].split())
    edge = left + (brew.pours[1].start_s.value - low_s) / (high_s - low_s) * width
    assert float(rect.attrib["x"]) == pytest.approx(edge, abs=0.01)


def test_a_look_changes_the_figure_and_nothing_else(view: Any) -> None:
    ask(view, do="move", pour=2, start_s=34.0, ask="a")
    before = view._now
    now = ask(view, do="look", span_s=[20.0, 40.0], width=500.0)
    assert {**now, "svg": ""} == {**before, "svg": ""}
    assert 'data-x="46 442 20.000000 40.000000"' in now["svg"]
    for span_s, width in (([40.0, 20.0], 500), ([float("nan"), 30.0], 500)):
        assert ask(view, do="look", span_s=span_s, width=width)["svg"] == now["svg"]
    assert 'viewBox="0 0 4000 ' in ask(view, do="look", span_s=[-5.0, 1e9], width=1e9)["svg"]
    assert view._close_s == (0.0, 69.9)
    assert ask(view, do="look", span_s="all", width=500)["said"] == "not understood"


def test_samples_that_were_not_used_are_drawn_too() -> None:
    view: Any = pourline.view(pourline.datasets.load("fernspout-ada-02"))
    channel = view.brew.trace.water
    left_out = np.sum((channel.flag != "used") & np.isfinite(channel.mass_g))
    dots, _ = ET.fromstring(view._now["svg"]).iterfind(".//*[@class='pourline-unused']")
    assert 0 < dots.attrib["d"].count("M") == left_out <= 1000


def test_a_log_without_water_or_without_pours_is_shown(time_s: np.ndarray, beverage_g: np.ndarray) -> None:
    view: Any = pourline.view(pourline.Log(time_s, beverage_g=beverage_g))
    assert 'data-name="beverage"' in view._now["svg"]
    assert 'data-name="water"' not in view._now["svg"]
    assert view._now["pours"] == []
    assert "water" in ask(view, do="add", at_s=20.0)["said"]
    still: Any = pourline.view(pourline.Log(time_s, np.zeros(len(time_s))))
    assert still._now["rows"] == []


def test_a_path_is_read_and_options_are_kept(tmp_path: Path, log: pourline.Log) -> None:
    path = tmp_path / "brew.csv"
    rows = zip(log.time_s.tolist(), log.water_g.tolist() if log.water_g is not None else [], strict=True)
    path.write_text("time_s,water_g\n" + "\n".join(f"{t},{g}" for t, g in rows), encoding="utf-8")
    options = pourline.Options(condition={"scale_lag_s": 0.3})
    view: Any = pourline.view(path, options=options)
    assert view.brew.options == options
    ask(view, do="move", pour=1, end_s=20.5)
    assert view.brew.options == options


def test_a_brew_is_refused_with_what_to_give(brew: pourline.Brew) -> None:
    wrong: Any = brew
    with pytest.raises(pourline.PourlineError, match="a brew does not contain its log") as refused:
        pourline.view(wrong)
    assert refused.value.kind == "argument"


def test_without_anywidget_it_says_what_to_install(log: pourline.Log, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "anywidget", None)
    monkeypatch.delitem(sys.modules, "pourline._view.widget", raising=False)
    with pytest.raises(pourline.PourlineError, match=r"pourline\[notebook\]") as refused:
        pourline.view(log)
    assert refused.value.kind == "install"


def test_where_it_cannot_run_the_card_of_the_brew_stands(view: Any) -> None:
    data, _ = view._repr_mimebundle_()
    assert data["text/html"] == view.brew._repr_html_()
    assert "application/vnd.jupyter.widget-view+json" in data
    assert repr(view) == "View('two pours', 2 pours)"


def test_the_page_asks_for_nothing_from_elsewhere(view: Any) -> None:
    for text in (str(view._esm), str(view._css)):
        assert "import " not in text
        assert "@import" not in text
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
