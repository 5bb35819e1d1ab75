"""In: Cargo.lock, by `cargo metadata`, and pyproject.toml. Out: docs/licences.md, every dependency with its licence.
`make audit` runs it.
"""

from __future__ import annotations

import json
import re
import subprocess
from importlib.metadata import metadata
from pathlib import Path

ROOT = Path(__file__).parents[1]
PYPROJECT = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
HEAD = """# Licences

Written by `make audit` from `Cargo.lock` and from what the crates say of themselves; which licences may be among them stands in `.ci/deny.toml`. Where a crate offers more
than one licence, any of them will do. pourline itself is under MIT or Apache-2.0.

## In Python

What `pip install pourline` brings; the versions are whatever pip finds.

| package | licence |
|---|---|
"""
RUST = """
## In Rust

*Built in*: part of the wheel, or needed to build it. *Tests*: needed for tests and benches alone. *Nothing*: the lock file names it, since a crate
could ask for it, but no build does.

| crate | version | licence | for |
|---|---|---|---|
"""


def reached(edges: str) -> set[tuple[str, str]]:
    """Return name and version of the crates reached by such edges, on any platform."""
    command = ["cargo", "tree", "--locked", "--all-features", "--target", "all", "--edges", edges, "--prefix", "none"]
    lines = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout.splitlines()
    return {(name, version) for name, version in re.findall(r"^(\S+) v(\S+)", "\n".join(lines), re.MULTILINE)}


def crates() -> list[str]:
    """Return one row per crate: name, version, licence and purpose."""
    command = ["cargo", "metadata", "--locked", "--format-version", "1", "--all-features"]
    found = json.loads(subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout)["packages"]
    built, tested = reached("normal,build"), reached("normal,build,dev")
    rows = []
    for one in sorted(found, key=lambda one: (one["name"], one["version"])):
        key = one["name"], one["version"]
        use = "built in" if key in built else "tests" if key in tested else "nothing"
        if one["source"] is not None:
            rows.append(f"| {one['name']} | {one['version']} | {one['license'].replace('/', ' OR ')} | {use} |")
    return rows


def packages() -> list[str]:
    """Return one row per required Python package."""
    (listed,) = re.findall(r"^dependencies = \[(.*)\]$", PYPROJECT, re.MULTILINE)
    rows = []
    for name in re.findall(r'"([\w-]+)', listed):
        said = metadata(name)
        licence = said["License-Expression"] or said["License"]
        if not licence:
            # The older metadata field; a package without either field is an error.
            (licence,) = {
                line.split(" :: ")[-1] for line in said.get_all("Classifier", []) if line.startswith("License")
            }
        rows.append(f"| {name} | {licence} |")
    return rows


if __name__ == "__main__":
    text = HEAD + "\n".join(packages()) + "\n" + RUST + "\n".join(crates()) + "\n"
    (ROOT / "docs" / "licences.md").write_text(text, encoding="utf-8")
