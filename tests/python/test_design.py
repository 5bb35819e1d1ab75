"""A study before its first brew: its order, the table that is joined to the logs, the power of its test."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from collections import Counter
from pathlib import Path

import matplotlib as mpl
import pytest
from scipy import stats

import pourline

mpl.use("agg")

FACTORS: dict[str, int | list[str]] = {"kettle": ["thin", "wide"], "person": ["Ada", "Bo"]}


def run(*words: object, where: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pourline", *map(str, words)]
    return subprocess.run(command, cwd=where, capture_output=True, text=True, check=False)


def brewed(rows: list[dict[str, str]], minutes: list[int] | None = None) -> pourline.Table:
    """Return a study that was brewed by these rows, each at its minute."""
    times = minutes or [3 * k for k in range(len(rows))]
    columns: dict[str, list[object]] = {name: [row[name] for row in rows] for name in ("kettle", "person", "day")}
    columns["planned_order"] = [int(row["planned_order"]) for row in rows]
    columns["started_at"] = [f"2031-05-03T{8 + at // 60:02}:{at % 60:02}:00" for at in times]
    columns["flow"] = [5.0 + 0.1 * ((7 * k) % 11) for k in range(len(rows))]
    return pourline.Table(columns)


def cautions(table: pourline.Table) -> dict[str, str]:
    found = pourline.compare(table, "flow", by="kettle", blocks=["person", "day"])
    return {caution.kind: caution.text for caution in found.cautions}


def rows_of(schedule: pourline.Schedule) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(schedule.to_csv())))


def test_every_combination_is_brewed_as_often_and_the_csv_has_it() -> None:
    schedule = pourline.design(FACTORS, repeats=3, days=2, seed=7)
    rows = rows_of(schedule)
    assert [row["planned_order"] for row in rows] == [str(k) for k in range(1, 25)]
    assert rows[0]["file"] == "01.csv"
    assert set(Counter((row["day"], row["person"], row["kettle"]) for row in rows).values()) == {3}
    assert schedule.table().columns == ["file", "planned_order", "day", "kettle", "person"]
    assert schedule.to_csv() == pourline.design(FACTORS, repeats=3, days=2, seed=7).to_csv()
    # Two kettles have two sequences, dealt for three passes; two people have two orders of turns.
    assert len({pourline.design(FACTORS, repeats=3, days=2, seed=seed).to_csv() for seed in range(60)}) > 10


def test_an_order_that_was_kept_has_no_caution_of_order() -> None:
    found = cautions(brewed(rows_of(pourline.design(FACTORS, repeats=3, days=2, seed=7))))
    assert not {"not_as_planned", "order", "order_unknown"} & set(found), found


def test_an_order_that_was_not_kept_is_said() -> None:
    rows = rows_of(pourline.design(FACTORS, repeats=3, days=2, seed=7))
    # The fifth brew was made before the fourth.
    times = [3 * k for k in range(24)]
    times[3], times[4] = times[4], times[3]
    text = cautions(brewed(rows, times))["not_as_planned"]
    assert "planned as number 4, was brewed after number 5" in text
    text = cautions(brewed(rows[:8] + rows[9:]))["not_as_planned"]
    assert "1 of 24 planned brews are missing (number 9)" in text


def test_what_is_no_design_is_refused() -> None:
    for factors in ({"person": 2}, {"kettle": 1}, {"day": 2}, {"kettle": ["thin", "Thin "]}, {"kettle": "thin"}):
        with pytest.raises(pourline.PourlineError) as raised:
            pourline.design(factors)
        assert raised.value.kind == "argument"


def test_the_command_writes_table_and_sheet(tmp_path: Path) -> None:
    words = ("design", "--factor", "kettle=thin,wide", "--factor", "person=2", "--repeats", 3, "--days", 2)
    done = run(*words, "-o", "design.csv", "--report", "sheet.html", where=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("24 brews: 2 by kettle, 2 by person")
    sheet = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert "Day 2" in sheet
    assert "--by kettle --block person --block day" in sheet
    assert len((tmp_path / "design.csv").read_text(encoding="utf-8").splitlines()) == 25
    again = run(*words, "-o", "design.csv", where=tmp_path)
    assert again.returncode != 0
    wrong = run("design", "--factor", "kettle", where=tmp_path)
    assert "NAME=LEVEL" in wrong.stderr


def test_the_table_is_joined_to_the_logs(tmp_path: Path) -> None:
    words = ("design", "--factor", "kettle=thin,wide", "--repeats", 4)
    assert run(*words, "-o", "design.csv", where=tmp_path).returncode == 0
    for k in range(1, 9):
        log, _ = pourline.simulate("clean", seed=k)
        lines = (f"{t:.2f},{g:.2f}" for t, g in zip(log.time_s, log.water_g, strict=True))  # type: ignore[arg-type]
        (tmp_path / f"{k:02}.csv").write_text("time_s,water_g\n" + "\n".join(lines) + "\n")
    logs = [f"{k:02}.csv" for k in range(1, 9)]
    compare = ("compare", *logs, "--factors", "design.csv", "--by", "kettle", "--measure", "mean_flow_g_per_s")
    done = run(*compare, where=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "thin 4" in done.stdout
    assert "order of the brews is unknown" not in done.stdout
    assert "not kept" not in done.stdout


def test_the_power_is_that_of_the_test_that_is_used() -> None:
    # 3 and 3 have no p below 0.10: no power, and no sample size below 4.
    assert pourline.power(9.0, 1.0, 3) == 0.0
    assert pourline.sample_size(9.0, 1.0) == 4
    # scipy, the noncentral t at 2/70, the largest p of 4 and 4 that is at most 0.05.
    t = stats.t.ppf(1 - 1 / 70, 6)
    shift = 2.0 * 2**0.5
    expected = stats.nct.sf(t, 6, shift) + stats.nct.cdf(-t, 6, shift)
    assert pourline.power(2.0, 1.0, 4) == pytest.approx(expected, rel=1e-6)
    # Pairs in blocks: 12 brews per group in 6 blocks leave 24 - 6 - 1 degrees.
    t, shift = stats.t.ppf(0.975, 17), 1.0 * 6**0.5
    expected = stats.nct.sf(t, 17, shift) + stats.nct.cdf(-t, 17, shift)
    assert pourline.power(1.0, 1.0, 12, blocks=6) == pytest.approx(expected, rel=1e-6)


def test_the_curve_has_the_uncertainty_of_the_sd() -> None:
    curve = pourline.power_curve(0.5, sd=pourline.Estimate(0.4, 0.1))
    # Chi-squared of 8 degrees by scipy.
    low, high = (0.4 * (8 / stats.chi2.ppf(share, 8)) ** 0.5 for share in (0.975, 0.025))
    assert curve.sd_interval == pytest.approx((low, high))
    assert curve.needed_interval == (pourline.sample_size(0.5, low), pourline.sample_size(0.5, high))
    assert str(curve).startswith("12 brews per group find a difference of 0.5")
    ax = pourline.plot_power(curve)
    assert ax.get_xlabel() == "brews per group"
    with pytest.raises(pourline.PourlineError):
        pourline.plot_power(0.5)  # type: ignore[arg-type]
