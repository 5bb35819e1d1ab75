"""Files are written at the given path, completely, and never over an existing file: also if the run is killed."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import pourline
from pourline._io.files import whole_file, write_whole

ROOT = Path(__file__).parents[2]
LEFT = re.compile(r"\.pourline-[0-9a-f]{8}\.part")

# Forks, so that the import is paid once; each child is killed at a random moment of its work, without a chance to clean
# up.
KILLS = """
import json, os, random, signal, sys, time
from pathlib import Path
import pourline.cli
from pourline._io.files import write_whole

folder, what, kills = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
target, chance = folder / "made.csv", random.Random(17)
found = {"old": 0, "new": 0, "none": 0, "half": 0, "done": 0}
whole = [line.encode() * 400_000 for line in ("0.1,2.5\\n", "0.2,7.125\\n")]
words = ["simulate", "usual", "--seed", "5", "-o", str(target)]
pourline.cli.main(words)
simulated = target.read_bytes()
old, new = (b"kept\\n" * 4000, simulated) if what != "write" else whole
longest = 0.0
for trial in range(kills + 5):
    target.unlink(missing_ok=True)
    if what != "fresh":
        target.write_bytes(old)
    begun = time.perf_counter()
    child = os.fork()
    if child == 0:
        if what == "write":
            write_whole(target, new)
        else:
            pourline.cli.main([*words, "--force"] if what == "force" else words)
        os._exit(0)
    if trial >= 5:
        time.sleep(chance.uniform(0, 1.4 * longest))
        os.kill(child, signal.SIGKILL)
    status = os.waitpid(child, 0)[1]
    if trial < 5:
        longest = max(longest, time.perf_counter() - begun)
        continue
    there = target.read_bytes() if target.exists() else None
    found["none" if there is None else "new" if there == new else "old" if there == old and what != "fresh" else "half"] += 1
    found["done"] += status == 0
found["left"] = sorted(path.name for path in folder.iterdir() if path != target)
print(json.dumps(found))
"""


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize(("what", "kills"), [("write", 200), ("force", 80), ("fresh", 80)])
def test_a_run_killed_at_any_moment_leaves_the_old_file_or_the_new(what: str, kills: int, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", KILLS, tmp_path, what, str(kills)],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["half"] == 0, found
    assert found["old" if what != "fresh" else "none"] >= kills / 10, found
    assert found["new"] > 0, found
    assert found["none" if what != "fresh" else "old"] == 0, found
    # The kill was early enough to leave parts behind, which their names identify.
    assert found["left"] or what != "write", found
    assert all(LEFT.fullmatch(name) for name in found["left"]), found


@pytest.mark.parametrize("failure", [ValueError, KeyboardInterrupt, OSError])
def test_an_error_or_ctrl_c_leaves_the_old_file_and_nothing_else(failure: type[BaseException], tmp_path: Path) -> None:
    target = tmp_path / "page.html"
    target.write_text("before")

    def write() -> None:
        with whole_file(target) as part:
            part.write_text("half")
            assert LEFT.fullmatch(part.name)
            raise failure

    with pytest.raises((failure, pourline.PourlineError)):
        write()
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("page.html", "before")]


def test_a_link_stays_a_link_and_a_file_keeps_its_rights(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    real, link = tmp_path / "elsewhere" / "page.html", tmp_path / "page.html"
    real.write_text("before")
    real.chmod(0o640)
    link.symlink_to(real)
    write_whole(link, b"after")
    assert link.is_symlink()
    assert (real.read_text(), real.stat().st_mode & 0o777) == ("after", 0o640)


@pytest.mark.parametrize("way", ["-", "/dev/stdout", "redirected"])
def test_standard_output_and_pipes_are_written_without_force(way: str, tmp_path: Path) -> None:
    expected = subprocess.run(
        [sys.executable, "-m", "pourline", "simulate", "usual", "--seed", "5"], capture_output=True, check=True
    ).stdout
    command = [sys.executable, "-m", "pourline", "simulate", "usual", "--seed", "5", "-o"]
    if way == "redirected":
        with open(tmp_path / "log.csv", "wb") as file:
            subprocess.run([*command, "/dev/stdout"], stdout=file, check=True)
        assert (tmp_path / "log.csv").read_bytes() == expected
        return
    done = subprocess.run([*command, way], capture_output=True, check=False, cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, expected, b"")
    assert not list(tmp_path.iterdir())


def test_a_named_pipe_gets_the_bytes_and_stays_a_pipe(tmp_path: Path) -> None:
    pipe, got = tmp_path / "pipe.csv", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    write_whole(pipe, b"time_s,water_g\n", replace=False)
    reader.join(10)
    assert got == [b"time_s,water_g\n"]
    assert pipe.is_fifo()


def test_the_null_device_takes_everything_and_stays() -> None:
    write_whole(os.devnull, b"x", replace=False)
    assert Path(os.devnull).is_char_device()


def test_a_page_is_made_anew_and_labels_are_not(tmp_path: Path) -> None:
    log, _ = pourline.simulate("usual", seed=7)
    page, labels = tmp_path / "page.html", tmp_path / "labels.json"
    page.write_text("before")
    assert pourline.report(pourline.analyze(log), page).read_text().startswith("<!doctype html>")
    labels.write_text("before")
    with pytest.raises(pourline.PourlineError, match="overwrite=True"):
        pourline.Labels([(1.0, 2.0)]).write(labels)
    assert labels.read_text() == "before"


def test_one_place_writes() -> None:
    """Whatever opens a file to write does it on the path that `whole_file` gives."""
    writers = re.compile(
        r"""write_(?:text|bytes)\(|open\([^)]*["'](?:w|a|x|rb?\+)|savefig\(|mkstemp|NamedTemporaryFile"""
    )
    allowed = {
        "files.py": 3,
        "output.py": 1,  # _write, which write_tables gives a part
        "cli.py": 1,  # the figure of the demo
        "progress.py": 1,  # the figure of the progress
    }
    found = {}
    for path in sorted((ROOT / "python" / "pourline").rglob("*.py")):
        code = [line for line in path.read_text(encoding="utf-8").splitlines() if ">>>" not in line]
        if count := sum(bool(writers.search(line)) for line in code):
            found[path.name] = count
    assert found == allowed
