"""Files from strangers: what is too large, too deep, endless, torn or no file is refused in bounded time and memory, in words that steer no terminal.

Memory and time are those of a process of its own: its largest resident set beyond what it held before (getrusage, POSIX.1-2017), and its time
on the processor, so that other programs beside it do not count.
"""

from __future__ import annotations

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
from pourline.cli import main

resource = pytest.importorskip("resource")

STEERS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")
MEASURED = """
import json, resource, sys, time
import pyarrow.compute, pyarrow.parquet
import pourline
pourline.read(b"time_s,water_g\\n0,0\\n1,1\\n2,2\\n")
per_mb = 1024 if sys.platform == "linux" else 1024 * 1024
before, begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
told = {"kind": None, "message": ""}
try:
    WORK
except pourline.PourlineError as error:
    told = {"kind": error.kind, "message": str(error)}
told["s"] = time.process_time() - begun
told["mb"] = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / per_mb
print(json.dumps(told))
"""
LOG = "time_s,water_g\n0,0\n0.1,0.4\n0.2,1.1\n"


def measured(work: str, *words: str | Path, stdin: Any = subprocess.DEVNULL) -> dict[str, Any]:
    """Do a work in a process of its own. One that hangs fails by its time."""
    code = [sys.executable, "-c", MEASURED.replace("WORK", work), *map(str, words)]
    done = subprocess.run(code, stdin=stdin, capture_output=True, text=True, timeout=60, check=True)
    told: dict[str, Any] = json.loads(done.stdout)
    print(
        f"{work} {[str(word)[-40:] for word in words]}: {told['mb']:.0f} MB, {told['s']:.2f} s: {told['message'][:200]}"
    )
    assert STEERS.search(told["message"]) is None
    assert len(told["message"]) < 1000
    return told


def refused(
    work: str, *words: str | Path, kind: str, said: str, mb: float = 20, s: float = 1, stdin: Any = subprocess.DEVNULL
) -> None:
    told = measured(work, *words, stdin=stdin)
    assert told["kind"] == kind, told
    assert said in told["message"]
    assert told["mb"] <= mb
    assert told["s"] <= s


READ = "pourline.read(sys.argv[1])"
READERS = {
    "a log": READ,
    "a log to analyse": "pourline.analyze(sys.argv[1])",
    "a plan": "pourline.Plan.read(sys.argv[1])",
    "labels": "pourline.Labels.read(sys.argv[1])",
    "a long table": "pourline.analyze_table(sys.argv[1])",
}


def constant(path: Path, columns: dict[str, pa.Array], times: int) -> None:
    """Write rows over and over, a group of rows each time; dictionaries and runs make a small file of them."""
    table = pa.table(columns)
    with pq.ParquetWriter(path, table.schema, compression="zstd") as writer:
        for _ in range(times):
            writer.write_table(table)


def test_a_parquet_bomb_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    million = pa.nulls(1_000_000, pa.float64())
    constant(bomb, {"time_s": million, "water_g": million, "cup_g": million}, 60)
    assert bomb.stat().st_size < 500_000, "1.4 GB in 0.5 MB"
    refused(READ, bomb, kind="format", said="60000000 rows, and a log has at most 50000000")


def test_what_a_log_does_not_need_of_a_parquet_file_is_not_unpacked(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    note = pa.array(["x" * 2_000_000]).dictionary_encode()
    notes = pa.DictionaryArray.from_arrays(pa.nulls(1000, pa.int32()).fill_null(0), note.dictionary)
    numbers = pa.array([0.1 * i for i in range(1000)])
    constant(bomb, {"time_s": numbers, "water_g": numbers, "note": notes}, 1)
    assert bomb.stat().st_size < 100_000, "2 GB in 0.1 MB"
    told = measured(READ, bomb)
    assert told["kind"] is None
    assert told["mb"] < 40
    constant(bomb, {"timestamp": notes, "water_g": numbers}, 1)
    refused(READ, bomb, kind="format", said="column 'timestamp' holds a text of 2000000 bytes", mb=60)


def test_columns_of_many_gigabytes_are_refused_by_what_the_file_says_of_them(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    # Texts that differ are not held once: 2,100 of 1 MB.
    texts = [pa.array([chr(97 + i % 26) * 1_000_000 + str(i) for i in range(k, k + 70)]) for k in range(0, 70, 70)]
    constant(bomb, {"timestamp": texts[0], "water_g": pa.nulls(70, pa.float64())}, 31)
    refused(READ, bomb, kind="format", said="bytes unpacked, and at most 2147483648 are read")


def test_a_log_of_a_long_table_that_never_ends_is_given_up(tmp_path: Path) -> None:
    bomb = tmp_path / "bomb.parquet"
    million = pa.nulls(1_000_000, pa.float64())
    same = pa.nulls(1_000_000, pa.int8()).fill_null(7)
    constant(bomb, {"log": same, "time_s": million, "water_g": million}, 60)
    # 50 million rows of it are held, 17 bytes each, before it is given up.
    refused(
        "list(pourline.analyze_table(sys.argv[1]))",
        bomb,
        kind="format",
        said="log 7 has more than 50000000 rows",
        mb=1500,
        s=20,
    )


@pytest.mark.parametrize("opening", ["[", '{"a":'])
def test_json_of_any_depth_is_refused(opening: str, tmp_path: Path) -> None:
    deep = tmp_path / "deep.json"
    deep.write_text(opening * 100_000)
    refused(READ, deep, kind="format", said="this is not JSON: recursion limit exceeded")
    refused("pourline.Labels.read(sys.argv[1])", deep, kind="format", said="these are no labels")
    refused("pourline.Brew.from_json(open(sys.argv[1]).read())", deep, kind="format", said="not what to_json gives")
    deep.write_text('{"pours":' + "[" * 100_000)
    refused("pourline.Labels.read(sys.argv[1])", deep, kind="format", said="these are no labels")


def test_a_plan_of_any_depth_is_refused(tmp_path: Path) -> None:
    deep = tmp_path / "deep.toml"
    for text in ("a = " + "[" * 100_000, ".".join("a" * 100_000) + " = 1", "[" + ".".join("a" * 100_000) + "]"):
        deep.write_text(text)
        refused("pourline.Plan.read(sys.argv[1])", deep, kind="format", said="line 1", mb=60)


def test_a_recipe_of_any_depth_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    deep = tmp_path / "deep.json"
    deep.write_text("[" * 100_000)
    assert main(["simulate", str(deep)]) == 2
    assert "is no JSON" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("head", "said"),
    [
        (b"", "line 1 is longer than 1 MiB"),
        (b"time_s,water_g\n0,", "line 2 is longer than 1 MiB"),
        (b'{"time_s": 0, "water_g": 1}\n{"a": "', "line 2 is longer than 1 MiB"),
        (b'{"time_s": "', "JSON beyond 16 MiB must be in lines"),
        (b"[", "JSON beyond 16 MiB must be in lines"),
    ],
)
def test_a_line_or_a_text_of_100_mb_is_given_up_early(head: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    with path.open("wb") as file:
        file.write(head)
        for _ in range(100):
            file.write(b"7" * 1_000_000)
    refused(READ, path, kind="format", said=said, mb=60)


def test_a_plan_or_labels_of_100_mb_are_given_up_early(tmp_path: Path) -> None:
    path = tmp_path / "long"
    path.write_bytes(b"# " + b"x" * 100_000_000)
    for name in ("a plan", "labels"):
        refused(READERS[name], path, kind="format", said="more than 16 MiB", mb=60)


def test_nul_bytes_are_named_and_a_gigabyte_of_them_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "nul.csv"
    path.write_bytes(b"")
    os.truncate(path, 1_000_000_000)
    refused(READ, path, kind="format", said="binary file")
    path.write_bytes(LOG.encode() * 10_000 + b"1,")
    os.truncate(path, 1_000_000_000)
    refused(READ, path, kind="not_a_number", said='"time_s" is not a number')
    path.write_bytes((LOG + "0.3,1\n" * 100_000).encode() + b"1,")
    os.truncate(path, 1_000_000_000)
    refused(READ, path, kind="format", said="line 100005", mb=30)


@pytest.mark.parametrize("what", READERS)
def test_a_pipe_a_folder_and_a_device_are_no_file(what: str, tmp_path: Path) -> None:
    pipe, folder = tmp_path / "pipe", tmp_path / "folder"
    os.mkfifo(pipe)
    folder.mkdir()
    refused(READERS[what], pipe, kind="io", said="this is not a regular file")
    refused(READERS[what], "/dev/zero", kind="io", said="this is not a regular file")
    refused(
        READERS[what], folder, kind="io", said="no Parquet file" if what == "a long table" else "this is a directory"
    )
    refused(READERS[what], tmp_path / "none", kind="io", said="No such file")


def test_a_pipe_that_is_called_parquet_is_no_file(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.parquet"
    os.mkfifo(pipe)
    refused(READ, pipe, kind="io", said="this is not a regular file")
    refused("pourline.analyze_table(sys.argv[1])", tmp_path, kind="io", said="this is not a regular file")


COMMAND = "from pourline.cli import main; code = main(sys.argv[1:])\n    if code: raise pourline.PourlineError(str(code), 'code')"


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


@pytest.mark.parametrize("name", ["empty.csv", "empty.json", "empty.parquet"])
def test_an_empty_file_is_called_so(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.touch()
    kind, said = ("format", "not a Parquet file") if name.endswith("parquet") else ("empty", "holds no samples")
    refused(READ, path, kind=kind, said=said)


def test_a_file_that_is_cut_off_is_refused_where_it_is_cut(tmp_path: Path) -> None:
    path = tmp_path / "cut.csv"
    path.write_text(LOG + "0.3")
    refused(READ, path, kind="format", said="row 4: 1 fields, where the first line has 2")
    path.write_text('{"time_s": [0, 1, 2], "water_g": [0, 1')
    refused(READ, path, kind="format", said="EOF while parsing")
    path.write_text('{"time_s": 0, "water_g": 1}\n{"time_s": 1, "wat')
    refused(READ, path, kind="format", said="row 2: this is not JSON: EOF")
    whole, cut = tmp_path / "whole.parquet", tmp_path / "cut.parquet"
    pq.write_table(pa.table({"time_s": [0.1 * i for i in range(1000)], "water_g": [0.0] * 1000}), whole)
    content = whole.read_bytes()
    for length in (4, len(content) // 2, len(content) - 4):
        cut.write_bytes(content[:length])
        refused(READ, cut, kind="format", said="not a Parquet file")
    # A footer that is whole over pages that are not.
    cut.write_bytes(content[:4] + b"\xff" * 1000 + content[1004:])
    refused(READ, cut, kind="format", said="cut.parquet")


HOSTILE = "a\x1b[31mb\x07\u202ec\x9b\u2066"


def test_names_that_steer_stand_in_errors_as_escapes(tmp_path: Path) -> None:
    shown = r"a\u{1b}[31mb\u{7}\u{202e}c\u{9b}\u{2066}"
    bytes_of = {
        "header": f"{HOSTILE},time_s\n0,0\n",
        "cell": f"time_s,water_g\n0,{HOSTILE}\n",
        "column": f"time_s,weight {HOSTILE} (g)\n0,0\n1,x\n",
        "note": f"# dose_g: {HOSTILE}\ntime_s,water_g\n0,0\n1,1\n2,2\n",
        "key": json.dumps({HOSTILE: [1]}),
        "twice": '{"time_s":0,"water_g":1}\n' + '{"k":1,"k":2}'.replace("k", json.dumps(HOSTILE)[1:-1]),
    }
    for name, text in bytes_of.items():
        with pytest.raises(pourline.PourlineError) as caught:
            pourline.read(text.encode())
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
        pourline.read(bytes_of["column"].encode())
    assert caught.value.column == f"weight {HOSTILE} (g)"


def test_names_that_steer_reach_no_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    log, _ = pourline.simulate("usual", seed=3)
    names = [f"{k}{HOSTILE}.csv" for k in range(4)]
    for k, name in enumerate(names):
        notes = "".join(f"# {key}: {HOSTILE}\n" for key in ("name", "person", "note"))
        kettle = f"# kettle: {HOSTILE}{k % 2}\n"
        rows = "".join(f"{t},{w}\n" for t, w in zip(log.time_s, log.water_g, strict=True))
        Path(name).write_text(f"{notes}{kettle}time_s,water_g\n{rows}")
    brew = pourline.analyze(log)
    labels = pourline.Labels([(p.start_s.value, p.end_s.value) for p in brew.pours], by=HOSTILE, note=HOSTILE)
    labels.write("labels.json")
    Path("bad\x1b.csv").write_text(f"{HOSTILE},b\n1,2\n")
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
        assert words[0] == "report" or "\\u{1b}" in told.out + told.err, words
