"""How far long work is: a bar in a notebook and on a terminal, which goes away whatever happens; silence elsewhere."""

from __future__ import annotations

import fcntl
import importlib.util
import os
import pty
import struct
import subprocess
import sys
import termios
from pathlib import Path

import nbformat
import pytest
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient

import pourline
from pourline._io import progress

WIPED = b"\r\x1b[K"
# Work of which a test says how long it takes, so that no log need be analysed; and none of the packages that may be
# installed.
WORK = """
import sys, time
sys.modules[{without!r}] = None
from pourline._io.progress import Bar
with Bar({progress}, 4) as bar:
    for done in range(1, 5):
        time.sleep({each_s})
        bar.tell(done)
print("end")
"""


def on_a_terminal(code: str) -> bytes:
    """Return what a terminal of 80 columns shows of it."""
    master, slave = pty.openpty()
    fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    with subprocess.Popen([sys.executable, "-c", code], stdout=slave, stderr=slave) as process:
        os.close(slave)
        told = b""
        try:
            while part := os.read(master, 65536):
                told += part
        except OSError:
            # A terminal that nobody writes to any more.
            pass
        os.close(master)
    assert process.returncode is not None
    return told


def work(without: str = "tqdm", progress: object = None, each_s: float = 0.0) -> str:
    return WORK.format(without=without, progress=progress, each_s=each_s)


def test_a_terminal_shows_it_where_the_work_is_worth_it() -> None:
    long = on_a_terminal(work(each_s=0.3))
    assert b" 1/4" in long
    assert long.endswith(b" 4/4" + WIPED + b"end\r\n")
    assert on_a_terminal(work(each_s=0.01)) == b"end\r\n"
    assert on_a_terminal(work(each_s=0.3, progress=False)) == b"end\r\n"
    assert on_a_terminal(work(each_s=0.01, progress=True)).endswith(b" 4/4" + WIPED + b"end\r\n")


@pytest.mark.skipif(importlib.util.find_spec("tqdm") is None, reason="tqdm is not installed")
def test_tqdm_draws_it_where_it_is_installed() -> None:
    told = on_a_terminal(work(without="nothing", each_s=0.3))
    assert b"s/it]" in told or b"it/s]" in told
    # It wipes with blanks.
    assert told.endswith(b" \rend\r\n")


@pytest.mark.parametrize("progress", [None, True, False])
def test_a_pipe_stays_clean(progress: object) -> None:
    command = [sys.executable, "-c", work("nothing", progress, each_s=0.3)]
    done = subprocess.run(command, capture_output=True, check=True)
    assert (done.stdout, done.stderr) == (b"end\n", b"")


@pytest.mark.parametrize(("raised", "shown"), [("KeyboardInterrupt", "stopped"), ("ValueError('no')", "failed")])
def test_the_bar_goes_away_when_the_work_is_stopped_or_fails(raised: str, shown: str) -> None:
    # The exception of Ctrl-C, raised during the analysis of the logs.
    code = f"""
import sys
sys.modules["tqdm"] = None
import pourline
from pourline._io import progress
def update(self, more):
    self._write("one")
    if more:
        raise {raised}
progress.TextLine.update = update
try:
    pourline.analyze_many([pourline.datasets.load("fernspout-ada-01")], progress=True)
except KeyboardInterrupt:
    print("stopped")
except ValueError:
    print("failed")
"""
    assert on_a_terminal(code) == b"oneone" + WIPED + shown.encode() + b"\r\n"


def test_rows_of_the_command_line_stand_on_lines_of_their_own(tmp_path: Path) -> None:
    log = tmp_path / "small.csv"
    log.write_text("time_s,water_g\n0,0\n1,0\n2,0\n")
    code = f"""
import sys
sys.modules["tqdm"] = None
from pourline._io import progress
from pourline.cli import main
progress.WORTH_S = 0.0
main(["analyze", *[{str(log)!r}] * 70])
"""
    told = on_a_terminal(code)
    assert b" 64/70" in told
    assert told.count(b"\x1b[1msmall") == 70
    for line in told.split(b"\r\n"):
        # What is seen of a line is what comes after it was wiped last.
        assert b"/70" not in line.split(WIPED)[-1]


def test_a_function_is_called_in_its_place_and_nothing_is_drawn(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    brew = pourline.analyze(b"time_s,water_g\n0,0\n1,0\n2,0\n")
    pourline.report([brew] * 3, tmp_path / "page.html", progress=lambda done, all_: told.append((done, all_)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_without_a_console_there_is_no_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", None)
    assert not progress.on_terminal()
    with progress.Bar(True, 3) as bar:
        bar.tell(3)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("without", ["tqdm", "ipywidgets", "nothing"])
def test_a_notebook_shows_it_and_keeps_nothing_of_it(without: str, this_python: type[AsyncKernelManager]) -> None:
    # A last cell would show what the bar left; the bar itself is seen from the kernel.
    seen = "import pourline._io.progress as p; b = p.Bar(True, 4); b.tell(2); print(type(b._drawn).__mro__); b.close()"
    cells = [nbformat.v4.new_code_cell(code) for code in (work(without, each_s=0.3), seen)]  # type: ignore[no-untyped-call]
    notebook = nbformat.v4.new_notebook(cells=cells)  # type: ignore[no-untyped-call]
    done = NotebookClient(notebook, timeout=60, kernel_manager_class=this_python).execute()
    outputs = [output for cell in done.cells for output in cell.outputs]
    assert [output.text for output in outputs if output.output_type == "stream" and output.name == "stderr"] == []
    widgets = without == "nothing" and all(map(importlib.util.find_spec, ("tqdm", "ipywidgets")))
    end, drawn = [output.text for output in outputs if output.output_type == "stream"]
    assert end == "end\n"
    assert ("tqdm_notebook" if widgets else "HtmlLine") in drawn
    if not widgets:
        left = [output.data for output in outputs if output.output_type == "display_data"]
        assert left == [{"text/html": "", "text/plain": ""}] * 2
