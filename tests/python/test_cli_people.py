"""The commands of a designer and of a trainer: two folders of brews on one page, a person's brews over days.

The folders are written by the simulator, whose recipes are the truth.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import pourline

PLAN = (
    "[[pour]]\nstart_s = 0\nmass_g = 60\nflow_g_per_s = 6\ntime_near_plateau_pct = 85\n"
    "[[pour]]\nstart_s = 30\nmass_g = 60\nflow_g_per_s = 6\n"
)
DAYS = ("2031-05-01", "2031-05-06", "2031-05-11", "2031-05-20", "2031-05-28", "2031-06-05")


def write(path: Path, flow_g_per_s: float, seed: int, late_s: float = 0.0) -> None:
    one = {"mass_g": 60.0, "flow_g_per_s": flow_g_per_s, "rise_s": 0.4, "fall_s": 0.4}
    rest_s = 30.0 - 60.0 / flow_g_per_s - 0.4 + late_s
    planned = [{**one, "rest_s": 0.0}, {**one, "rest_s": rest_s}]
    log, _ = pourline.simulate({"hand": {"planned": planned, "shape": "linear"}}, seed=seed)
    assert log.water_g is not None
    rows = "".join(f"{t:.3f},{w:.1f}\n" for t, w in zip(log.time_s, log.water_g, strict=True))
    path.write_text("time_s,water_g\n" + rows)


@pytest.fixture(scope="module")
def spouts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with two folders of six brews: one spout pours 2 g/s faster."""
    root = tmp_path_factory.mktemp("spouts")
    for name, flow_g_per_s in (("spoutA", 5.0), ("spoutB", 7.0)):
        (root / name).mkdir()
        for k in range(6):
            write(root / name / f"{k}.csv", flow_g_per_s + 0.1 * k, seed=k)
    return root


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder of dated brews: late by less from day to day, slow by 1 g/s on all of them."""
    root = tmp_path_factory.mktemp("days")
    for k, day in enumerate(DAYS):
        write(root / f"{day}-ada.csv", 5.0, seed=20 + k, late_s=16.0 - 2.5 * k)
    return root


def run(*words: str | Path, where: Path | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pourline", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, cwd=where)


def test_two_folders_are_compared_in_one_command(spouts: Path, tmp_path: Path) -> None:
    page = tmp_path / "spouts.html"
    done = run("compare", "spoutA/", "spoutB/", "--report", page, "-o", tmp_path / "rows.csv", where=spouts)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0].startswith("spoutA and spoutB differ in ")
    assert "mean flow" in lines[0]
    assert lines[1] == "It rests on 12 brews (spoutA 6, spoutB 6); people not stated; days not stated."
    assert max(map(len, lines)) <= 80
    # The recipes differ by 2 g/s on the plateau; ramps of .4 s take a share of either mean.
    row = next(line for line in lines if line.startswith("mean flow, g/s"))
    low, high = re.search(r"([+-]\S+) to ([+-]\S+)", row).groups()  # type: ignore[union-attr]
    assert float(low) < 2 < float(high) + 0.3
    assert row.endswith("yes")
    text = page.read_text(encoding="utf-8")
    assert f"<h1>{lines[0].rstrip('.')}</h1>" in text
    assert text.count('aria-label="mean flow of two groups, and their difference"') == 1
    # No beverage was weighed: four measures, each with its values.
    assert text.count(": all values</summary>") == 4
    assert "not compared: end of drawdown" in done.stdout
    rows = (tmp_path / "rows.csv").read_text().splitlines()
    assert len(rows) == 1 + 4


def test_p_of_several_measures_is_that_of_all(spouts: Path) -> None:
    brews = pourline.analyze_many(pourline.read_many([spouts / "spoutA", spouts / "spoutB"]))
    spout = ["A"] * 6 + ["B"] * 6
    table = pourline.gather(brews).table()
    own = pourline.Table({"spout": spout, "peak": np.asarray(table["peak_to_mean_flow"])})
    alone = pourline.compare(own, "peak", by="spout").pairs[0].p
    assert isinstance(alone, pourline.Estimate)
    done = run("compare", "spoutA", "spoutB", where=spouts)
    row = next(line for line in done.stdout.splitlines() if line.startswith("peak to mean flow"))
    found = re.search(r"(\d\.\d{3})  (yes|no)", row)
    assert found is not None, row
    assert float(found[1]) == pytest.approx(min(1.0, 4 * alone.value), abs=0.001)


def test_a_pattern_leaves_out_the_factors_and_what_the_command_wrote(spouts: Path, tmp_path: Path) -> None:
    rows = ["file,kettle"]
    for spout in ("spoutA", "spoutB"):
        for k in range(6):
            (tmp_path / f"{spout}{k}.csv").write_bytes((spouts / spout / f"{k}.csv").read_bytes())
            rows.append(f"{spout}{k}.csv,{spout}")
    (tmp_path / "factors.csv").write_text("\n".join(rows))
    for force in ((), ("--force",)):
        done = run(
            "compare", "*.csv", "--factors", "factors.csv", "--by", "kettle", "-o", "rows.csv", *force, where=tmp_path
        )
        assert (done.returncode, done.stderr) == (0, ""), done.stderr
        assert "It rests on 12 brews (spoutA 6, spoutB 6)" in done.stdout


def test_factors_come_from_a_pattern_of_names(spouts: Path, tmp_path: Path) -> None:
    for spout in ("spoutA", "spoutB"):
        for k in range(6):
            (tmp_path / f"{spout}_{'Ada' if k < 3 else 'Bo'}_{k}.csv").write_bytes(
                (spouts / spout / f"{k}.csv").read_bytes()
            )
    words = ("compare", tmp_path, "--names", "{kettle}_{person}_{n}.csv", "--by", "kettle", "--block", "person")
    done = run(*words)
    assert (done.returncode, done.stderr) == (0, "")
    assert "It rests on 12 brews (spoutA 6, spoutB 6); 2 people; days not stated." in done.stdout
    (tmp_path / "other.csv").write_bytes((spouts / "spoutA" / "0.csv").read_bytes())
    done = run(*words)
    assert done.returncode == 1
    assert "other.csv: the name does not fit" in done.stderr


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("spoutA",), "two folders"),
        (("spoutA/0.csv", "spoutB/0.csv"), "--by FACTOR is needed"),
        (("spoutA", "spoutB", "--measure", "steadiness"), "time_near_plateau_pct"),
        (("spoutA", "spoutB", "--by", "colour"), "no factor"),
        (("spoutA", "spoutB", "--mesure", "flow_cv"), "--mesure"),
        ((), "LOG"),
    ],
)
def test_a_wrong_comparison_is_one_line(spouts: Path, words: tuple[str, ...], why: str) -> None:
    done = run("compare", *words, where=spouts)
    assert done.returncode == 2
    assert why in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("command", ["analyze", "compare", "plan", "progress", "report", "watch"])
def test_the_help_fits_30_lines_and_the_whole_is_an_option(command: str) -> None:
    short, whole = run(command, "--help"), run(command, "--help-all")
    assert (short.returncode, whole.returncode) == (0, 0)
    assert len(short.stdout.splitlines()) <= 30
    assert max(map(len, short.stdout.splitlines())) <= 80
    assert "--time-unit" not in short.stdout
    assert "--time-unit" in whole.stdout


def test_progress_states_score_steadiness_and_what_to_practise(days: Path, tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(PLAN)
    figure = tmp_path / "progress.png"
    done = run("progress", days, "--plan", tmp_path / "plan.toml", "-o", figure)
    assert (done.returncode, done.stderr) == (0, "")
    plan = pourline.Plan.read(tmp_path / "plan.toml")
    logs = pourline.read_many(days)
    scores = [float(plan.follow(pourline.analyze(log)).score) for log in logs if isinstance(log, pourline.Log)]
    whole = " ".join(line.strip() for line in done.stdout.splitlines())
    # From the first of May to the fifth of June are 35 days.
    assert whole.startswith(f"{scores[-1]:.0f} of 100, from {scores[0]:.0f} five weeks ago: better; steadiness ")
    assert "Practise next: The flow is 1.0 g/s too slow, in 6 of 6 brews; 0.5 g/s are allowed." in whole
    assert [line.split()[0] for line in done.stdout.splitlines() if line.startswith("2031")] == list(DAYS)
    assert figure.read_bytes().startswith(b"\x89PNG")


def test_progress_needs_dates_and_no_plan(days: Path, tmp_path: Path) -> None:
    (tmp_path / "undated.csv").write_bytes(next(days.glob("*.csv")).read_bytes())
    done = run("progress", days, tmp_path / "undated.csv")
    assert done.returncode == 1
    assert "no date" in done.stderr
    assert "undated.csv" in done.stderr
    assert re.match(r"Steadiness \d+ %, from \d+ % five weeks ago: ", done.stdout)
    assert "Practise" not in done.stdout
    assert run("progress", tmp_path / "undated.csv").returncode == 3
    assert run("progress", days, "-o", tmp_path / "table.csv").returncode == 2
