"""In: logs, or factors. Out: a page of brews; comparisons of groups as sentences, a table and a page; a schedule."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from .._io.files import write_whole
from .._pages.comparison_card import group_rows
from .._pages.report import page
from .._pourline import (
    Brew,
    Comparison,
    Profile,
    ProfileDifference,
    Study,
    compare,
    design,
    gather,
    profile,
    profile_difference,
)
from .._text.comparison import FIRST, measure_rows, sentences_of, shared_warnings, title_of, ways, words_of
from .._text.pours import wrapped
from ..errors import PourlineError
from .logs import brews_of, may_write, table_path, write_tables
from .output import ALL_GOOD, Tally

# The factor of logs that are grouped by their folders.
FOLDER = "folder"
# Letters of a head on the terminal.
LETTERS = 13
# A figure has room for the mean flow of so many groups.
MOST_PROFILES = 4
PAIR = 2


def run_report(arguments: argparse.Namespace) -> int:
    """Write a page of brews."""
    output, tally, logs, brews = Path(arguments.output), Tally(), [], []
    may_write(output, arguments)
    for file, log, brew in brews_of(arguments):
        tally.count(file, brew)
        logs.append(log)
        brews.append(brew)
    if tally.good:
        write_whole(output, page(brews, arguments.title, logs).encode(), arguments.force)
    return tally.code()


def run_compare(arguments: argparse.Namespace) -> int:
    """Test whether groups of brews differ, in the measures that are named or in those of `FIRST`."""
    output = table_path(arguments)
    sheet = Path(arguments.report) if arguments.report else None
    may_write(sheet, arguments)
    by = arguments.by or _folders(arguments)
    tally, logs, brews = Tally(), [], []
    for file, log, brew in brews_of(arguments):
        tally.count(file, brew)
        if isinstance(brew, Brew):
            logs.append(log)
            brews.append(brew)
    if not tally.good:
        return tally.code()
    study = gather(brews)
    measures, absent = arguments.measure, []
    if not measures:
        table = study.table()
        measures = [name for name in FIRST if name in table.columns and not np.all(np.isnan(table[name]))]
        absent = [name for name in FIRST if name not in measures]
    blocks = arguments.block or None
    found = [compare(study, name, by=by, blocks=blocks, measures=len(measures)) for name in measures]
    if len(found) == 1:
        _print_one(tally, found[0])
    else:
        _print_all(tally, found)
    for name in absent:
        tally.line(f"not compared: {words_of(name)}; no brew has it")
    if output is not None:
        write_tables([one.table() for one in found], output, arguments)
    flows = _profiles(brews, study, by, arguments.block)
    if isinstance(flows, ProfileDifference):
        for line in wrapped(flows.says):
            tally.line(line)
    if sheet is not None:
        text = page(found, None, logs, profiles=flows)
        write_whole(sheet, text.encode(), arguments.force)
    return tally.code()


def run_design(arguments: argparse.Namespace) -> int:
    """Write the order of the brews of a study as a table, and as a sheet to print."""
    output, sheet = (Path(one) if one else None for one in (arguments.output, arguments.report))
    for path in (output, sheet):
        may_write(path, arguments)
    factors = dict(_factor(word) for word in arguments.factor)
    schedule = design(factors, arguments.repeats, arguments.days, arguments.seed)
    if output is None:
        sys.stdout.write(schedule.to_csv())
    else:
        write_whole(output, schedule.to_csv().encode(), arguments.force)
        print(schedule)
    if sheet is not None:
        write_whole(sheet, page(schedule, arguments.title).encode(), arguments.force)
    return ALL_GOOD


def _factor(word: str) -> tuple[str, int | list[str]]:
    """Return a factor and its levels, or their number."""
    name, _, levels = word.partition("=")
    if not (name and levels):
        raise PourlineError(f"--factor {word}: NAME=LEVEL,LEVEL is needed, or NAME=NUMBER", column="factor")
    return name, int(levels) if levels.isdecimal() else [level.strip() for level in levels.split(",")]


def _folders(arguments: argparse.Namespace) -> str:
    """Return the factor that names the folder of each log; each argument must be one."""
    if len(arguments.files) < 2 or not all(Path(file).is_dir() for file in arguments.files):
        raise PourlineError("--by FACTOR is needed, or two folders: pourline compare spoutA/ spoutB/", column="by")
    arguments.by_folder = FOLDER
    return FOLDER


def _print_one(tally: Tally, found: Comparison) -> None:
    for sentence in [*sentences_of(found), f"It rests on {found.basis}."]:
        tally.line(sentence)
    _print_columns(tally, *group_rows(found))
    for warning in found.warnings:
        tally.line(f"warning: {warning}")
    _print_missing(tally, found)


def _print_all(tally: Tally, found: Sequence[Comparison]) -> None:
    tally.line(strong=f"{title_of(found)}.")
    tally.line(f"It rests on {found[0].basis}.")
    tally.line()
    heads, rows = measure_rows(found)
    # The page has whole names.
    heads = [head if len(head) <= LETTERS else f"{head[: LETTERS - 1]}…" for head in heads]
    _print_columns(tally, heads, rows)
    tally.line("Intervals and p hold for all measures together.")
    tally.line()
    for text in [*ways(found), *(f"warning: {one}" for one in shared_warnings(found))]:
        for line in wrapped(text):
            tally.line(line)
    for one in found:
        _print_missing(tally, one)


def _print_columns(tally: Tally, heads: list[str], rows: list[list[str]]) -> None:
    wide = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    for row in [heads, *rows]:
        tally.line("  ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)).rstrip())


def _print_missing(tally: Tally, found: Comparison) -> None:
    for missing in zip(*found.missing_table().to_dict().values(), strict=True):
        tally.line(f"missing: {', '.join(str(one) for one in missing if one is not None)}")


def _profiles(
    brews: Sequence[Brew], study: Study, by: str, blocks: Sequence[str]
) -> dict[str, Profile] | ProfileDifference:
    """Return the difference of two mean flows, or the mean flow of each group; none if a group has none."""
    table = study.table()
    levels = table[by].tolist() if by in table.columns else []
    groups: dict[str, list[Brew]] = {}
    for level, brew in zip(levels, brews, strict=False):
        if level:
            groups.setdefault(str(level), []).append(brew)
    try:
        if len(groups) == PAIR:
            return profile_difference(groups, blocks)
        return {level: profile(some) for level, some in groups.items()} if len(groups) <= MOST_PROFILES else {}
    except PourlineError:
        return {}
