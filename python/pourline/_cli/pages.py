"""In: logs. Out: a page of their brews; a comparison of groups as sentences, a table and a page."""

from __future__ import annotations

import argparse
from pathlib import Path

from .._io.files import write_whole
from .._pages.comparison_card import group_rows
from .._pages.report import page
from .._pourline import Brew, compare
from .logs import brews_of, may_write, table_path, write_tables
from .output import Tally


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
    """Test whether groups of brews differ in a measure."""
    output = table_path(arguments)
    sheet = Path(arguments.report) if arguments.report else None
    may_write(sheet, arguments)
    tally, logs, brews = Tally(), [], []
    for file, log, brew in brews_of(arguments):
        tally.count(file, brew)
        if isinstance(brew, Brew):
            logs.append(log)
            brews.append(brew)
    if not tally.good:
        return tally.code()
    found = compare(brews, arguments.measure, by=arguments.by, blocks=arguments.block or None)
    for sentence in found.sentences:
        tally.line(sentence)
    heads, rows = group_rows(found)
    wide = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    for place, row in enumerate([heads, *rows]):
        text = "  ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)).rstrip()
        tally.line(*(("", text) if place == 0 else (text,)))
    for warning in found.warnings:
        tally.line(f"warning: {warning}")
    for missing in zip(*found.missing_table().to_dict().values(), strict=True):
        tally.line(f"missing: {', '.join(str(one) for one in missing if one is not None)}")
    if output is not None:
        write_tables([found.table()], output, arguments)
    if sheet is not None:
        write_whole(sheet, page(found, None, logs).encode(), arguments.force)
    return tally.code()
