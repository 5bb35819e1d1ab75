"""Files from strangers: what is too large, too deep, endless, torn or no file is refused in bounded time and memory, in
words that steer no terminal.

Memory and time are those of a process of its own: its largest resident set beyond what it held before, as Linux
tells it (VmHWM of /proc, set back before each work; what getrusage tells begins with that of the process that
forked), and its time on the processor, so that other programs beside it do not count.
"""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import pourline
from pourline._io import growing
from pourline._io.files import all_of
from pourline.cli import main

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="pipes, devices and memory as Linux has them")

STEERS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
MEASURED = """
import json, sys, time
import pyarrow.compute, pyarrow.parquet
import pourline


def most_mb():
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1024


pourline.read(b"time_s,water_g\\n0,0\\n1,1\\n2,2\\n")
for work, path in json.loads(sys.argv[1]):
    with open("/proc/self/clear_refs", "w") as file:
        file.write("5")
    told, before, begun = {"kind": None, "message": ""}, most_mb(), time.process_time()
    try:
        eval(work)
    except pourline.PourlineError as error:
        told = {"kind": error.kind, "message": str(error)}
    told |= {"s": time.process_time() - begun, "mb": most_mb() - before}
    print(json.dumps(told), flush=True)
"""
LOG = "time_s,water_g\n0,0\n0.1,0.4\n0.2,1.1\n"


def measured(*works: tuple[str, Path]) -> list[dict[str, Any]]:
    """Do works in a process of their own, each with a path. One that hangs fails by its time."""
    words = json.dumps([(work, str(path)) for work, path in works])
    code = [sys.executable, "-c", MEASURED, words]
    done = subprocess.run(code, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120, check=True)
    all_told: list[dict[str, Any]] = [json.loads(line) for line in done.stdout.splitlines()]
    for (work, path), told in zip(works, all_told, strict=True):
        print(f"{work} of {path.name}: {told['mb']:.0f} MB, {told['s']:.2f} s: {told['message'][:160]}")
        assert STEERS.search(told["message"]) is None
        assert len(told["message"]) < 1000
    return all_told


def refused(*cases: tuple[str, Path, str, str], mb: float = 20, s: float = 1) -> None:
    """Check the kind and message of the error of each work, and its memory and time."""
    for case, told in zip(cases, measured(*((work, path) for work, path, _, _ in cases)), strict=True):
        assert told["kind"] == case[2], told
        assert case[3] in told["message"]
        assert told["mb"] <= mb
        assert told["s"] <= s


READ, PLAN, LABELS = "pourline.read(path)", "pourline.Plan.read(path)", "pourline.Labels.read(path)"
LONG, BREW = "list(pourline.analyze_table(path))", "pourline.Brew.from_json(open(path).read())"
READERS = (READ, "pourline.analyze(path)", PLAN, LABELS, LONG)


def constant(path: Path, columns: dict[str, pa.Array], times: int) -> None:
    """Write rows over and over, a group of rows each time; dictionaries and runs make a small file of them."""
    table = pa.table(columns)
    with pq.ParquetWriter(path, table.schema, compression="zstd") as writer:
        for _ in range(times):
            writer.write_table(table)


def same(value: object, rows: int) -> pa.Array:
    return pa.DictionaryArray.from_arrays(pa.nulls(rows, pa.int32()).fill_null(0), pa.array([value]))


def test_a_parquet_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    million = pa.nulls(1_000_000, pa.float64())
    constant(bomb, {"time_s": million, "water_g": million, "cup_g": million}, 60)
    assert bomb.stat().st_size < 500_000, "1.4 GB in 0.5 MB"
    refused((READ, bomb, "format", "60000000 rows, the limit of a log is 50000000"))


def test_what_a_log_does_not_need_of_a_parquet_file_is_not_unpacked(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    note, numbers = same("x" * 2_000_000, 1000), pa.array([0.1 * i for i in range(1000)])
    constant(bomb, {"time_s": numbers, "water_g": numbers, "note": note}, 1)
    assert bomb.stat().st_size < 100_000, "2 GB in 0.1 MB"
    (told,) = measured((READ, bomb))
    assert told["kind"] is None
    assert told["mb"] < 40


@pytest.mark.parametrize("kept_as", ["dictionary", "text", "bytes"])
def test_a_long_text_in_every_row_of_the_stamps_is_not_unpacked(kept_as: str, tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    stamps = same("x" * 200_000, 100)
    if kept_as != "dictionary":
        stamps = stamps.cast(pa.string()).cast(pa.string() if kept_as == "text" else pa.binary())
    constant(bomb, {"timestamp": stamps, "water_g": pa.nulls(100, pa.float64())}, 100)
    assert bomb.stat().st_size < 200_000, "2 GB in 0.2 MB"
    if kept_as == "bytes":
        refused((READ, bomb, "column", "column 'timestamp' has type binary"))
    else:
        refused((READ, bomb, "format", "column 'timestamp' holds a text of 200000 bytes"), mb=60)


@pytest.mark.slow
def test_columns_of_many_gigabytes_are_refused_by_what_the_file_says_of_them(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    # Texts that differ are not held once: 2,170 of 1 MB.
    texts = pa.array([chr(97 + i % 26) * 1_000_000 + str(i) for i in range(70)])
    constant(bomb, {"timestamp": texts, "water_g": pa.nulls(70, pa.float64())}, 31)
    refused((READ, bomb, "format", "bytes unpacked, the limit is 2147483648"))


@pytest.mark.slow
def test_a_log_of_a_long_table_that_never_ends_is_given_up(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    million = pa.nulls(1_000_000, pa.float64())
    constant(bomb, {"log": same(7, 1_000_000).cast(pa.int64()), "time_s": million}, 60)
    # 50 million rows of it are held, 16 bytes each, before it is given up.
    refused((LONG, bomb, "format", "log 7 has more than 50000000 rows"), mb=1500, s=20)


def test_json_and_plans_of_any_depth_are_refused(tmp_path: Path) -> None:
    cases = []
    for k, opening in enumerate(("[", '{"a":')):
        deep = tmp_path / f"deep{k}.json"
        deep.write_text(opening * 100_000)
        cases.append((READ, deep, "format", "this is not JSON: recursion limit exceeded"))
        cases.append((LABELS, deep, "format", "these are no labels"))
        cases.append((BREW, deep, "format", "no brew as written by to_json"))
    deep = tmp_path / "labels.json"
    deep.write_text('{"pours":' + "[" * 100_000)
    cases.append((LABELS, deep, "format", "these are no labels"))
    # As deep as a plan's 64 KiB can be.
    dotted = ".".join("a" * 30_000)
    texts = "a = " + "[" * 60_000, f"{dotted[:2001]} = 1", f"{dotted} = 1", f"[{dotted}]", f"{dotted[:159]} = 1\n" * 380
    for k, text in enumerate(texts):
        deep = tmp_path / f"deep{k}.toml"
        deep.write_text(text)
        cases.append((PLAN, deep, "format", "line " if k < 2 else "more than 1000 dots"))
    refused(*cases, mb=24)


def test_a_recipe_of_any_depth_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    deep = tmp_path / "deep.json"
    deep.write_text("[" * 100_000)
    assert main(["simulate", str(deep)]) == 2
    assert "is not JSON" in capsys.readouterr().err


def test_a_line_or_a_text_of_100_mb_is_given_up_early(tmp_path: Path) -> None:
    cases = []
    for k, (head, said) in enumerate(
        (
            (b"", "line 1 is longer than 1 MiB"),
            (b"time_s,water_g\n0,", "line 2 is longer than 1 MiB"),
            (b'{"time_s": 0, "water_g": 1}\n{"a": "', "line 2 is longer than 1 MiB"),
            (b'{"time_s": "', "JSON beyond 16 MiB must be in lines"),
            (b"[", "JSON beyond 16 MiB must be in lines"),
        )
    ):
        path = tmp_path / f"long{k}.csv"
        with path.open("wb") as file:
            file.write(head)
            for _ in range(100):
                file.write(b"7" * 1_000_000)
        cases.append((READ, path, "format", said))
    path = tmp_path / "commented"
    path.write_bytes(b"# " + b"x" * 100_000_000)
    cases += [(PLAN, path, "format", "more than 16 MiB"), (LABELS, path, "format", "more than 16 MiB")]
    refused(*cases, mb=60)


def test_nul_bytes_are_named_and_a_gigabyte_of_them_is_not_read(tmp_path: Path) -> None:
    cases = []
    for k, (head, said) in enumerate(
        (("", "binary file"), (LOG + "0.3,1\n" * 100_000 + "1,", "line 100005 is longer than 1 MiB"))
    ):
        path = tmp_path / f"nul{k}.csv"
        path.write_text(head)
        os.truncate(path, 1_000_000_000)
        cases.append((READ, path, "format", said))
    path = tmp_path / "nul.csv"
    path.write_text(LOG + "0.3,1\n" * 100_000 + "1,\x00\n")
    cases.append((READ, path, "format", "line 100005 holds a NUL byte"))
    refused(*cases, mb=30)


def test_a_pipe_a_folder_and_a_device_are_no_file(tmp_path: Path) -> None:
    pipe, folder = tmp_path / "pipe", tmp_path / "folder"
    os.mkfifo(pipe)
    folder.mkdir()
    cases = []
    for work in READERS:
        cases += [(work, one, "io", "this is not a regular file") for one in (pipe, Path("/dev/zero"))]
        cases.append((work, folder, "io", "no Parquet file" if work == LONG else "this is a directory"))
        cases.append((work, tmp_path / "none", "io", "No such file"))
    other = tmp_path / "other"
    other.mkdir()
    os.mkfifo(other / "pipe.parquet")
    cases += [(work, other / "pipe.parquet", "io", "this is not a regular file") for work in (READ, LONG)]
    cases.append((LONG, other, "io", "this is not a regular file"))
    refused(*cases)


@pytest.mark.slow
def test_the_command_line_waits_for_no_pipe_but_standard_input(tmp_path: Path) -> None:
    pipe, log = tmp_path / "pipe.json", tmp_path / "brew.csv"
    os.mkfifo(pipe)
    log.write_text(LOG)
    for words in (
        ["watch", pipe],
        ["analyze", pipe],
        ["simulate", pipe],
        ["analyze", log, "--factors", pipe],
        ["plan", pipe, log],
    ):
        told = subprocess.run(
            [sys.executable, "-m", "pourline", *map(str, words)],
            capture_output=True,
            text=True,
            timeout=60,
            stdin=subprocess.DEVNULL,
        )
        assert told.returncode in (2, 3), words
        assert "this is not a regular file" in told.stderr, words
    told = subprocess.run(
        [sys.executable, "-m", "pourline", "analyze", "-"], input=LOG, capture_output=True, text=True, timeout=60
    )
    assert told.returncode == 0, "standard input is read"


def test_an_endless_standard_input_is_given_up() -> None:
    with open("/dev/zero", "rb") as endless:
        told = subprocess.run(
            [sys.executable, "-m", "pourline", "analyze", "-"],
            stdin=endless,
            capture_output=True,
            text=True,
            timeout=60,
        )
    assert told.returncode == 3
    assert "standard input" in told.stderr
    assert "binary file" in told.stderr


def test_lines_that_never_end_are_given_up_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = LOG.encode() + b"0.3,1.5\n" * 1_000_000
    assert all_of(io.BytesIO(lines)) == lines
    with pytest.raises(pourline.PourlineError, match="standard input: more than 2 MiB"):
        all_of(io.BytesIO(lines), 2 << 20)
    path = tmp_path / "brew.csv"
    path.write_bytes(lines)
    monkeypatch.setattr(growing, "MOST_AT_ONCE", 2 << 20)
    log = growing.GrowingFile(str(path))
    with pytest.raises(pourline.PourlineError, match="more than 2 MiB"):
        log.look()


def test_a_file_that_is_empty_or_cut_off_is_refused_where_it_ends(tmp_path: Path) -> None:
    whole = tmp_path / "whole.parquet"
    pq.write_table(pa.table({"time_s": [0.1 * i for i in range(1000)], "water_g": [0.0] * 1000}), whole)
    content = whole.read_bytes()
    files = {
        "empty.csv": (b"", "empty", "holds no samples"),
        "empty.json": (b"", "empty", "holds no samples"),
        "empty.parquet": (b"", "format", "not a Parquet file"),
        "cut.csv": (LOG.encode() + b"0.3", "format", "row 4: 1 fields, but the first line has 2"),
        "columns.json": (b'{"time_s": [0, 1, 2], "water_g": [0, 1', "format", "EOF while parsing"),
        "lines.json": (b'{"time_s": 0, "water_g": 1}\n{"time_s": 1, "wat', "format", "row 2: this is not JSON: EOF"),
        "begun.parquet": (content[:4], "format", "not a Parquet file"),
        "half.parquet": (content[: len(content) // 2], "format", "not a Parquet file"),
        "no_end.parquet": (content[:-4], "format", "not a Parquet file"),
        # A footer that is whole over pages that are not.
        "torn.parquet": (content[:4] + b"\xff" * 1000 + content[1004:], "format", "a damaged Parquet file"),
    }
    for name, (holds, _, _) in files.items():
        (tmp_path / name).write_bytes(holds)
    refused(*((READ, tmp_path / name, kind, said) for name, (_, kind, said) in files.items()), mb=40)


HOSTILE = "a\x1b[31mb\x07\u202ec\x9b\u2066"
# A text file with ESC and BEL is refused as a binary one.
IN_TEXT = "a\x9b31mb\u202ec\u2066"


def test_names_that_steer_stand_in_errors_as_escapes(tmp_path: Path) -> None:
    shown = r"a\u{1b}[31mb\u{7}\u{202e}c\u{9b}\u{2066}"
    bytes_of = {
        "header": f"{IN_TEXT},time_s\n0,0\n",
        "cell": f"time_s,water_g\n0,{IN_TEXT}\n",
        "column": f"time_s,{IN_TEXT}\n0,0\n1,x\n",
        "note": f"# dose_g: {IN_TEXT}\ntime_s,water_g\n0,0\n1,1\n2,2\n",
        "key": json.dumps({HOSTILE: [1]}),
        "twice": '{"time_s":0,"water_g":1}\n' + '{"k":1,"k":2}'.replace("k", json.dumps(HOSTILE)[1:-1]),
    }
    for name, text in bytes_of.items():
        with pytest.raises(pourline.PourlineError) as caught:
            pourline.read(text.encode(), water=2 if name == "column" else None)
        message = str(caught.value)
        assert STEERS.search(message) is None, name
        assert "31mb" in message, f"{name}: it is not hidden either: {message}"
    path = tmp_path / f"{HOSTILE}.csv"
    for ending in ("csv", "parquet", "toml", "json"):
        for read in (pourline.read, pourline.Plan.read, pourline.Labels.read, pourline.analyze_table):
            with pytest.raises(pourline.PourlineError) as caught:
                read(path.with_suffix(f".{ending}"))
            assert STEERS.search(str(caught.value)) is None
            assert shown in str(caught.value)
    for text in (f"'{HOSTILE}' = 1", f'"{json.dumps(HOSTILE)[1:-1]}" = 1', "[[pour]]\n" + '"\\u001b" = 1'):
        with pytest.raises(pourline.PourlineError) as caught:
            pourline.Plan.parse(text)
        assert STEERS.search(str(caught.value)) is None
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.Labels.from_json(json.dumps({"pours": [], HOSTILE: 1}))
    assert STEERS.search(str(caught.value)) is None
    # What a program reads is the name itself.
    with pytest.raises(pourline.PourlineError) as caught:
        pourline.read(bytes_of["column"].encode(), water=2)
    assert caught.value.column == IN_TEXT


def test_names_that_steer_reach_no_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    log, _ = pourline.simulate("usual", seed=3)
    assert log.water_g is not None
    names = [f"{k}{HOSTILE}.csv" for k in range(4)]
    for k, name in enumerate(names):
        notes = "".join(f"# {key}: {k}{IN_TEXT}\n" for key in ("name", "person", "note"))
        kettle = f"# kettle: {IN_TEXT}{k % 2}\n"
        rows = "".join(f"{t},{w}\n" for t, w in zip(log.time_s, log.water_g, strict=True))
        Path(name).write_text(f"{notes}{kettle}time_s,water_g\n{rows}")
    brew = pourline.analyze(log)
    labels = pourline.Labels([(p.start_s.value, p.end_s.value) for p in brew.pours], by=HOSTILE, note=HOSTILE)
    labels.write("labels.json")
    Path("bad\x1b.csv").write_text(f"{IN_TEXT},b\n1,2\n")
    Path("plan.toml").write_text("[[pour]]\nstart_s = 0\nmass_g = 50\n")
    for words, code in (
        (["analyze", *names], 0),
        (["analyze", names[0], "--labels", "labels.json"], 0),
        (["analyze", "bad\x1b.csv", "none\x1b.csv"], 3),
        (["plan", "plan.toml", *names], 0),
        (["plan", "none\x1b.toml", *names], 2),
        (["compare", *names, "--by", "kettle", "--measure", "mean_flow_g_per_s"], 0),
        (["watch", names[0], "--patience", "0.01", "--every", "0.01"], 0),
        (["watch", "bad\x1b.csv", "--patience", "0.01", "--every", "0.01"], 3),
        (["report", *names, "-o", "page\x1b.html"], 0),
        (["report", names[0], "-o", "page\x1b.html"], 2),
    ):
        assert main(words) == code, words
        told = capsys.readouterr()
        assert STEERS.search(told.out + told.err) is None, words
        assert words[0] == "report" or "\\u{" in told.out + told.err, words
