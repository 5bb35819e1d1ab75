"""A brew as a container of its pours, a table as one of its rows, frames as logs, and answers to misspelt names."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest

import pourline


def test_a_brew_is_the_list_of_its_pours(brew: pourline.Brew) -> None:
    assert len(brew) == len(brew.pours) == 2
    assert list(brew) == brew.pours == [brew[0], brew[1]] == brew[:] == brew[::-1][::-1]
    assert brew[-1] == brew.pours[-1] in brew
    assert brew[0] is brew[0]
    brew.pours.clear()
    assert len(list(brew)) == len(brew.pours) == 2
    with pytest.raises(IndexError):
        brew[2]


def test_a_pour_of_a_brew_answers_for_its_metrics_agitation_and_drainage(brew: pourline.Brew) -> None:
    assert brew.agitation is not None
    parts: list[Any] = [brew.metrics, brew.agitation, brew.bed]
    names = []
    for part in parts:
        for pour, row in zip(brew, part.pours, strict=True):
            own = [name for name in dir(type(row)) if not name.startswith("_")]
            assert all(getattr(pour, name) == getattr(row, name) for name in own)
            names += own
    assert {"flow_cv", "flow_impulse_g2_per_s", "conductance_g_per_s"} < set(names) <= set(dir(brew[0]))
    # No name stands for two numbers.
    own = [name for name in dir(pourline.Pour) if not name.startswith("_")]
    assert len({*own, *names}) == len(own) + len(names) // len(brew)


def test_a_pour_without_its_brew_says_where_the_metrics_are(brew: pourline.Brew) -> None:
    with pytest.raises(AttributeError, match='Pour has no "flow_cv"; it is an attribute of PourMetrics'):
        _ = brew.segments.pours[0].flow_cv


def test_a_brew_hands_out_its_table_text_figure_page_and_dict(brew: pourline.Brew, tmp_path: Path) -> None:
    pd.testing.assert_frame_equal(brew.to_pandas(all=True), brew.table(all=True).to_pandas())
    assert brew.summary() == str(brew)
    assert list(brew.plot()) == list(pourline.plot(brew))
    page = brew.report(tmp_path / "brew.html", title="Two pours")
    assert "Two pours" in page.read_text(encoding="utf-8")
    assert pourline.Brew.from_json(brew.to_json()).to_dict() == brew.to_dict()
    assert brew.to_dict()["meta"]["dose_g"] == 7.5


def test_a_table_is_the_list_of_its_rows(brew: pourline.Brew) -> None:
    table = brew.table(all=True)
    assert [row["pour"] for row in table] == [1, 2]
    assert list(table[0]) == table.columns
    pd.testing.assert_frame_equal(pd.DataFrame(table), table.to_pandas())
    assert pl.DataFrame(list(table), infer_schema_length=None).columns == table.columns


def test_a_table_gives_some_rows_and_some_columns() -> None:
    table = pourline.Table({"pour": [1, 2, 3], "mass_g": [4.0, 5.0, 6.0]}, {"mass_g": "g"}, {"mass_g": "a note"})
    expected = pourline.Table({"pour": [2, 3], "mass_g": [5.0, 6.0]}, {"mass_g": "g"}, {"mass_g": "a note"})
    places: list[Any] = [slice(1, None), slice(-2, 9), table["mass_g"] > 4.5, [1, 2], np.array([1, 2])]
    for some in places:
        assert table[some] == expected
    assert table[["mass_g"]] == pourline.Table({"mass_g": [4.0, 5.0, 6.0]}, {"mass_g": "g"}, {"mass_g": "a note"})
    assert table[-1] == table[int(np.int64(2))] == {"pour": 3, "mass_g": 6.0}
    assert table._ipython_key_completions_() == ["pour", "mass_g"]
    with pytest.raises(IndexError):
        table[3]
    names: list[Any] = ["mass", ["pour", "mass"]]
    for key in names:
        with pytest.raises(pourline.PourlineError, match="there is no column 'mass'"):
            table[key]


def test_frames_series_and_dicts_are_logs(log: pourline.Log) -> None:
    assert log.water_g is not None
    columns = {"time_s": log.time_s, "water_g": log.water_g}
    frame = pd.DataFrame(columns)
    meta: dict[str, Any] = {"dose_g": 15, "kettle": "Fernspout"}
    expected = pourline.Log(log.time_s, log.water_g, **meta)
    given: tuple[Any, ...] = (
        frame,
        frame.set_index("time_s"),
        frame.set_index("time_s")["water_g"],
        pd.Series(log.water_g, index=log.time_s),
        pl.DataFrame(columns),
        columns,
        {name: list(values) for name, values in columns.items()},
        pourline.Table(columns),
    )
    for one in given:
        assert pourline.Log(one, **meta) == pourline.read(one, **meta) == expected
        assert pourline.analyze(one) == pourline.analyze(frame)
    clocked = pd.Series(log.water_g, index=pd.to_timedelta(log.time_s, unit="s"), name="water_g")
    assert pourline.Log(clocked).time_s == pytest.approx(log.time_s, abs=1e-9)
    dated = pd.Series(log.water_g, index=pd.Timestamp("2026-05-04 07:30") + clocked.index, name="water_g")
    assert np.diff(pourline.Log(dated).time_s) == pytest.approx(np.diff(log.time_s), abs=1e-6)


@pytest.mark.parametrize("wrong", [{}, {"time_s": [0, 1]}, {"a": ["x"], "b": ["y"]}, {"time_s": 3}, pd.Series(["x"])])
def test_what_holds_no_log_is_refused_with_a_reason(wrong: Any) -> None:
    for function in (pourline.Log, pourline.read, pourline.analyze):
        with pytest.raises(pourline.PourlineError):
            function(wrong)


def test_a_dict_stands_for_options(log: pourline.Log) -> None:
    given: Any = {"segment": {"mass_g": 5}, "condition": {"scale_lag_s": 0.25}}
    options = pourline.Options(**given)
    expected = pourline.analyze(log, options)
    assert pourline.analyze(log, given) == pourline.analyze(log, options=given) == expected
    assert pourline.analyze_many([log], given, progress=False) == [expected]
    assert pourline.analyze_all(log, given) == pourline.analyze_all(log, options)
    for wrong, text in (
        ({"segment": {"mas_g": 5}}, 'segment.mas_g: there is no such name; the nearest is "mass_g"'),
        ({"segmet": {}}, 'segmet: there is no such name; the nearest is "segment"'),
        ({"segment": {"mass_g": -5}}, "mass_g"),
        ({"segment": 5}, "a dict is needed"),
        ([("segment", {})], "Options or a dict of stages is needed"),
        (5, "Options or a dict of stages is needed"),
    ):
        with pytest.raises(pourline.PourlineError, match=re.escape(text)):
            pourline.analyze(log, wrong)  # type: ignore[arg-type]


def test_an_unknown_attribute_is_answered_with_the_nearest(brew: pourline.Brew, log: pourline.Log) -> None:
    table = brew.table()
    cases: list[tuple[object, str, str]] = [
        (brew, "watr_g", 'Brew has no "watr_g"; the nearest is "water_g"'),
        (brew, "flow_cv", 'Brew has no "flow_cv"; it is an attribute of PourMetrics, TruePour'),
        (brew[0], "plateau_flow", 'Pour has no "plateau_flow"; the nearest is "plateau_flow_g_per_s"'),
        (log, "times_s", 'Log has no "times_s"; the nearest is "time_s"'),
        (pourline.Estimate(1), "std", 'Estimate has no "std"; the nearest is "sd"'),
        (table, "mass_g", "Table has no 'mass_g'; a column is taken by table[\"mass_g\"]"),
        (table, "to_panda", "Table has no 'to_panda'; the nearest is 'to_pandas'"),
        (pourline, "analyse", "pourline has no 'analyse'; the nearest is 'analyze'"),
    ]
    for owner, name, text in cases:
        assert not hasattr(owner, name)
        with pytest.raises(AttributeError) as caught:
            getattr(owner, name)
        assert str(caught.value) == text
    for owner in (brew, table, pourline):
        assert not hasattr(owner, "__array__")
        assert not hasattr(owner, "_repr_mimebundle_")


def test_the_citation_is_that_of_the_file() -> None:
    file = Path(__file__).parents[2] / "CITATION.cff"
    stated = dict(line.split(": ", 1) for line in file.read_text(encoding="utf-8").splitlines() if ": " in line)
    text = pourline.cite()
    assert stated["abstract"].rstrip(".") in text
    assert f"version = {{{stated['version']}}}" in text
    assert stated["  - name"] in text
    assert text.count("{") == text.count("}")


def test_the_versions_are_those_of_the_extra_all(capsys: pytest.CaptureFixture[str]) -> None:
    project = (Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8")
    extras = re.search(r'^all = \["pourline\[(.*)\]"\]$', project, re.MULTILINE)
    assert extras is not None
    packages = [re.search(rf'^{extra} = \["([a-z-]+)', project, re.MULTILINE) for extra in extras[1].split(",")]
    pourline.show_versions()
    shown = {line.split()[0]: line.split()[1] for line in capsys.readouterr().out.splitlines()}
    assert {found[1] for found in packages if found} < set(shown)
    assert shown["numpy"] == np.__version__
    assert shown["pourline"] == pourline.__version__
