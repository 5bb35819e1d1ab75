"""In: words on the command line. Out: a table of pours, figures, a page; errors on standard error, and an exit code.

Exit codes: 0 all good, 1 some files failed, 2 the command was wrong or its output could not be written, 3 all failed.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from . import datasets
from ._errors import PourlineError
from ._files import whole_file, write_whole
from ._output import ALL_GOOD, WRITERS, WRONG_USE, Lines, PlanLines
from ._pourline import Brew, Followed, Log, Options, Plan, __version__, analyze_many, read
from ._progress import line
from ._svg import brew_figure
from .plots import axes_on, plot, size
from .reports import report
from .tables import Table, stack

FILES_AT_A_TIME = 64
NUMBERS = ("dose_g", "dose_sd_g", "tds_pct", "tds_sd_pct", "brix_pct", "brix_sd_pct", "water_c")
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
    analyze.add_argument("--report", metavar="PAGE", help="HTML page to write")
    _add_log_arguments(analyze)
    analyze.set_defaults(run=_analyze)

    plan = commands.add_parser("plan", help="hold logs against a plan of pours, say what to work on")
    plan.add_argument("plan", metavar="PLAN", help="the plan, a TOML file")
    plan.add_argument("files", nargs="+", metavar="LOG", help="a log, or - for CSV on standard input")
    _add_log_arguments(plan)
    plan.set_defaults(run=_plan)
    return parser


def _add_log_arguments(command: argparse.ArgumentParser) -> None:
    """Add what is said of the logs, and where their table goes."""
    command.add_argument("-o", "--output", metavar="TABLE", help="table to write: .csv, .json or .parquet")
    command.add_argument("--force", action="store_true", help="replace files that are there already")
    columns = command.add_argument_group("columns, by name or by number from 1")
    for name in ("time", "water", "beverage"):
        columns.add_argument(f"--{name}", metavar="COLUMN")
    columns.add_argument("--time-unit", metavar="UNIT", help="s, ms, us, ns or min")
    columns.add_argument("--mass-unit", metavar="UNIT", help="g, kg, mg or oz")
    columns.add_argument("--missing", choices=("refuse", "flag"), default="refuse", help="what to do with empty cells")
    known = command.add_argument_group("what is known of the brews")
    for name in NUMBERS:
        known.add_argument(f"--{name.replace('_', '-')}", type=float, metavar="NUMBER")
    for name in TEXTS:
        known.add_argument(f"--{name.replace('_', '-')}", metavar="TEXT")
    command.add_argument(
        "--option", action="append", default=[], metavar="STAGE.KEY=VALUE", help="such as condition.scale_lag_s=0.25"
    )


def _demo(arguments: argparse.Namespace) -> int:
    out = Path(arguments.out)
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as failed:
        raise PourlineError(f"{out}: {failed.strerror}", "io") from failed
    names = datasets.names()
    found = analyze_many([datasets.load(name) for name in names], progress=line)
    lines = Lines()
    for name, brew in zip(names, found, strict=True):
        lines.tell(name, brew)
    brews = [brew for brew in found if isinstance(brew, Brew)]
    lines.explain()
    page = report(found, out / "demo.html", title="Demo brews of an invented roastery")
    busiest = sorted(brews, key=lambda brew: -len(brew.events))[:1]
    print(f"wrote {' and '.join(str(path) for path in [*_figures(busiest, out), page])}")
    return lines.code()


def _figures(brews: Sequence[Brew], out: Path) -> list[Path]:
    """Write the figure of each brew as PNG, or as SVG where matplotlib is not installed."""
    written = []
    for brew in brews:
        name = (brew.meta.name or "brew").replace(os.sep, "-")
        try:
            written.append(_png(brew, out / f"{name}.png"))
        except ImportError:
            written.append(out / f"{name}.svg")
            write_whole(written[-1], brew_figure(brew).encode())
    return written


def _png(brew: Brew, path: Path) -> Path:
    from matplotlib.figure import Figure

    figure = Figure(figsize=size(brew), layout="constrained")
    plot(brew, axes_on(figure, brew))
    with whole_file(path) as part:
        figure.savefig(part, format="png", dpi=130)
    return path


def _analyze(arguments: argparse.Namespace) -> int:
    page = Path(arguments.report) if arguments.report else None
    output = _output(arguments)
    _must_be_free(page, arguments)
    lines, tables, kept = Lines(), [], []
    for file, brew in _brews(arguments):
        lines.tell(file, brew)
        if isinstance(brew, Brew) and output is not None:
            tables.append(brew.table())
        if page is not None:
            kept.append(brew)
    lines.explain()
    if output is not None and lines.good:
        _write(tables, output, arguments)
    if page is not None and lines.good:
        report(kept, page)
    return lines.code()


def _plan(arguments: argparse.Namespace) -> int:
    plan = Plan.read(arguments.plan)
    output = _output(arguments)
    lines, tables = PlanLines(), []
    for file, brew in _brews(arguments):
        try:
            followed = plan.follow(brew) if isinstance(brew, Brew) else brew
        except PourlineError as error:
            followed = error
        lines.tell(file, followed)
        if isinstance(followed, Followed) and output is not None:
            tables.append(followed.table())
    if output is not None and lines.good:
        _write(tables, output, arguments)
    return lines.code()


def _output(arguments: argparse.Namespace) -> Path | None:
    """Return where the table goes, if it may go there."""
    output = Path(arguments.output) if arguments.output else None
    if output is not None and output.suffix.lower() not in WRITERS:
        raise PourlineError(f"{output}: a table ends in {', '.join(WRITERS)}", column="output")
    _must_be_free(output, arguments)
    return output


def _must_be_free(path: Path | None, arguments: argparse.Namespace) -> None:
    if path is not None and path.exists() and not arguments.force:
        raise PourlineError(f"{path} is there already; --force replaces it", "io")


def _write(tables: Sequence[Table], output: Path, arguments: argparse.Namespace) -> None:
    with whole_file(output, replace=arguments.force) as part:
        WRITERS[output.suffix.lower()](stack(tables), part)


def _brews(arguments: argparse.Namespace) -> Iterator[tuple[str, Brew | PourlineError]]:
    """Analyse the files some at a time, and give each with its brew or its error."""
    options = Options(**_options(arguments.option))
    files: list[str] = arguments.files
    for first in range(0, len(files), FILES_AT_A_TIME):
        some = files[first : first + FILES_AT_A_TIME]
        yield from zip(some, analyze_many([_log(file, arguments) for file in some], options), strict=True)
        line(first + len(some), len(files))


def _log(file: str, arguments: argparse.Namespace) -> Log | PourlineError:
    meta: dict[str, Any] = {
        key: getattr(arguments, key) for key in (*NUMBERS, *TEXTS) if getattr(arguments, key) is not None
    }
    try:
        return read(
            sys.stdin.buffer.read() if file == "-" else file,
            time=arguments.time,
            water=arguments.water,
            beverage=arguments.beverage,
            time_unit=arguments.time_unit,
            mass_unit=arguments.mass_unit,
            missing=arguments.missing,
            **meta,
        )
    except PourlineError as error:
        return error


def _options(words: Sequence[str]) -> dict[str, dict[str, Any]]:
    """Return the options from words such as `condition.scale_lag_s=0.25`."""
    stages: dict[str, dict[str, Any]] = {stage: {} for stage in Options().to_dict()}
    for word in words:
        place, _, value = word.partition("=")
        stage, _, key = place.partition(".")
        if not (key and value) or stage not in stages:
            message = f"--option {word}: STAGE.KEY=VALUE is needed, where STAGE is one of {', '.join(stages)}"
            raise PourlineError(message, column="option")
        try:
            stages[stage][key] = json.loads(value)
        except json.JSONDecodeError:
            stages[stage][key] = value
    return stages
