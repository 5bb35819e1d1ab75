"""The commands for pages, groups, simulated logs, scales and shells."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import pourline
from pourline._cli.completion import _commands
from pourline.cli import _parser

BREWS = pourline.datasets.FOLDER / "brews"
GOOD = [str(BREWS / f"{name}.csv") for name in pourline.datasets.names()]


def run(*words: str | Path, stdin: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pourline", *map(str, words)]
    done = subprocess.run(command, input=stdin, capture_output=True, text=True, timeout=120, check=False)
    assert "Traceback" not in done.stderr, done.stderr
    return done


def test_a_page_of_a_piped_log_keeps_what_is_there(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    made = run("simulate", "usual", "--seed", "3").stdout
    assert run("report", "-", "-o", page, stdin=made).returncode == 0
    assert "SHA-256 of the samples of the log" in page.read_text(encoding="utf-8")
    page.write_text("mine")
    done = run("report", GOOD[0], "-o", page)
    assert (done.returncode, page.read_text()) == (2, "mine")
    assert "--force" in done.stderr
    assert run("report", GOOD[0], "-o", page, "--force").returncode == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_groups_come_from_a_table_of_factors(tmp_path: Path) -> None:
    # The kettles are dealt out crosswise here, so that the logs' own cannot pass for them.
    kettles = ["Left", "Right"] * 4
    people = ["Ada"] * 4 + ["Bo"] * 4
    rows = [f"{Path(file).name},{k},{p},x" for file, k, p in zip(GOOD, kettles, people, strict=False)]
    table = tmp_path / "factors.csv"
    table.write_text("\n".join(["file,kettle,person,shelf", *rows]))
    words: list[str | Path] = [
        "--factors",
        table,
        "--by",
        "kettle",
        "--measure",
        "mean_flow_g_per_s",
        "--block",
        "person",
    ]
    done = run("compare", *GOOD[:8], *words, "-o", tmp_path / "pairs.json", "--report", tmp_path / "page.html")
    assert (done.returncode, done.stderr) == (0, "")
    brews = pourline.analyze_many(
        [pourline.read(file, kettle=k, person=p) for file, k, p in zip(GOOD, kettles, people, strict=False)]
    )
    expected = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", blocks="person")
    said = [text.replace("mean_flow_g_per_s", "mean flow") for text in expected.sentences]
    assert done.stdout.splitlines()[: len(said)] == said
    (row,) = json.loads((tmp_path / "pairs.json").read_text())["rows"]
    assert row["difference"] == expected.pairs[0].difference.value
    assert (tmp_path / "page.html").read_text(encoding="utf-8").count("SHA-256") == 1 + 8
    done = run("compare", *GOOD[:9], *words)
    assert done.returncode == 1
    assert "has no row for this file" in done.stderr


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("name,kettle\na,b\n", "a column `file`"),
        ("file,kettle\na.csv\n", "a cell for each head"),
        ("file,kettle\na.csv,b\na.csv,c\n", "already has a row"),
        ("file,dose_g\na.csv,much\n", "dose_g must be a number"),
    ],
)
def test_a_table_of_factors_that_does_not_hold_together_is_2(tmp_path: Path, text: str, why: str) -> None:
    table = tmp_path / "factors.csv"
    table.write_text(text)
    done = run("analyze", GOOD[0], "--factors", table)
    assert done.returncode == 2
    assert why in done.stderr


@pytest.mark.slow
def test_a_simulated_log_reads_back_as_it_was_with_its_truth(tmp_path: Path) -> None:
    recipe = tmp_path / "recipe.json"
    recipe.write_text(
        json.dumps(
            {"hand": {"planned": [{"rest_s": 0.0, "mass_g": 50.0, "flow_g_per_s": 5.0, "rise_s": 0.4, "fall_s": 0.4}]}}
        )
    )
    for word, told in (("hard", "hard"), (recipe, json.loads(recipe.read_text()))):
        log, truth = pourline.simulate(told, 5)
        words = ["simulate", word, "--seed", "5", "-o", tmp_path / "b.csv", "--truth", tmp_path / "b.json", "--force"]
        assert run(*words).returncode == 0
        back = pourline.read(tmp_path / "b.csv", missing="flag")
        for name in ("time_s", "water_g", "beverage_g"):
            np.testing.assert_array_equal(getattr(back, name), getattr(log, name))
        assert back.meta.to_dict() == log.meta.to_dict()
        stated = json.loads((tmp_path / "b.json").read_text())
        assert stated["pours"] == [pour.to_dict() for pour in truth.pours]
    done = run("simulate", "usual", "-o", tmp_path / "b.csv")
    assert done.returncode == 2
    for wrong in (["simulate", "no"], ["simulate", tmp_path / "none.json"], ["simulate", "usual", "--seed", "-1"]):
        assert run(*wrong).returncode == 2


def test_the_lag_of_a_scale_is_told() -> None:
    # Arithmetic: a mass through a first-order lag of 0.3 s reads m (1 - exp(-t/0.3)).
    time_s = np.arange(200) / 10
    mass_g = 100 * (1 - np.exp(-np.maximum(time_s - 8, 0) / 0.3))
    text = "time_s,water_g\n" + "".join(f"{t},{m:.1f}\n" for t, m in zip(time_s, mass_g, strict=True))
    done = run("calibrate", "-", stdin=text)
    assert (done.returncode, done.stderr) == (0, "")
    assert float(done.stdout.split()[1]) == pytest.approx(0.3, abs=0.01)
    assert run("calibrate", "-", stdin="time_s,water_g\n0,1\n").returncode == 2


def test_a_scale_is_calibrated_once_and_given_to_an_analysis(tmp_path: Path) -> None:
    # Arithmetic: behind an average of .6 s, a mass that a hand puts down evenly within .1 to .4 s, on or off.
    time_s = np.arange(700) / 10
    scale = pourline.ScaleResponse.average(0.6)
    ramps = [np.arange(0, hand_s, 0.01) for hand_s in (0.1, 0.4, 0.2, 0.3, 0.15, 0.25)]
    shown = [
        [np.mean([scale.shown(t - 8.03 - 10 * k - s) for s in ramp]) for t in time_s] for k, ramp in enumerate(ramps)
    ]
    mass_g = 100 * sum((-1) ** k * np.array(one) for k, one in enumerate(shown))
    text = "time_s,water_g\n" + "".join(f"{t},{m:.1f}\n" for t, m in zip(time_s, mass_g, strict=True))
    file, brew = tmp_path / "my_scale.toml", tmp_path / "brew.csv"
    done = run("calibrate", "-", "-o", file, stdin=text)
    assert (done.returncode, done.stderr) == (0, "")
    assert float(done.stdout.split()[1]) == pytest.approx(0.3, abs=0.01)
    assert "a moving average" in done.stdout
    page = tmp_path / "scale.html"
    known = run("calibrate", "-", "--masses", "100", "--report", page, stdin=text)
    assert known.returncode == 0
    assert "from 6 known masses" in known.stdout
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    wrong = run("calibrate", "-", "--masses", "100", "100", stdin=text)
    assert (wrong.returncode, "but 3 were put on" in wrong.stderr) == (2, True)
    assert run("calibrate", "-", "-o", file, stdin=text).returncode == 2, "nothing is overwritten"
    brew.write_text(run("simulate", "usual", "--seed", "3").stdout)
    assert re.search(
        r"delay of the scale +0\.(29|30)\d* .*calibrated", run("analyze", brew, "--scale", file, "--full").stdout
    )
    file.write_text("format = 7\n")
    refused = run("analyze", brew, "--scale", file)
    assert refused.returncode == 2
    assert re.search(r"my_scale\.toml.*version 7", refused.stderr)


COMMANDS = ["demo", "analyze", "report", "compare", "plan", "watch", "simulate", "calibrate", "completion"]


@pytest.mark.parametrize("command", COMMANDS)
def test_the_help_of_every_command_has_an_example(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert f"example:\n  pourline {command} " in done.stdout


def test_every_option_of_every_command_is_told() -> None:
    for name, command in _commands(_parser()).items():
        for action in command._actions:
            assert action.help or action.choices, (name, action.option_strings)


def test_the_examples_of_pipes_run(tmp_path: Path) -> None:
    told = run("--help").stdout
    (made,) = re.findall("^  (pourline simulate .*)$", told, re.MULTILINE)
    (piped,) = re.findall("^  cat brew.csv (.*)$", told, re.MULTILINE)
    shutil.copy(GOOD[0], tmp_path / "brew.csv")
    python = f"{sys.executable} -m pourline"
    for line in (made, f"cat brew.csv {piped}"):
        done = subprocess.run(
            line.replace("pourline", python), shell=True, cwd=tmp_path, capture_output=True, text=True, check=True
        )
        assert done.stderr == ""
    assert done.stdout.startswith("fernspout-ada-01: 4 pours, ")
    assert (tmp_path / "page.html").exists()


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")
@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["pourline", "co"], "compare completion"),
        (["pourline", "simulate", "--t"], "--truth"),
        (["pourline", "report", "--missing", ""], "refuse flag"),
        (["pourline", "completion", "z"], "zsh"),
        (["pourline", "simulate", "u"], " ".join(name for name in pourline.levels() if name.startswith("u"))),
        (["pourline", "compare", "--by", "k"], "kettle"),
        (["pourline", "compare", "--measure", "mean_"], "mean_flow_g_per_s"),
        (["pourline", "calibrate", "--mass-unit", "m"], "mg"),
        (["pourline", "report", "nothing-like-it"], ""),
    ],
)
def test_bash_completes_the_words(words: list[str], expected: str, tmp_path: Path) -> None:
    script = tmp_path / "pourline.bash"
    script.write_text(run("completion", "bash").stdout)
    code = 'source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _pourline; echo "${COMPREPLY[*]}"'
    command = ["bash", "-c", code, "bash", str(script), *words]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == (expected, "")


# A separate shell in a separate terminal: the words are typed, then the tabulator key.
TYPED = """
zmodload zsh/zpty
zpty -b shell zsh -f -i
zpty -w shell "PS1='> '; source $1; print loaded"
zpty -r shell seen "*loaded*loaded*"
zpty -wn shell "$2"$'\\t'
sleep 1
seen=""
while zpty -rt shell part; do seen+=$part; done
print -r -- $seen
zpty -d shell
"""


@pytest.mark.skipif(shutil.which("zsh") is None, reason="there is no zsh")
@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("pourline compl", "pourline completion"),
        ("pourline simulate h", "pourline simulate hard"),
        ("pourline report --missing f", "pourline report --missing flag"),
        ("pourline analyze one-l", "pourline analyze one-log.csv"),
    ],
)
def test_zsh_completes_what_is_typed(typed: str, expected: str, tmp_path: Path) -> None:
    (tmp_path / "one-log.csv").touch()
    (tmp_path / "pourline.zsh").write_text(run("completion", "zsh").stdout)
    command = ["zsh", "-f", "-c", TYPED, "zsh", "pourline.zsh", typed]
    done = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, timeout=60, check=True)
    # The first letter is overwritten by a backspace.
    assert expected in done.stdout.replace("p\bp", "p")


@pytest.mark.parametrize("words", [["completion", "bash"], ["simulate", "usual"], ["--help"]])
def test_a_pipe_that_is_closed_leaves_no_traceback(words: list[str]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    command = [sys.executable, "-m", "pourline", *words]
    done = subprocess.run(command, stdout=writer, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    os.close(writer)
    assert done.stderr == ""
