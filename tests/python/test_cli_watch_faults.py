"""`pourline watch` while its file is replaced, cut, removed or spoilt, its writer stalls, or a signal stops it.

What is expected is what `analyze` makes of the same samples: the two share no code that follows a file.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

import pourline

BREWS = pourline.datasets.FOLDER / "brews"
FIRST, SECOND = (BREWS / f"{name}.csv" for name in ("fernspout-ada-01", "broadlip-bo-13"))


def watching(path: Path, *words: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "pourline", "watch", str(path), "--every", "0.05", *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def analysed(path: Path) -> list[str]:
    """Return the pours that `analyze` prints, without the name."""
    command = [sys.executable, "-m", "pourline", "analyze", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return [line for line in done.stdout.splitlines() if line.startswith("     ")]


def pours(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.startswith("     ") and "%" not in line]


def until(running: subprocess.Popen[str], word: str) -> str:
    assert running.stdout is not None
    seen = ""
    while word not in seen:
        line = running.stdout.readline()
        assert line, seen
        seen += line
    return seen


def test_a_longer_file_in_its_place_is_another_brew(tmp_path: Path) -> None:
    path = tmp_path / "brew.csv"
    path.write_bytes(FIRST.read_bytes())
    with watching(path, "--patience", "3") as running:
        until(running, "rest")
        path.write_bytes(SECOND.read_bytes())
        rest, errors = running.communicate(timeout=120)
    assert running.returncode == 0
    assert "was replaced" in errors
    rows = pours(rest)
    assert rows == analysed(FIRST) + analysed(SECOND)


@pytest.mark.parametrize("share", [0.0, 0.4])
def test_a_file_that_is_cut_keeps_its_pours(tmp_path: Path, share: float) -> None:
    path = tmp_path / "brew.csv"
    text = FIRST.read_bytes()
    path.write_bytes(text)
    with watching(path, "--patience", "1") as running:
        until(running, "rest")
        with path.open("r+b") as file:
            file.truncate(int(share * len(text)))
        rest, errors = running.communicate(timeout=120)
    assert running.returncode == 0
    assert "was cut" in errors
    assert pours(rest) == analysed(FIRST)


def test_a_file_that_is_removed_keeps_its_pours(tmp_path: Path) -> None:
    path = tmp_path / "brew.csv"
    path.write_bytes(FIRST.read_bytes())
    with watching(path) as running:
        until(running, "rest")
        path.unlink()
        rest, errors = running.communicate(timeout=60)
    assert running.returncode == 0
    assert "was removed" in errors
    assert pours(rest) == analysed(FIRST)


def test_a_file_that_is_written_anew_with_the_same_samples_is_one_brew(tmp_path: Path) -> None:
    path, other = tmp_path / "brew.csv", tmp_path / "next.csv"
    text = FIRST.read_bytes()
    path.write_bytes(text[: len(text) // 2])
    with watching(path, "--patience", "2") as running:
        until(running, "pour 2")
        other.write_bytes(text)
        other.replace(path)
        rest, errors = running.communicate(timeout=60)
    assert (running.returncode, errors) == (0, "")
    assert pours(rest) == analysed(FIRST)


@pytest.mark.parametrize("junk", [b"ERR sensor\n", b"###;;;x,,,\n", b"\xff\xfe\x00\x01\n", b"31.2,abc,\n", b",,\n"])
def test_a_line_of_junk_costs_no_other_line(tmp_path: Path, junk: bytes) -> None:
    path = tmp_path / "brew.csv"
    lines = FIRST.read_bytes().splitlines(keepends=True)
    half = len(lines) // 2
    path.write_bytes(b"".join(lines[:half]))
    with watching(path, "--patience", "2") as running:
        until(running, "pour 2")
        with path.open("ab") as file:
            file.write(junk)
        time.sleep(0.2)
        with path.open("ab") as file:
            file.write(b"".join(lines[half:]))
        rest, errors = running.communicate(timeout=60)
    assert pours(rest) == analysed(FIRST), errors
    assert "Traceback" not in errors


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_sigterm_ends_it_with_the_pours(tmp_path: Path) -> None:
    path = tmp_path / "brew.csv"
    path.write_bytes(FIRST.read_bytes())
    with watching(path) as running:
        until(running, "rest")
        running.send_signal(signal.SIGTERM)
        rest, errors = running.communicate(timeout=60)
    assert (running.returncode, errors) == (0, "")
    assert pours(rest) == analysed(FIRST)


def test_each_pour_is_judged_within_a_second_of_its_end(tmp_path: Path) -> None:
    """A writer that takes as long as the brew: own arithmetic of the clock, from the line's end to the judgement."""
    log = pourline.read(FIRST)
    brew = pourline.analyze(log)
    path = tmp_path / "brew.csv"
    lines = FIRST.read_bytes().splitlines(keepends=True)
    # The samples before the end of the first pour are there at once, the others come as they were taken.
    end_s = brew.pours[0].end_s.value
    head = len(lines) - len(log)
    there = head + int(np.searchsorted(log.time_s, end_s - 0.5))
    path.write_bytes(b"".join(lines[:there]))
    with watching(path, "--patience", "30") as running:
        until(running, "pour 1")
        began_s, first_s = time.monotonic(), float(log.time_s[there - head - 1])
        seen = threading.Event()
        found: list[str] = []

        def read() -> None:
            found.append(until(running, "near its own flow"))
            seen.set()

        threading.Thread(target=read, daemon=True).start()
        for line, time_s in zip(lines[there:], log.time_s[there - head :], strict=True):
            time.sleep(max(began_s + float(time_s) - first_s - time.monotonic(), 0))
            with path.open("ab") as file:
                file.write(line)
            if seen.is_set():
                break
        delay_s = time.monotonic() - began_s + first_s - end_s
        running.kill()
    assert delay_s < 1, delay_s
    assert "pour 1: 44" in found[0]


def test_the_judgement_of_a_pour_is_that_of_the_analysis(tmp_path: Path) -> None:
    brew = pourline.analyze(pourline.read(FIRST))
    path = tmp_path / "brew.csv"
    path.write_bytes(FIRST.read_bytes())
    with watching(path, "--patience", "0.2") as running:
        text, _ = running.communicate(timeout=60)
    judged = [line for line in text.splitlines() if line.startswith("pour ")]
    near = [row.time_near_plateau_pct for row in brew.metrics.pours]
    assert judged == [
        f"pour {k}: {pour.mass_g.value:.1f} g at {float(pour.mean_flow_g_per_s):.1f} g/s, "
        f"{float(share):.0f} % of it near its own flow"
        for k, (pour, share) in enumerate(zip(brew.pours, near, strict=True), 1)
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal there")
def test_large_digits_and_a_stalled_writer_are_shown_in_place(tmp_path: Path) -> None:
    import pty

    path, plan = tmp_path / "brew.csv", tmp_path / "plan.toml"
    text = FIRST.read_bytes()
    path.write_bytes(text[: len(text) // 2])
    plan.write_text("[[pour]]\nstart_s = 0\nmass_g = 45\n[[pour]]\nstart_s = 36\nmass_g = 100\n")
    screen, keyboard = pty.openpty()
    words = ["watch", str(path), "--every", "0.2", "--patience", "4", "--large", "--plan", str(plan)]
    environment = {**os.environ, "NO_COLOR": "", "COLUMNS": "80"}
    seen = bytearray()

    def read() -> None:
        # An error once nobody writes to it any more.
        with contextlib.suppress(OSError):
            while some := os.read(screen, 1 << 16):
                seen.extend(some)

    reader = threading.Thread(target=read)
    reader.start()
    subprocess.run([sys.executable, "-m", "pourline", *words], stdout=keyboard, env=environment, timeout=60, check=True)
    os.close(keyboard)
    reader.join(timeout=10)
    shown = seen.decode()
    assert "no sample for 4 s" in shown
    # Heads, five rows of digits and the line below them are overwritten: the cursor goes six lines up.
    assert "\x1b[6A" in shown
    assert "█" in shown
    rows = [line.split("\x1b[K")[0].lstrip("\r") for line in shown.replace("\r\n", "\n").split("\n")]
    assert max(len(row) for row in rows if "█" in row) < 80
