"""A plan in Python: two pours from arithmetic against it, files, card, figure, progress, the command."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest

import pourline

mpl.use("agg")
ROOT = Path(__file__).parents[2]
# 60 g at 6 g/s from 10 s, 60 g at 5 g/s from 35 s: the second starts 25 s after the first.
AS_POURED = (
    "[[pour]]\nstart_s = 0\nmass_g = 60\nflow_g_per_s = 6\n[[pour]]\nstart_s = 25\nmass_g = 60\nflow_g_per_s = 5\n"
)


def known(number: pourline.Estimate | pourline.Undefined) -> pourline.Estimate:
    assert isinstance(number, pourline.Estimate), number
    return number


def test_pours_as_planned_are_within_and_score_100(brew: pourline.Brew) -> None:
    followed = pourline.Plan.parse(AS_POURED).follow(brew)
    first, second = followed.pours
    assert (
        first.start_within_tolerance,
        second.start_within_tolerance,
        second.mass_within_tolerance,
        second.flow_within_tolerance,
    ) == (None, "yes", "yes", "yes")
    assert known(followed.zero_s).value == pytest.approx(10, abs=0.1)
    assert (float(followed.score), followed.lost) == (100, [])
    assert followed.head == "100 of 100. Nothing to work on: all is within its tolerance."


def test_a_plan_that_was_not_kept_says_by_how_much(brew: pourline.Brew) -> None:
    pours = [pourline.PlannedPour(0, 50, 6), pourline.PlannedPour(17, 62, 5.9), pourline.PlannedPour(60, 30)]
    followed = pourline.Plan("stricter", pours).follow(brew)
    first, second, third = followed.pours
    assert known(first.mass_deviation_g).value == pytest.approx(50 + 20 - 60, abs=0.3)
    assert known(second.start_deviation_s).value == pytest.approx(25 - 17, abs=0.1)
    assert known(second.flow_deviation_g_per_s).value == pytest.approx(5 - 5.9, abs=0.05)
    assert (
        first.mass_within_tolerance,
        second.start_within_tolerance,
        second.mass_within_tolerance,
        second.flow_within_tolerance,
    ) == ("no", "no", "yes", "no")
    assert (third.pour, followed.missed, followed.work_on) == (None, [3], "Pour 3 of the plan was missed.")
    with pytest.raises(pourline.PourlineError, match="missed"):
        float(third.mass_g)
    fewer = pourline.Plan("stricter", pours[:2]).follow(brew)
    assert fewer.work_on == "Nothing to work on: no deviation recurs beyond chance."
    # Own arithmetic: 10 g of 3 g, 8 s of 3 s, .9 of .5 g/s; five items of 20 points each.
    lost = dict(fewer.lost)
    assert lost["mass"] == pytest.approx(20 * (1 - 3 / 10), abs=0.3)
    assert lost["start"] == pytest.approx(20 * (1 - 3 / 8), abs=0.3)
    assert lost["flow"] == pytest.approx(20 * (1 - 0.5 / 0.9), abs=1.5)
    assert sum(lost.values()) + float(fewer.score) == pytest.approx(100)
    assert sum(one.points_lost for one in fewer.pours) + float(fewer.score) == pytest.approx(100)


def test_steadiness_and_pauses_are_planned_in_a_file_and_judged(brew: pourline.Brew) -> None:
    text = AS_POURED.replace("[[pour]]", "[[pour]]\ntime_near_plateau_pct = 85\npauses = 0")
    plan = pourline.Plan.parse(text)
    assert [(pour.time_near_plateau_pct, pour.pauses) for pour in plan.pours] == [(85, 0), (85, 0)]
    followed = plan.follow(brew)
    for found, row in zip(followed.pours, brew.metrics.pours, strict=True):
        assert found.time_near_plateau_pct == row.time_near_plateau_pct
        assert found.time_near_plateau_within_tolerance == "yes"
        assert found.pauses_within_tolerance in ("yes", None)
    assert float(followed.score) == 100
    table = followed.table()
    assert table["planned_time_near_plateau_pct"].tolist() == [85, 85]
    _, off = pourline.plot_plan(plan, brew)
    assert "steadiness: steady is up" in {line.get_label() for line in off.lines}
    for wrong in ("time_near_plateau_pct = 101", "time_near_plateau_pct = 0", "pauses = 0.5", "pauses = -1"):
        with pytest.raises(pourline.PourlineError, match=wrong.split(" =", maxsplit=1)[0]):
            pourline.Plan.parse(AS_POURED + wrong + "\n")


def test_a_habit_needs_three_brews_and_names_its_pour(brew: pourline.Brew) -> None:
    plan = pourline.Plan("one", [pourline.PlannedPour(0, 50), pourline.PlannedPour(25, 60)])
    followed = plan.follow(brew)
    assert pourline.habits([]) == []
    assert pourline.habits([followed] * 2) == []
    # Of 60 g that were poured, 50 were planned: the same brew four times has no scatter.
    habits = pourline.habits([followed] * 4)
    assert [(one.item, one.pour, one.count) for one in habits] == [("mass", 1, 4)]
    assert str(habits[0]) == "Pour 1 is 10.0 g over, in 4 of 4 brews; 3.0 g are allowed."


def test_every_face_says_the_direction_of_a_deviation(brew: pourline.Brew) -> None:
    """The first pour brings 60 g: planned as 50 it is too much, as 70 too little."""
    for planned_g, side in ((50, 1), (70, -1)):
        plan = pourline.Plan("one", [pourline.PlannedPour(0, planned_g)])
        followed = plan.follow(brew)
        deviation = known(followed.pours[0].mass_deviation_g)
        assert deviation.value * side > 5
        assert followed.table()["mass_deviation_g"][0] == deviation.value
        assert f">{deviation.value:+.1f}*</td>" in followed._repr_html_()
        _, off = pourline.plot_plan(plan, brew)
        marks = [np.asarray(line.get_ydata(), dtype="f8") for line in off.lines if line.get_marker() == "s"]
        assert [float(one[0]) * side > 0 for one in marks if len(one)] == [True]


def test_a_file_is_read_and_what_is_wrong_is_told_by_file_line_and_key(tmp_path: Path) -> None:
    path = tmp_path / "morning.toml"
    path.write_text(AS_POURED)
    assert pourline.Plan.read(path).name == "morning"
    assert pourline.Plan.read(str(path)).pours == pourline.Plan.parse(AS_POURED).pours
    path.write_text(AS_POURED.replace("mass_g = 60\nflow_g_per_s = 5", "mass_g = 0"))
    with pytest.raises(pourline.PourlineError, match=r"morning\.toml, line 7, mass_g of pour 2 is 0") as refused:
        pourline.Plan.read(path)
    assert refused.value.kind == "out_of_range"
    path.write_text(AS_POURED.replace("mass_g", "weight_g", 1))
    with pytest.raises(pourline.PourlineError, match=r"morning\.toml, line 3: .*weight_g") as refused:
        pourline.Plan.read(path)
    assert refused.value.kind == "format"
    with pytest.raises(pourline.PourlineError, match=r"none\.toml"):
        pourline.Plan.read(tmp_path / "none.toml")
    with pytest.raises(pourline.PourlineError, match="still runs"):
        pourline.Plan("", [pourline.PlannedPour(0, 60, 2), pourline.PlannedPour(20, 60)])


def test_the_guide_tells_every_key_with_its_default() -> None:
    guide = (ROOT / "docs" / "plan.md").read_text(encoding="utf-8")
    told = dict(re.findall(r"^\| `(\w+)` \| \S.*? \| .* \| (\S+) \|$", guide, re.MULTILINE))
    plain = pourline.PlannedPour(0, 1)
    keys = [name for name in dir(plain) if not name.startswith("_")]
    assert set(keys) <= set(told)
    for key in (name for name in keys if "within" in name):
        assert float(told[key]) == getattr(plain, key)


def test_the_table_leaves_by_arrow_and_json_is_whole(brew: pourline.Brew) -> None:
    followed = pourline.Plan("one", [pourline.PlannedPour(0, 60)]).follow(brew)
    frame = followed.table().to_pandas()
    assert frame["pour"].tolist() == [1, 2]
    assert frame["mass_within_tolerance"].isna().tolist() == [False, True]
    assert frame["planned_pour"].isna().tolist() == [False, True]
    assert frame.attrs["units"]["flow_deviation_g_per_s"] == "g/s"
    told = json.loads(followed.to_json())
    assert told["score"]["value"] == followed.score.value
    assert [one["pour"] for one in told["extra"]] == [2]


def test_the_card_escapes_and_names_what_to_work_on(time_s: object, water_g: object) -> None:
    brew = pourline.analyze(pourline.Log(time_s, water_g, name="<b>"))  # type: ignore[arg-type]
    card = pourline.Plan("<i>", [pourline.PlannedPour(0, 40)]).follow(brew)._repr_html_()
    assert "<b>" not in card
    assert "<i>" not in card
    assert "is not in the plan." in card


def test_a_brew_without_water_is_refused(time_s: object, beverage_g: object) -> None:
    brew = pourline.analyze(pourline.Log(time_s, None, beverage_g))  # type: ignore[arg-type]
    with pytest.raises(pourline.PourlineError, match="not weighed") as refused:
        pourline.Plan("one", [pourline.PlannedPour(0, 60)]).follow(brew)
    assert refused.value.kind == "column"


def test_the_figure_takes_axes_and_shows_planned_and_poured(brew: pourline.Brew) -> None:
    from matplotlib.figure import Figure

    axes = Figure().subplots(2)
    water, off = pourline.plot_plan(pourline.Plan.parse(AS_POURED), brew, axes)
    assert (water, off) == tuple(axes)
    planned, poured = water.get_lines()
    assert np.max(planned.get_ydata()) == 120
    assert np.max(poured.get_ydata()) == pytest.approx(120, abs=0.5)
    # Start, mass and flow of both pours, but for the start that starts the clock: each a bar and a marker; a line each
    # for the legend.
    assert len(off.get_lines()) == 1 + 3 + 2 * 5
    with pytest.raises(pourline.PourlineError, match="two axes"):
        pourline.plot_plan(pourline.Plan.parse(AS_POURED), brew, [water])


def test_progress_takes_dates_and_followed_plans(brew: pourline.Brew) -> None:
    followed = pourline.Plan.parse(AS_POURED).follow(brew)
    days = [date(2031, 5, day) for day in (30, 31)] + [date(2031, 6, day) for day in (1, 2)]
    found = pourline.progress([(day, followed) for day in days])
    assert [day.day - days[0].toordinal() for day in found.days] == [0, 1, 2, 3]
    assert known(found.slope_per_day).value == pytest.approx(0, abs=1e-12)
    assert found.table()["mean"].tolist() == [followed.score.value] * 4
    missing = pourline.progress([(1, followed.pours[0].start_deviation_s), (2, 0.5)])
    assert (missing.left_out, len(missing.days), missing.interval_per_day) == (1, 1, None)
    assert missing.says == "no verdict yet: 1 day, and 4 are needed; 3 more"
    for wrong in ([1, 2], [(1.5, 0.2)], [("monday", 0.2)], [(1, "good")]):
        with pytest.raises((pourline.PourlineError, TypeError)):
            pourline.progress(wrong)  # type: ignore[arg-type]


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pourline", "plan", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def test_the_command_prints_a_row_a_pour_and_what_to_work_on(tmp_path: Path) -> None:
    plan, log, bad = tmp_path / "plan.toml", tmp_path / "log.csv", tmp_path / "bad.csv"
    plan.write_text(AS_POURED + "[[pour]]\nstart_s = 70\nmass_g = 20\n")
    bad.write_text("time_s,water_g\n0,full\n")
    brews = pourline.datasets.FOLDER / "brews"
    names = pourline.datasets.names()[:2]
    done = run(plan, *(brews / f"{name}.csv" for name in names), bad, "-o", tmp_path / "rows.csv")
    assert done.returncode == 1
    assert str(bad) in done.stderr
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    heads = [text for text in lines if "of 100" in text]
    assert [head.split(":")[0] for head in heads] == list(names)
    whole = " ".join(line.strip() for line in lines)
    for name in names:
        followed = pourline.Plan.read(plan).follow(pourline.analyze(brews / f"{name}.csv"))
        assert f"{name}: {followed.head}" in whole
    rows = (tmp_path / "rows.csv").read_text().splitlines()
    printed = [line for line in lines if re.match(r" +(\d|-) +[-\dm]", line)]
    assert len(rows) == len(printed) + 1
    log.write_text("time_s,beverage_g\n" + "".join(f"{t / 10},{t / 10}\n" for t in range(100)))
    assert run(plan, log).returncode == 3
    assert run(bad, log).returncode == 2


def test_the_sd_of_a_score_is_at_most_3_points() -> None:
    """The bundled brews, two scales at 10 Hz, against a plan that states all items."""
    starts = ((0, 45), (36, 65), (61, 65), (86, 65))
    pours = [pourline.PlannedPour(s, m, 9, time_near_plateau_pct=85, pauses=0) for s, m in starts]
    plan = pourline.Plan("all items", pours)
    brews = pourline.analyze_many(pourline.datasets.load_all())
    scores = [plan.follow(brew).score for brew in brews if isinstance(brew, pourline.Brew)]
    assert len(scores) == 24
    assert max(score.sd for score in scores) <= 3
    assert all(0 <= score.value <= 100 for score in scores)
