"""Whether groups differ: the whole way from a table to an answer, against reference libraries on the same numbers."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
import scipy.stats
import statsmodels.api
from numpy.typing import NDArray

import pourline

mpl.use("agg")


def own(seed: int, step: float = 0.0, people: int = 3, each: int = 4) -> pourline.Table:
    """Invented brews: two kettles, some people, person effects, and a step from one kettle to the other."""
    random = np.random.default_rng(seed)
    person = np.repeat([f"person {k}" for k in range(people)], 2 * each)
    kettle = np.tile(np.repeat(["Fernspout", "Broadlip"], each), people)
    effect = dict(zip(np.unique(person), random.normal(0, 1, people), strict=True))
    flow = (
        6 + np.array([effect[p] for p in person]) + step * (kettle == "Broadlip") + random.normal(0, 0.5, len(person))
    )
    columns = {"person": person, "kettle": kettle, "flow_g_per_s": flow}
    return pourline.Table(columns, units={"flow_g_per_s": "g/s"})


def halves(table: pourline.Table) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    is_b = table["kettle"] == "Broadlip"
    return table["flow_g_per_s"][~is_b], table["flow_g_per_s"][is_b]


def test_two_groups_without_blocks_are_those_of_welch() -> None:
    table = own(1, step=0.4)
    a, b = halves(table)
    # scipy.stats.ttest_ind, equal_var=False.
    expected = scipy.stats.ttest_ind(b, a, equal_var=False)
    pair = pourline.compare(table, "flow_g_per_s", by="kettle").pairs[0]
    assert (pair.a, pair.b, pair.units) == ("Fernspout", "Broadlip", (12, 12))
    assert float(pair.t) == pytest.approx(expected.statistic, rel=1e-10)
    assert pair.degrees == pytest.approx(expected.df, rel=1e-10)
    assert float(pair.p_model) == pytest.approx(expected.pvalue, rel=1e-9)
    # Twelve and twelve are dealt; scatter is normal here, so that the interval is near to that of t.
    assert isinstance(pair.interval, tuple)
    assert pair.interval == pytest.approx(tuple(expected.confidence_interval(0.95)), abs=0.05)


def test_two_groups_within_blocks_are_those_of_least_squares() -> None:
    table = own(2, step=0.4)
    design = np.column_stack(
        [
            table["kettle"] == "Broadlip",
            *(table["person"] == person for person in np.unique(table["person"])),
        ]
    ).astype(float)
    # statsmodels OLS: person as fixed effects.
    expected = statsmodels.api.OLS(table["flow_g_per_s"], design).fit()
    pair = pourline.compare(table, "flow_g_per_s", by="kettle", blocks="person").pairs[0]
    assert pair.difference.value == pytest.approx(expected.params[0], rel=1e-9)
    assert isinstance(pair.interval, tuple)
    # Kettle and person may interact, and the scatter is that within each pair of them: near to, not equal to, the
    # additive fit.
    assert pair.difference.sd == pytest.approx(expected.bse[0], rel=0.15)


def test_the_exact_p_is_that_of_all_arrangements() -> None:
    table = own(3, step=0.6, people=1, each=5)
    a, b = halves(table)
    statistic = lambda x, y: abs(scipy.stats.ttest_ind(y, x, equal_var=False).statistic)  # noqa: E731
    # scipy.stats.permutation_test goes through all 252.
    expected = scipy.stats.permutation_test((a, b), statistic, n_resamples=np.inf, alternative="greater")
    pair = pourline.compare(table, "flow_g_per_s", by="kettle").pairs[0]
    assert pair.arrangements == 252
    assert float(pair.p) == pytest.approx(expected.pvalue, abs=1e-12)


def test_a_person_who_keeps_one_kettle_gives_no_p() -> None:
    person = ["Ada"] * 4 + ["Bo"] * 4
    kettle = ["Fernspout"] * 4 + ["Broadlip"] * 4
    table = pourline.Table({"person": person, "kettle": kettle, "flow": [6.0, 6.1, 6.2, 6.1, 7.0, 7.1, 7.3, 6.9]})
    pair = pourline.compare(table, "flow", by="kettle", blocks=["person"]).pairs[0]
    assert pair.difference.value == pytest.approx(0.975)
    assert isinstance(pair.p, pourline.Undefined)
    assert "single person" in pair.p.reason


def test_pours_of_one_brew_are_not_independent() -> None:
    names = ["fernspout-ada-01", "fernspout-ada-02", "broadlip-ada-09", "broadlip-ada-10"]
    brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
    found = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", pours="each")
    p = found.pairs[0].p
    assert isinstance(p, pourline.Undefined)
    assert "one brew are not independent" in p.reason
    averaged = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", pours="each", average_repeats=True)
    assert averaged.pairs[0].units == (2, 2)


def test_what_is_missing_is_said() -> None:
    table = pourline.Table({"kettle": ["a", "b"] * 4, "flow": [6.1, 6.9, 6.3, 7.0, 6.2, 6.1, 6.5, float("nan")]})
    found = pourline.compare(table, "flow", by="kettle")
    assert any("1 of 8 rows lack" in warning for warning in found.warnings)
    assert found.missing_table()["brew"].tolist() == ["row 8"]


def test_values_that_are_all_the_same_or_all_missing_are_told_so() -> None:
    same = pourline.compare(pourline.Table({"kettle": ["a", "b"] * 4, "flow": [1.0] * 8}), "flow", by="kettle")
    p = same.pairs[0].p
    assert isinstance(p, pourline.Undefined)
    assert p.reason == "all values are the same"
    missing = pourline.Table({"kettle": ["a", "b"] * 2, "flow": [float("nan")] * 4})
    with pytest.raises(
        pourline.PourlineError, match="no row has it with kettle: flow of row 1: the table has no value"
    ):
        pourline.compare(missing, "flow", by="kettle")


def test_a_factor_that_changes_with_the_group_is_named() -> None:
    kettle, person = ["a"] * 6 + ["b"] * 6, ["Ada"] * 6 + ["Bo"] * 6
    flow = [6.1, 6.2, 6.0, 6.3, 6.1, 6.2, 7.1, 7.0, 7.2, 7.3, 6.9, 7.1]
    table = pourline.Table({"kettle": kettle, "person": person, "flow": flow, "order": [float(i) for i in range(12)]})
    found = pourline.compare(table, "flow", by="kettle")
    assert [(one.kind, one.about) for one in found.cautions[:2]] == [("confounded", "person"), ("order", "kettle")]
    assert found.warnings[0] == str(found.cautions[0])
    assert "(aaaaaabbbbbb)" in found.warnings[1]
    sentence, basis = str(found).splitlines()
    assert sentence.endswith("but person changes with kettle.")
    assert basis == "It rests on 12 brews (a 6, b 6); 2 people; days not stated."
    # Every warning of the design is a fact and what to do, in thirty words.
    assert all(len(one.text.split()) <= 30 for one in found.cautions), found.warnings


def test_the_order_is_that_of_start_times_or_unknown() -> None:
    flow = [6.1, 6.2, 6.0, 6.3, 6.1, 6.2, 7.1, 7.0]
    kettle = ["a"] * 4 + ["b"] * 4

    def kinds(found: pourline.Comparison) -> list[str]:
        return [one.kind for one in found.cautions]

    times = [f"2026-05-04T0{8 + i // 4}:{10 * (i % 4):02}:00Z" for i in range(8)]
    timed = pourline.compare(pourline.Table({"kettle": kettle, "flow": flow, "started_at": times}), "flow", by="kettle")
    assert "order" in kinds(timed)
    # Stamps within a minute are those of copied files.
    copied = [f"2026-05-04T08:00:{i:02}Z" for i in range(8)]
    unknown = pourline.compare(
        pourline.Table({"kettle": kettle, "flow": flow, "started_at": copied}), "flow", by="kettle"
    )
    assert "order_unknown" in kinds(unknown)
    assert "order" not in kinds(unknown)


def test_the_answer_is_a_sentence_and_a_card() -> None:
    table = own(4, step=2.0)
    found = pourline.compare(table, "flow_g_per_s", by="kettle", blocks="person", margin=0.1)
    assert str(found).startswith("Broadlip is ")
    assert ": shown (95 % interval" in str(found)
    assert "not shown to be equivalent within 0.1 g/s" in str(found)
    # A p above the level is no evidence of no difference.
    unclear = pourline.compare(own(4, step=0.0), "flow_g_per_s", by="kettle", blocks="person")
    assert unclear.pairs[0].verdict == "not shown"
    assert ": not shown (95 % interval" in str(unclear)
    assert "no difference" not in str(unclear)
    alike = pourline.compare(own(4, step=0.0), "flow_g_per_s", by="kettle", blocks="person", margin=3.0)
    assert alike.pairs[0].verdict == "equivalent"
    assert ": equivalent within 3 g/s (95 % interval" in str(alike)
    nasty = pourline.Table({"kettle": ["<script>", "b"] * 4, "flow": [6.1, 6.9, 6.3, 7.0, 6.2, 6.1, 6.5, 6.0]})
    card = pourline.compare(nasty, "flow", by="kettle")._repr_html_()
    assert "<script>" not in card
    assert "&lt;script&gt;" in card


def test_the_figure_has_every_value_and_every_pair() -> None:
    import matplotlib.pyplot as plt

    found = pourline.compare(own(5), "flow_g_per_s", by="kettle")
    _, axes = plt.subplots(1, 2)
    values, differences = pourline.plot_comparison(found, axes)
    assert values.get_ylabel() == "flow, g/s"
    assert [label.get_text() for label in values.get_xticklabels()] == ["Fernspout\n12 brews", "Broadlip\n12 brews"]
    assert [label.get_text() for label in differences.get_yticklabels()] == ["Broadlip\nless Fernspout"]
    plt.close("all")
    with pytest.raises(pourline.PourlineError, match="two axes"):
        pourline.plot_comparison(found, [])


def test_bad_input_is_refused_with_what_to_do() -> None:
    table = own(6)
    with pytest.raises(pourline.PourlineError, match="there is no measure"):
        pourline.compare(table, "flow", by="kettle")
    with pytest.raises(pourline.PourlineError, match="a blocking factor must be another one"):
        pourline.compare(table, "flow_g_per_s", by="kettle", blocks="kettle")
    with pytest.raises(pourline.PourlineError, match='nearest is "margin"'):
        pourline.compare(table, "flow_g_per_s", by="kettle", margine=0.2)  # type: ignore[call-arg]
    with pytest.raises(pourline.PourlineError, match="gathered already"):
        pourline.compare(pourline.Study(table), "flow_g_per_s", by="kettle", pours=1)


def test_measures_that_are_tested_together_have_the_p_and_interval_of_bonferroni() -> None:
    """Dunn 1961: at 5 % for five measures each is tested at 1 %, and its p is five times its own."""
    flow = [6.1, 6.9, 6.3, 7.0, 5.9, 6.8, 6.2, 7.3, 6.0, 7.2, 5.4, 6.9]
    table = pourline.Table({"kettle": ["a", "b"] * 6, "flow": flow})
    five = pourline.compare(table, "flow", by="kettle", measures=5).pairs[0]
    alone = pourline.compare(table, "flow", by="kettle", level=0.99).pairs[0]
    assert isinstance(five.p, pourline.Estimate)
    assert isinstance(alone.p, pourline.Estimate)
    assert five.p.value == pytest.approx(5 * alone.p.value)
    assert five.interval == alone.interval
    assert five.verdict == alone.verdict
    with pytest.raises(pourline.PourlineError, match="measures"):
        pourline.compare(table, "flow", by="kettle", measures=0)


def test_false_findings_among_measures_stay_below_the_level_for_all() -> None:
    """150 studies without any difference in five independent measures: binomial bound, 5 % and three sd."""
    rng = np.random.default_rng(8)
    found, studies = 0, 150
    for _ in range(studies):
        values = {f"m{k}": rng.normal(5, 1, 12) for k in range(5)}
        table = pourline.Table({"kettle": ["a", "b"] * 6, **values})
        found += any(
            pourline.compare(table, name, by="kettle", measures=5).pairs[0].verdict == "shown" for name in values
        )
    assert found / studies < 0.05 + 3 * (0.05 * 0.95 / studies) ** 0.5, found


def test_a_word_of_the_trade_finds_its_measures() -> None:
    study = pourline.gather([pourline.analyze(pourline.datasets.load("fernspout-ada-01"))])
    for word, names in {"steadiness": ("time_near_plateau_pct", "flow_cv"), "drawdown": ("drawdown_end_s",)}.items():
        with pytest.raises(pourline.PourlineError, match="perhaps") as refused:
            pourline.compare(study, word, by="kettle")
        assert all(name in str(refused.value) for name in names)
        assert len(str(refused.value)) < 160


@pytest.mark.parametrize(
    ("measure", "words"),
    [("flow_cv", "flow CV"), ("drawdown_end_s", "end of drawdown"), ("time_near_plateau_pct", "steadiness")],
)
def test_people_read_the_words_of_a_measure_and_not_its_column(measure: str, words: str, tmp_path: Path) -> None:
    values = [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]
    table = pourline.Table({"kettle": ["Fernspout", "Broadlip"] * 4, measure: values})
    found = pourline.compare(table, measure, by="kettle")
    page = pourline.report(found, tmp_path / "page.html").read_text(encoding="utf-8")
    for text in (found._repr_html_(), page):
        assert f"above Broadlip in {words}: " in text or f"above Fernspout in {words}: " in text
        assert f"in {measure}: " not in text
