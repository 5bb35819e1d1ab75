"""In: the core. Out: which of the mutants drawn from it the tests catch: a table by folder, and the survivors in
target/mutants/survivors.json.

All mutants stand in one build, each behind a switch that an environment variable sets. A test that reaches no mutant
is not run for it; the golden digests are never run, since they notice change and not error. Fails if too few of the
mutants outside the folders left out are caught.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from mutants_draw import Mutant, files, possible, written

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / "target" / "mutants"
TREE = HOME / "tree"
EQUIVALENT = ROOT / ".ci" / "mutants_equivalent.txt"
# Duration of tests that run together in one process, s.
TOGETHER_S = 1.0
MEMORY_BYTES = 6 << 30


@dataclass
class Test:
    """One test in one program."""

    program: str
    file: str
    name: str
    seconds: float = 0.0
    passes: bool = False
    reaches: set[int] = field(default_factory=set)


def arguments() -> argparse.Namespace:
    """The arguments."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=19)
    parser.add_argument("--number", type=int, default=300, help="how many mutants are drawn from the whole core")
    parser.add_argument(
        "--leave-out",
        nargs="*",
        default=["segment", "metrics", "measures"],
        help="folders below src that the bar leaves out",
    )
    parser.add_argument("--only-held", action="store_true", help="do not run the mutants in the folders left out")
    parser.add_argument(
        "--again", action="store_true", help="keep the mutants caught in the last run, run only the others"
    )
    parser.add_argument("--unit", action="store_true", help="unit tests alone, for a quick look")
    parser.add_argument("--longest-s", type=float, default=60.0, help="a test that takes longer by itself is left out")
    parser.add_argument("--least-pct", type=float, default=90.0, help="the bar")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    return parser.parse_args()


def cargo(*words: str) -> tuple[bool, list[dict[str, Any]]]:
    """Runs cargo in the copy, with messages as JSON."""
    env = os.environ | {"CARGO_TARGET_DIR": str(HOME / "build"), "RUSTFLAGS": "--cap-lints allow"}
    done = subprocess.run(
        ["cargo", *words, "--locked", "--message-format=json"], cwd=TREE, env=env, capture_output=True, text=True
    )
    found = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("{")]
    if done.returncode and not any(one["reason"] == "compiler-message" for one in found):
        sys.exit(done.stderr)
    return done.returncode == 0, found


def copy() -> None:
    """The tree as git sees it, changed or not, into the copy; a file that did not change keeps its time."""
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=ROOT, check=True, stdout=subprocess.PIPE
    ).stdout
    names = {name for name in listed.decode().split("\0") if name and (ROOT / name).is_file()}
    if TREE.exists():
        for old in TREE.rglob("*"):
            if old.is_file() and str(old.relative_to(TREE)) not in names:
                old.unlink()
    for name in names:
        write(TREE / name, (ROOT / name).read_bytes())


def write(path: Path, data: bytes) -> None:
    """Writes a file if its content changes."""
    if not path.exists() or path.read_bytes() != data:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def switched(mutants: list[Mutant]) -> dict[str, list[tuple[int, int, int]]]:
    """Writes the switches into the copy; returns the bytes of each mutant by file."""
    by_file: dict[str, list[Mutant]] = defaultdict(list)
    for mutant in mutants:
        by_file[mutant.path].append(mutant)
    spans = {}
    for path in files(ROOT, []):
        name = str(path.relative_to(ROOT))
        data, spans[name] = written(path.read_bytes(), by_file[name])
        if name != "src/lib.rs":
            write(TREE / name, data)
    write(TREE / "src/mutant.rs", (ROOT / ".ci/mutants.rs").read_bytes())
    write(TREE / "src/lib.rs", (ROOT / "src/lib.rs").read_bytes() + b"\n#[doc(hidden)]\npub mod mutant;\n")
    return spans


def to_blame(messages: list[dict[str, Any]], spans: dict[str, list[tuple[int, int, int]]]) -> set[int]:
    """The mutants that do not compile."""
    blamed = set()
    for message in messages:
        if message["reason"] != "compiler-message" or message["message"]["level"] != "error":
            continue
        marks = [mark for part in [message["message"], *message["message"]["children"]] for mark in part["spans"]]
        here: set[int] = set()
        around: list[tuple[int, int]] = []
        for mark in marks:
            file = (
                str((TREE / mark["file_name"]).resolve().relative_to(TREE))
                if not Path(mark["file_name"]).is_absolute()
                else mark["file_name"]
            )
            for start, end, id in spans.get(file, []):
                if start <= mark["byte_start"] and mark["byte_end"] <= end:
                    here.add(id)
                elif (mark["byte_start"] <= start and end <= mark["byte_end"]) or start <= mark["byte_start"] < end:
                    around.append((mark["byte_end"] - mark["byte_start"], id))
                elif end <= mark["byte_start"]:
                    around.append((1_000_000 + mark["byte_start"] - end, id))
        if not here and around:
            here = {min(around)[1]}
        if not here and message["message"]["spans"]:
            sys.exit(f"no mutant can be blamed for:\n{message['message']['rendered']}")
        blamed |= here
    return blamed


def drawn(wanted: argparse.Namespace) -> list[Mutant]:
    """The requested number of mutants that compile; the copy contains them."""
    found = possible(ROOT)
    print(f"{len(found)} changes are possible in {len(files(ROOT, []))} files", flush=True)
    found.sort(key=lambda mutant: mutant.rank(wanted.seed))
    candidates = found[: int(wanted.number * 1.3) + 10]
    for id, mutant in enumerate(candidates):
        mutant.id = id
    total = len(candidates)
    while True:
        spans = switched(candidates)
        fine, messages = cargo("check", "--lib", "--tests")
        if fine:
            break
        blamed = to_blame(messages, spans)
        if not blamed:
            sys.exit("the copy does not compile, and no mutant is to blame")
        candidates = [mutant for mutant in candidates if mutant.id not in blamed]
    print(f"{total - len(candidates)} of {total} drawn do not compile", flush=True)
    return candidates[: wanted.number]


def run(program: str, names: list[str], timeout_s: float, **env: str) -> tuple[str, float]:
    """Whether tests pass, fail, or time out."""
    start = time.monotonic()
    command = [program, "--exact", "--include-ignored", "--test-threads=1", *names]
    limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))  # noqa: E731
    with tempfile.TemporaryDirectory() as folder:
        env = os.environ | {"TMPDIR": folder, "PROPTEST_FAILURE_PERSISTENCE": "off"} | env
        quiet = subprocess.DEVNULL
        try:
            done = subprocess.run(
                command, cwd=TREE, env=env, stdout=quiet, stderr=quiet, timeout=timeout_s, preexec_fn=limit
            )
        except subprocess.TimeoutExpired:
            return "timeout", time.monotonic() - start
    return "passes" if done.returncode == 0 else "fails", time.monotonic() - start


def tests(wanted: argparse.Namespace) -> list[Test]:
    """All tests but the golden digests, with their duration and the mutants that they reach."""
    fine, messages = cargo("test", "--no-run", "--lib", *([] if wanted.unit else ["--tests"]))
    if not fine:
        sys.exit("the tests do not compile")
    found = []
    for message in messages:
        program = message.get("executable")
        if message["reason"] != "compiler-artifact" or not program:
            continue
        listed = subprocess.run(
            [program, "--list", "--format", "terse"], cwd=TREE, check=True, stdout=subprocess.PIPE, text=True
        ).stdout
        file = message["target"]["name"]
        found += [
            Test(program, file, line[: -len(": test")]) for line in listed.splitlines() if line.endswith(": test")
        ]
    found = [test for test in found if "golden" not in f"{test.file}::{test.name}"]

    def alone(test: Test) -> None:
        with tempfile.NamedTemporaryFile() as reached:
            done, test.seconds = run(test.program, [test.name], wanted.longest_s, POURLINE_REACHED=reached.name)
            test.passes = done == "passes"
            if not test.passes:
                print(
                    f"left out: {test.file}::{test.name}, {'too long' if done == 'timeout' else 'does not pass in the copy'}"
                )
            test.reaches = {int(line) for line in Path(reached.name).read_text().split()}

    with ThreadPoolExecutor(wanted.jobs) as pool:
        list(pool.map(alone, found))
    found = [test for test in found if test.passes]
    print(f"{len(found)} tests take {sum(test.seconds for test in found):.0f} s one by one", flush=True)
    return found


def fate(mutant: Mutant, tests: list[Test]) -> tuple[str, str]:
    """The outcome of a mutant, and the test that catches it."""
    reaching = sorted((test for test in tests if mutant.id in test.reaches), key=lambda test: test.seconds)
    if not reaching:
        return "not reached", ""
    while reaching:
        program, batch, seconds = reaching[0].program, [], 0.0
        for test in reaching:
            if test.program == program and (not batch or seconds + test.seconds < TOGETHER_S):
                batch.append(test)
                seconds += test.seconds
        reaching = [test for test in reaching if test not in batch]
        done, _ = run(program, [test.name for test in batch], 5 + 5 * seconds, POURLINE_MUTANT=str(mutant.id))
        if done != "passes":
            return ("caught" if done == "fails" else "timeout"), f"{batch[0].file}::{batch[0].name}"
    return "survived", ""


def table(title: str, rows: dict[str, Counter[str]]) -> None:
    """Prints one mutant."""
    heads = ["caught", "timeout", "survived", "not reached", "equivalent"]
    print(f"\n{title:32}" + "".join(f"{head:>13}" for head in heads) + f"{'caught %':>10}")
    for name, counts in rows.items():
        print(f"{name:32}" + "".join(f"{counts[head]:13}" for head in heads) + f"{share_pct(counts):10.1f}")


def share_pct(counts: Counter[str]) -> float:
    """Share of caught mutants among those that are not equivalent."""
    caught = counts["caught"] + counts["timeout"]
    return 100 * caught / max(1, caught + counts["survived"] + counts["not reached"])


def main() -> None:
    """Draws and runs mutants, and prints the report."""
    wanted = arguments()
    HOME.mkdir(parents=True, exist_ok=True)
    copy()
    mutants = drawn(wanted)
    left_out = {
        mutant.key
        for mutant in mutants
        if {*wanted.leave_out} & {str(p) for p in [*Path(mutant.folder).parents, mutant.folder]}
    }
    if wanted.only_held:
        mutants = [mutant for mutant in mutants if mutant.key not in left_out]
    lines = EQUIVALENT.read_text().splitlines() if EQUIVALENT.exists() else []
    equivalent = {line.split(" : ")[0] for line in lines if not line.startswith("#")}
    saved = HOME / "results.json"
    results: dict[str, list[str]] = json.loads(saved.read_text()) if wanted.again and saved.exists() else {}
    results = {key: found for key, found in results.items() if found[0] in ("caught", "timeout")}
    all_tests = tests(wanted)

    def one(mutant: Mutant) -> None:
        if mutant.key in equivalent and mutant.key not in results:
            results[mutant.key] = ["equivalent", ""]
        if mutant.key not in results:
            results[mutant.key] = list(fate(mutant, all_tests))
            print(f"{results[mutant.key][0]:12} {mutant.path}:{mutant.line} {mutant.key}", flush=True)

    with ThreadPoolExecutor(wanted.jobs) as pool:
        list(pool.map(one, mutants))
    saved.write_text(json.dumps(results, indent=1))
    report(wanted, mutants, left_out, results)


def report(
    wanted: argparse.Namespace, mutants: list[Mutant], left_out: set[str], results: dict[str, list[str]]
) -> None:
    """The tables, the survivors, and the bar."""
    folders: dict[str, Counter[str]] = defaultdict(Counter)
    groups: dict[str, Counter[str]] = defaultdict(Counter)
    held: Counter[str] = Counter()
    for mutant in mutants:
        found = results[mutant.key][0]
        folders[mutant.folder][found] += 1
        if mutant.key not in left_out:
            groups[mutant.group][found] += 1
            held[found] += 1
    lost = [mutant for mutant in mutants if results[mutant.key][0] in ("survived", "not reached")]
    listed = [
        {
            "key": m.key,
            "path": m.path,
            "line": m.line,
            "group": m.group,
            "kind": m.kind,
            "found": results[m.key][0],
            "held": m.key not in left_out,
        }
        for m in lost
    ]
    (HOME / "survivors.json").write_text(json.dumps(listed, indent=1, ensure_ascii=False))
    print(f"\n{len(mutants)} mutants, seed {wanted.seed}")
    table("folder", dict(sorted(folders.items())))
    names = ", ".join(wanted.leave_out)
    table("changes", {**dict(sorted(groups.items())), f"all outside {names}": held})
    print(f"\nsurvivors: {HOME.relative_to(ROOT)}/survivors.json")
    if share_pct(held) < wanted.least_pct:
        sys.exit(
            f"{share_pct(held):.1f} % of the mutants outside {names} are caught, the bar is {wanted.least_pct:.0f} %"
        )


if __name__ == "__main__":
    if shutil.which("cargo") is None:
        sys.exit("cargo is missing")
    main()
