"""The command line: rows, files, errors and exit codes that scripts can use."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import re
import signal
import subprocess
import sys
from pathlib import Path

import polars as pl
import pyarrow.parquet as pq
import pytest

import pourline
from pourline._io.files import whole_file
from pourline._text.pours import since_start
from pourline.cli import main

BREWS = pourline.datasets.FOLDER / "brews"
GOOD = [str(BREWS / f"{name}.csv") for name in pourline.datasets.names()[:3]]


def run(*words: str | Path, stdin: bytes = b"", **env: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pourline", *map(str, words)]
    done = subprocess.run(
        command, input=stdin, capture_output=True, env={**os.environ, **env}, timeout=120, check=False
    )
    assert b"Traceback" not in done.stderr, done.stderr.decode()
    return subprocess.CompletedProcess(command, done.returncode, done.stdout.decode(), done.stderr.decode())


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    path = tmp_path / "bad.csv"
    path.write_text("time_s,water_g\n0,1\n1,full\n2,3\n")
    return path


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    out = tmp_path_factory.mktemp("demo") / "out"
    return out, run("demo", "--out", out)


@pytest.mark.slow
def test_demo_prints_a_row_per_brew_and_writes_a_figure_and_a_page(
    demo: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    out, done = demo
    assert (done.returncode, done.stderr) == (0, "")
    head, *rows = done.stdout.splitlines()
    assert re.split(r" +(?=pours|water,|time|flow,|near|yield,)", head)[:4] == ["brew", "pours", "water, g", "time"]
    for name, row in zip(pourline.datasets.names(), rows, strict=False):
        pours = len(pourline.datasets.labels(name)["pours"])
        assert re.match(rf"{name} +{pours} +2\d\d\.\d +[12]:\d\d +\d", row), row
    assert len(rows) + 1 <= 30
    assert max(map(len, done.stdout.splitlines()[:-1])) <= 80
    assert rows[-1].endswith("demo.html in a browser")
    figure, page = sorted(out.iterdir(), key=lambda path: path.suffix, reverse=True)
    assert page.read_text(encoding="utf-8").count('class="pourline-figure"') == 24
    assert figure.read_bytes().startswith(b"\x89PNG")


@pytest.mark.slow
def test_the_demo_replaces_nothing_unless_told(demo: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    out, _ = demo
    (figure,), page = out.glob("*.png"), out / "demo.html"
    for path in (page, figure):
        whole = path.read_bytes()
        path.write_text("mine")
        done = run("demo", "--out", out)
        assert (done.returncode, path.read_text()) == (2, "mine")
        assert f"{path} exists already; --force" in done.stderr
        path.write_bytes(whole)
        if path == page:
            path.unlink()
    figure.write_text("mine")
    assert run("demo", "--out", out, "--force").returncode == 0
    assert figure.read_bytes() == whole
    assert not [path for path in out.iterdir() if path.name.startswith(".")]


@pytest.mark.slow
def test_tables_of_all_kinds_hold_the_same_rows(tmp_path: Path) -> None:
    for suffix in ("csv", "json", "parquet"):
        done = run("analyze", *GOOD, "--full", "-o", tmp_path / f"table.{suffix}")
        assert (done.returncode, done.stderr) == (0, "")
    expected = pourline.tables.stack(
        brew.table(all=True) for brew in pourline.analyze_many(GOOD) if isinstance(brew, pourline.Brew)
    )
    assert pq.read_table(tmp_path / "table.parquet").to_pydict() == expected.to_dict()
    told = json.loads((tmp_path / "table.json").read_text())
    assert [row["mass_g"] for row in told["rows"]] == expected["mass_g"].tolist()
    assert told["units"] == expected.units
    assert pl.read_csv(tmp_path / "table.csv")["mass_g"].to_list() == expected["mass_g"].tolist()


def test_one_bad_file_does_not_stop_the_rest(bad: Path, tmp_path: Path) -> None:
    done = run("analyze", GOOD[0], bad, tmp_path / "none.csv", GOOD[1], "-o", tmp_path / "table.csv")
    assert done.returncode == 1
    assert sum(bool(re.match(r" +[1-4]   \d:\d\d ", line)) for line in done.stdout.splitlines()) == 2 * 4
    errors = done.stderr.splitlines()
    assert len(errors) == 2
    assert str(bad) in errors[0]
    assert "row 2" in errors[0]
    assert str(tmp_path / "none.csv") in errors[1]
    assert len((tmp_path / "table.csv").read_text().splitlines()) == 1 + 4 + 4


def test_all_bad_is_3_and_leaves_no_file(bad: Path, tmp_path: Path) -> None:
    done = run("analyze", bad, "-o", tmp_path / "table.csv", "--report", tmp_path / "page.html")
    assert (done.returncode, done.stdout) == (3, "")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.csv"]


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["brew"],
        ["analyze"],
        ["analyze", "x.csv", "--colour", "red"],
        ["analyze", "x.csv", "-o", "table.xlsx"],
        ["analyze", "x.csv", "--option", "segment.mas_g=3"],
        ["analyze", "x.csv", "--option", "mass_g=3"],
        ["analyze", "x.csv", "--option", "segment.mass_g"],
        ["analyze", "x.csv", "--option", "segment.mass_g=-3"],
        ["analyze", "x.csv", "--dose-g", "much"],
        ["analyze", "x.csv", "--missing", "drop"],
    ],
)
def test_wrong_use_is_2_and_says_why(words: list[str]) -> None:
    done = run(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr


@pytest.mark.parametrize("words", [["--help"], ["analyze", "--help"], ["demo", "--help"], ["--version"]])
def test_help_and_version_are_0(words: list[str]) -> None:
    done = run(*words)
    assert (done.returncode, done.stderr) == (0, "")
    assert "pourline" in done.stdout


def test_what_is_said_of_the_brews_and_of_the_columns_counts(tmp_path: Path) -> None:
    path = tmp_path / "plain.csv"
    lines = [line for line in Path(GOOD[0]).read_text().splitlines()[1:] if not line.startswith("#")]
    path.write_text("\n".join(["a,b,c", *lines[1:]]))
    words: list[str | Path] = [
        "analyze",
        path,
        "--time",
        "a",
        "--water",
        "2",
        "--beverage",
        "c",
        "--time-unit",
        "s",
        "--mass-unit",
        "g",
    ]
    words += ["--dose-g", "15", "--tds-pct", "1.4", "--kettle", "Teacup", "--option", "condition.scale_lag_s=0.2"]
    words += ["--option", "extraction.retention_g_per_g=2", "-o", tmp_path / "table.json"]
    done = run(*words)
    assert (done.returncode, done.stderr) == (0, "")
    row = json.loads((tmp_path / "table.json").read_text())["rows"][0]
    assert (row["brew"], row["kettle"], row["dose_g"], row["tds_pct"]) == ("plain", "Teacup", 15.0, 1.4)
    assert row["yield_pct"] == pytest.approx(1.4 * row["beverage_g"] / 15)


def test_a_log_comes_from_standard_input() -> None:
    done = run("analyze", "-", stdin=Path(GOOD[0]).read_bytes())
    assert done.returncode == 0
    assert done.stdout.startswith("fernspout-ada-01: 4 pours, ")
    done = run("analyze", "-", stdin=b"\x00")
    assert done.returncode == 3
    assert "standard input" in done.stderr


def test_a_file_that_is_there_is_replaced_only_with_force(tmp_path: Path) -> None:
    for name, word in (("table.csv", "-o"), ("page.html", "--report")):
        path = tmp_path / name
        path.write_text("before")
        done = run("analyze", GOOD[0], word, path)
        assert (done.returncode, path.read_text()) == (2, "before")
        assert "--force" in done.stderr
        assert run("analyze", GOOD[0], word, path, "--force").returncode == 0
        assert path.read_text() != "before"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["page.html", "table.csv"]


def test_a_table_that_cannot_be_written_is_an_error_without_a_traceback(tmp_path: Path) -> None:
    done = run("analyze", GOOD[0], "-o", tmp_path / "none" / "table.csv")
    assert done.returncode == 2
    assert "none" in done.stderr


def test_a_killed_run_leaves_what_was_there(tmp_path: Path) -> None:
    target = tmp_path / "table.csv"
    target.write_text("before")
    code = (
        "import os, signal, sys\nfrom pourline._io.files import whole_file\n"
        "with whole_file(sys.argv[1]) as part:\n"
        "    part.write_text('half')\n    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, target], check=False)
    assert done.returncode == -signal.SIGKILL
    assert target.read_text() == "before"


def test_a_file_that_appears_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    target = tmp_path / "table.csv"

    def write() -> None:
        with whole_file(target, replace=False) as part:
            part.write_text("mine")
            target.write_text("theirs")

    with pytest.raises(pourline.PourlineError, match="exists already"):
        write()
    assert target.read_text() == "theirs"
    assert [path.name for path in tmp_path.iterdir()] == ["table.csv"]


def test_a_new_file_has_the_rights_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").touch()
    with whole_file(tmp_path / "whole") as part:
        part.write_text("x")
    assert (tmp_path / "whole").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_ctrl_c_ends_it_with_130(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    command = [sys.executable, "-m", "pourline", "analyze", "-"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        # More than a pipe holds: once it is written, the program reads.
        assert process.stdin is not None
        process.stdin.write(b"# " + b"-" * (1 << 20))
        process.stdin.flush()
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=20)
    assert process.returncode == 130
    assert b"Traceback" not in errors
    assert not pipe.exists()


def test_a_reader_that_goes_away_is_no_error() -> None:
    command = f"{sys.executable} -m pourline analyze {' '.join(GOOD * 20)} | head -1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    assert done.stdout.startswith("fernspout-ada-01: 4 pours, ")


def test_all_numbers_fit_a_terminal_and_stay_apart() -> None:
    brew = pourline.analyze(pourline.read(GOOD[0]))
    short = run("analyze", GOOD[0]).stdout.splitlines()
    full = run("analyze", GOOD[0], "--full").stdout.splitlines()
    assert full[: len(short)] == short == str(brew).splitlines()
    assert max(map(len, full)) <= 80
    for pour, metrics in zip(brew.pours, brew.metrics.pours, strict=True):
        for number in (since_start(pour.start_s, brew), pour.mass_g, metrics.plateau_flow_g_per_s, metrics.smoothness):
            assert any(f"  {number}" in line for line in full), number


@pytest.mark.parametrize("form", ["csv", "json"])
def test_a_table_goes_to_standard_output(form: str, tmp_path: Path) -> None:
    path = tmp_path / f"table.{form}"
    done = run("analyze", *GOOD, "--format", form, "-o", path)
    assert (done.returncode, done.stdout) == (0, path.read_text(encoding="utf-8"))
    rows = list(csv.DictReader(io.StringIO(done.stdout))) if form == "csv" else json.loads(done.stdout)["rows"]
    assert len(rows) == 4 * len(GOOD)


@pytest.mark.parametrize("no_color", ["", "1"])
def test_bold_words_are_for_terminals(no_color: str) -> None:
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "pourline", "analyze", *GOOD]
    done = subprocess.run(command, stdout=slave, stderr=slave, env={**os.environ, "NO_COLOR": no_color}, check=False)
    os.close(slave)
    told = b""
    try:
        while part := os.read(master, 65536):
            told += part
    except OSError:
        # A terminal that nobody writes to any more.
        pass
    os.close(master)
    assert done.returncode == 0
    assert (b"\x1b[1m" in told) == (no_color == "")
    plain = run("analyze", *GOOD)
    assert "\x1b" not in plain.stdout + plain.stderr


def test_the_same_code_runs_in_this_process(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["analyze", GOOD[0]]) == 0
    assert capsys.readouterr().out.startswith("fernspout-ada-01: 4 pours, ")
