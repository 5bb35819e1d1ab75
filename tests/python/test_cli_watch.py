"""`pourline watch`: a file that grows, a pipe, a plan, a terminal; and its errors on bad input."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import pourline

DEMO = pourline.datasets.FOLDER / "brews" / "fernspout-ada-01.csv"
PLAN = "[[pour]]\nstart_s = 0\nmass_g = 45\n[[pour]]\nstart_s = 42\nmass_g = 100\n"


def command(*words: str | Path) -> list[str]:
    return [sys.executable, "-m", "pourline", "watch", *map(str, words)]


def analysed(path: Path) -> list[str]:
    done = subprocess.run(
        [sys.executable, "-m", "pourline", "analyze", str(path)], capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


def test_a_pipe_ends_with_the_table_of_analyze(tmp_path: Path) -> None:
    # The last line has no end, as a logger that was switched off leaves it.
    text = DEMO.read_text(encoding="utf-8").rstrip("\n")
    (tmp_path / "same.csv").write_text(text, encoding="utf-8")
    done = subprocess.run(command("-"), input=text, capture_output=True, text=True, timeout=120, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    expected = analysed(tmp_path / "same.csv")
    assert done.stdout.splitlines()[-len(expected) + 1 :] == expected[1:]


def test_a_file_that_grows_by_halves_of_lines_is_followed(tmp_path: Path) -> None:
    text, path, plan = DEMO.read_bytes(), tmp_path / "brew.csv", tmp_path / "plan.toml"
    plan.write_text(PLAN)
    path.write_bytes(b"")
    pieces, seen = 23, []
    words = command(path, "--every", "0.02", "--patience", "6", "--plan", plan)
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        for k in range(pieces):
            with path.open("ab") as file:
                file.write(text[len(text) * k // pieces : len(text) * (k + 1) // pieces])
            # Each piece holds whole lines, each of which is printed; without new lines, patience ends the wait.
            seen.append(running.stdout.readline())
            # The line of a pour comes before that of the state.
            while seen[-1].startswith("pour "):
                seen.append(running.stdout.readline())
        rest, errors = running.communicate(timeout=120)
    assert (running.returncode, errors) == (0, "")
    expected = analysed(path)
    told = "".join([*seen, rest]).splitlines()
    place = told.index(expected[0])
    judged = sum(line.startswith("pour ") for line in told[:place])
    assert (place, judged) == (pieces + judged, 4)
    assert told[place : place + len(expected)] == expected
    followed = "\n".join(told[:place])
    for words_of in ("rest", "pour 1", "pour 4", "g to go", "not in the plan, which has 2"):
        assert words_of in followed, words_of
    assert "of 100" in told[place + len(expected)]
    assert "\x1b" not in rest


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_ctrl_c_ends_it_with_the_table(tmp_path: Path) -> None:
    path = tmp_path / "brew.csv"
    path.write_bytes(DEMO.read_bytes())
    with subprocess.Popen(
        command(path, "--every", "0.05"), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        # Four pours are judged, then the state is shown.
        first = [running.stdout.readline() for _ in range(5)][-1]
        running.send_signal(signal.SIGINT)
        rest, errors = running.communicate(timeout=60)
    assert (running.returncode, errors) == (0, "")
    assert "rest" in first
    assert rest.splitlines() == analysed(path)


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal there")
def test_on_a_terminal_one_line_is_written_over() -> None:
    import pty

    def seen(environment: dict[str, str]) -> str:
        screen, keyboard = pty.openpty()
        words = command(DEMO, "--every", "0.01", "--patience", "0.05")
        subprocess.run(words, stdout=keyboard, env={**os.environ, **environment}, timeout=120, check=True)
        os.close(keyboard)
        text = b""
        try:
            while some := os.read(screen, 1 << 16):
                text += some
        except OSError:
            # Nobody writes to it any more.
            pass
        os.close(screen)
        return text.decode()

    assert seen({"NO_COLOR": ""}).startswith("\r")
    assert "\x1b[K" in seen({"NO_COLOR": ""})
    assert "\x1b" not in seen({"NO_COLOR": "1"})


@pytest.mark.parametrize(
    ("words", "stdin", "code", "why"),
    [
        (["-"], "", 3, "holds no"),
        (["-"], "time_s,water_g\n0.0,empty\n0.1,1\n0.2,1\n0.3,1\n", 3, "empty"),
        (["no-such-file.csv"], "", 2, "no-such-file.csv"),
        (["-", "--every", "0"], "", 2, "--every"),
        (["-", "--plan", "no-such-plan.toml"], "", 2, "no-such-plan.toml"),
    ],
)
def test_what_cannot_be_watched_is_told(words: list[str], stdin: str, code: int, why: str) -> None:
    done = subprocess.run(command(*words), input=stdin, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == code, done.stderr
    assert why in done.stderr
    assert "Traceback" not in done.stderr
