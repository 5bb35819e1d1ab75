"""In: the Pythons of this machine. Out: a table, one row per pair of versions: the same wheel, installed, passes the
tests of numbers, arrays and tables.

`make versions` runs it. A Python is looked for as `python3.X` on the PATH, by pyenv if installed, or among
the paths in PYTHONS. It fails if a test fails; a missing Python is reported and is no failure.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
import xml.etree.ElementTree as Xml
from pathlib import Path

ROOT = Path(__file__).parents[1]
WORK = ROOT / "target" / "versions"
LOWEST = "lowest"
# Versions pinned besides the Python; everything else is the newest that pip finds. pyarrow 26 needs numpy 2 without
# declaring it.
WANTED: list[tuple[str, str]] = [
    ("3.10", LOWEST),
    ("3.10", "numpy==1.26.* pandas==2.* pyarrow<26"),
    ("3.11", "numpy==1.26.* pandas==2.* pyarrow<26"),
    ("3.12", "numpy==2.* pandas==2.*"),
    ("3.13", "numpy>=2 pandas>=3"),
    ("3.14", "numpy>=2 pandas>=3"),
]
TOLD = ("numpy", "pandas", "polars", "pyarrow", "arro3-core")
TESTS = [
    "golden",
    "arrays",
    "tables",
    "read",
    "values",
    "long_tables",
    "datasets",
    "errors",
    "kept_brews",
    "many",
    "metrics",
    "newcomer",
    "package",
    "show",
    "study",
    "stub",
    "figures",
    "reports",
    "view",
]
# Besides the extra `all`: packages that run the tests, and references of some tests.
TOOLS = ["pytest>=8", "duckdb", "scipy"]


def lowest() -> str:
    """Return the lowest stated version of all dependencies of `pourline[all]`."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    extras = re.search(r'^all = \["pourline\[([\w,]+)\]"\]$', text, re.MULTILINE)
    assert extras is not None
    lines = [rf"^{name} = \[(.*)\]$" for name in ("dependencies", *extras[1].split(","))]
    listed = " ".join(match for line in lines for match in re.findall(line, text, re.MULTILINE))
    return " ".join(f"{name}=={version}" for name, version in re.findall(r'"([\w-]+)>=([\d.]+)"', listed))


def python(version: str) -> str | None:
    """Return the path of a working Python of that version."""
    environment = dict(os.environ)
    if pyenv := shutil.which("pyenv"):
        # The shims of pyenv run only selected versions: select all.
        bare = subprocess.run([pyenv, "versions", "--bare"], capture_output=True, text=True, check=False).stdout
        environment["PYENV_VERSION"] = ":".join(bare.split())
    for name in [*os.environ.get("PYTHONS", "").split(), f"python{version}"]:
        code = "import sys, venv, ensurepip; print(sys.executable, '%d.%d' % sys.version_info[:2])"
        try:
            done = subprocess.run([name, "-c", code], capture_output=True, text=True, check=False, env=environment)
        except OSError:
            continue
        path, _, found = done.stdout.strip().rpartition(" ")
        if done.returncode == 0 and found == version:
            return path
    return None


def run(*command: str | Path) -> str:
    """Run a command and return its output; if it fails, raise with the output."""
    done = subprocess.run(list(map(str, command)), cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, command))}\n{done.stdout}{done.stderr}")
    return done.stdout


def tried(path: str, pinned: str, wheel: Path) -> tuple[list[str], bool]:
    """Install the wheel into a new environment and test it there; return a row of the table, and whether all passed."""
    start, where = time.monotonic(), WORK / "environment"
    shutil.rmtree(where, ignore_errors=True)
    run(path, "-m", "venv", where)
    mine = where / "bin" / "python"
    pip = [mine, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--only-binary", ":all:"]
    run(*pip, f"{wheel}[all]", *TOOLS, *(lowest() if pinned == LOWEST else pinned).split())
    # Otherwise the sources of this folder would be tested.
    assert Path(run(mine, "-c", "import pourline; print(pourline.__file__)").strip()).is_relative_to(where)
    code = (
        "import sys, importlib.metadata as m; print('%d.%d.%d' % sys.version_info[:3], *map(m.version, sys.argv[1:]))"
    )
    versions = run(mine, "-c", code, *TOLD).split()
    report = WORK / "report.xml"
    tests = [f"tests/python/test_{name}.py" for name in TESTS]
    # The lowest versions run with newer packages than they were made for, and warn of them.
    warnings = ["-W", "default"] if pinned == LOWEST else []
    command = [str(mine), "-m", "pytest", "-q", "-p", "no:cacheprovider", f"--junitxml={report}", *warnings, *tests]
    done = subprocess.run(
        command, cwd=ROOT, env=os.environ | {"MPLBACKEND": "agg"}, capture_output=True, text=True, check=False
    )
    suite = next(Xml.parse(report).iter("testsuite")).attrib
    count = {name: int(suite[name]) for name in ("tests", "failures", "errors", "skipped")}
    passed = count["tests"] - count["failures"] - count["errors"] - count["skipped"]
    good = done.returncode == 0
    if not good:
        print(done.stdout, file=sys.stderr)
    row = [*versions, f"{passed} of {count['tests']}", f"{count['skipped']}", f"{time.monotonic() - start:.0f}"]
    return [f"{row[0]} ({LOWEST})" if pinned == LOWEST else row[0], *row[1:]], good


def main() -> int:
    """Build the wheel, test it with each pair, print the table."""
    shutil.rmtree(WORK, ignore_errors=True)
    run(sys.executable, "-m", "maturin", "build", "--locked", "--release", "--out", WORK)
    (wheel,) = WORK.glob("*.whl")
    rows, missing, good = [["Python", *TOLD, "passed", "skipped", "seconds"]], [], True
    for version, pinned in WANTED:
        path = python(version)
        if path is None:
            missing.append(f"Python {version} with {pinned}")
            continue
        row, passed = tried(path, pinned, wheel)
        print(*row, flush=True)
        rows.append(row)
        good &= passed
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    print(f"\n{wheel.name}")
    for row in rows:
        print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
    print(f"not there: {'; '.join(missing)}" if missing else "every wanted version was there")
    return 0 if good and len(rows) > 1 else 1


if __name__ == "__main__":
    sys.exit(main())
