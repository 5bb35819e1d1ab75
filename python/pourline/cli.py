"""In: words on the command line. Out: a table of pours, figures, a page; errors on standard error, and an exit code.

Exit codes: 0 all good, 1 some files failed, 2 the command itself was wrong, 3 all files failed.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from . import datasets
from ._errors import PourlineError
from ._files import whole_file
from ._pourline import Brew, Log, Options, __version__, analyze_many, read
from ._progress import line
from ._rows import pour_lines
from .reports import report
from .tables import Table, stack

ALL_GOOD, SOME_FAILED, WRONG_USE, ALL_FAILED = 0, 1, 2, 3
NUMBERS = ("dose_g", "dose_sd_g", "tds_pct", "tds_sd_pct", "water_c")
TEXTS = ("coffee", "roast", "grinder", "grinder_setting", "kettle", "brewer", "person", "device", "note")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    >>> from pourline.cli import main
    >>> main(["analyze", "no-such-file.csv"])
    3
    """
    try:
        arguments = _parser().parse_args(argv)
    except SystemExit as leave:
        return leave.code if isinstance(leave.code, int) else WRONG_USE
    run: Callable[[argparse.Namespace], int] = arguments.run
    try:
        return run(arguments)
    except PourlineError as error:
        print(f"pourline: {error}", file=sys.stderr)
        return WRONG_USE
    except KeyboardInterrupt:
        print("pourline: stopped", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # Whoever read the output has gone; the interpreter must not try to write the rest at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ALL_GOOD


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="pourline",
        description="From the timestamped weights of a hand-poured coffee to its pours, flow and extraction.",
        epilog="Exit codes: 0 all good, 1 some files failed, 2 wrong use, 3 all files failed.",
    )
    parser.add_argument("--version", action="version", version=f"pourline {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    demo = commands.add_parser("demo", help="analyse the bundled demo brews, write a figure and a page")
    demo.add_argument("--out", default="out", metavar="DIR", help="where to write (default: out)")
    demo.set_defaults(run=_demo)

    analyze = commands.add_parser("analyze", help="analyse logs: CSV, TSV, JSON Lines, Parquet")
    analyze.add_argument("files", nargs="+", metavar="FILE", help="a log, or - for CSV on standard input")
    analyze.add_argument("-o", "--output", metavar="TABLE", help="table to write: .csv, .json or .parquet")
    analyze.add_argument("--report", metavar="PAGE", help="HTML page to write")
    analyze.add_argument("--force", action="store_true", help="replace files that are there already")
    columns = analyze.add_argument_group("columns, by name or by number from 1")
    for name in ("time", "water", "beverage"):
        columns.add_argument(f"--{name}", metavar="COLUMN")
    columns.add_argument("--time-unit", metavar="UNIT", help="s, ms, us, ns or min")
    columns.add_argument("--mass-unit", metavar="UNIT", help="g, kg, mg or oz")
    columns.add_argument("--missing", choices=("refuse", "flag"), default="refuse", help="what to do with empty cells")
    known = analyze.add_argument_group("what is known of the brews")
    for name in NUMBERS:
        known.add_argument(f"--{name.replace('_', '-')}", type=float, metavar="NUMBER")
    for name in TEXTS:
        known.add_argument(f"--{name.replace('_', '-')}", metavar="TEXT")
    analyze.add_argument(
        "--option", action="append", default=[], metavar="STAGE.KEY=VALUE", help="such as condition.scale_lag_s=0.25"
    )
    analyze.set_defaults(run=_analyze)
    return parser


def _demo(arguments: argparse.Namespace) -> int:
    from ._errors import PourlineError

    out = Path(arguments.out)
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as failed:
        raise PourlineError(f"{out}: {failed.strerror}", "io") from failed
    names = datasets.names()
    found = analyze_many([datasets.load(name) for name in names], progress=line)
    brews = [brew for brew in found if isinstance(brew, Brew)]
    _tell(names, found)
    written = [report(found, out / "demo.html", title="Demo brews")]
    if brews:
        written += _figure(brews[0], out / "demo.png")
    print("wrote " + " and ".join(str(path) for path in written))
    return _code(found)


def _figure(brew: Brew, path: Path) -> list[Path]:
    """Write the figure as PNG, or as SVG where matplotlib is not installed."""
    try:
        import matplotlib.figure
    except ImportError:
        from ._svg import brew_figure

        path = path.with_suffix(".svg")
        with whole_file(path) as part:
            part.write_text(brew_figure(brew), encoding="utf-8")
        return [path]
    from .plots import plot

    figure = matplotlib.figure.Figure(figsize=(9, 5.4), layout="constrained")
    plot(brew, figure.subplots(2, sharex=True, gridspec_kw={"height_ratios": (5, 3)}))
    with whole_file(path) as part:
        figure.savefig(part, format="png", dpi=130)
    return [path]


def _analyze(arguments: argparse.Namespace) -> int:
    options = Options(**_options(arguments.option))
    writers = {".csv": _write_csv, ".json": _write_json, ".parquet": _write_parquet}
    output = Path(arguments.output) if arguments.output else None
    if output is not None and output.suffix.lower() not in writers:
        raise PourlineError(f"{output}: a table is written as {', '.join(writers)}", column="output")
    for path in (output, Path(arguments.report) if arguments.report else None):
        if path is not None and path.exists() and not arguments.force:
            raise PourlineError(f"{path} is there already; --force replaces it", "io")

    logs = [_log(file, arguments) for file in arguments.files]
    found = analyze_many(logs, options, progress=line)
    _tell(arguments.files, found)
    brews = [brew for brew in found if isinstance(brew, Brew)]
    if output is not None and brews:
        with whole_file(output, replace=arguments.force) as part:
            writers[output.suffix.lower()](stack(brew.table() for brew in brews), part)
    if arguments.report and brews:
        report(found, arguments.report)
    return _code(found)


def _log(file: str, arguments: argparse.Namespace) -> Log | PourlineError:
    meta = {key: getattr(arguments, key) for key in (*NUMBERS, *TEXTS) if getattr(arguments, key) is not None}
    try:
        return read(
            sys.stdin.buffer.read() if file == "-" else file,
            time=arguments.time,
            water=arguments.water,
            beverage=arguments.beverage,
            time_unit=arguments.time_unit,
            mass_unit=arguments.mass_unit,
            missing=arguments.missing,
            name="standard input" if file == "-" else Path(file).stem,
            **meta,
        )
    except PourlineError as error:
        return error
