"""In: arguments of the command line. Out: a table of pours, figures, a page; errors on standard error; an exit code.

Exit codes: 0 all good, 1 some files failed, 2 the command was wrong or its output could not be written, 3 all failed.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from . import datasets
from ._cli.completion import SHELLS, offer, script
from ._cli.logs import (
    TEXTS,
    add_columns,
    add_force,
    add_log_arguments,
    add_output,
    brews_of,
    may_write,
    table_path,
    write_tables,
)
from ._cli.made import run_calibrate, run_simulate
from ._cli.output import ALL_GOOD, FORMATS, WRONG_USE, BrewLines, Lines, PlanLines, complain
from ._cli.pages import run_compare, run_design, run_report
from ._cli.progress import run_progress
from ._cli.watch import run_watch
from ._figures.brew import axes_on, plot, size
from ._figures.svg import brew_figure
from ._io.files import whole_file, write_whole
from ._pages.report import page as page_text
from ._pourline import Brew, Plan, PlanResult, __version__, _rows, analyze_many, levels
from .errors import PourlineError, _without_warnings
from .tables import stack

MORE = """examples:
  pourline demo
  pourline analyze brew.csv --dose-g 15
  cat brew.csv | pourline analyze -
  pourline simulate hard | pourline report - -o page.html

pourline COMMAND --help lists its options. NO_COLOR=1 turns bold text off.
Exit codes: 0 all good, 1 some files failed, 2 wrong use, 3 all files failed."""


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
        # The output has the warnings of each brew.
        with _without_warnings():
            code = run(arguments)
        # Flushed here, because a closed pipe is handled below and not at exit.
        sys.stdout.flush()
        return code
    except PourlineError as error:
        complain(error)
        return WRONG_USE
    except KeyboardInterrupt:
        complain("stopped")
        return 130
    except BrokenPipeError:
        # The pipe is closed; the interpreter must not flush the rest at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ALL_GOOD


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one line."""

    def error(self, message: str) -> NoReturn:
        """Print what is wrong and where the options are listed, and leave."""
        self.exit(WRONG_USE, f"{self.prog}: {message}; {self.prog} --help lists the options\n")


def _parser() -> argparse.ArgumentParser:
    parser = Parser(
        prog="pourline",
        description="From the timestamped weights of a hand-poured coffee to its pours, flow and extraction.",
        epilog=MORE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"pourline {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def add(name: str, about: str, run: Callable[[argparse.Namespace], int], example: str) -> argparse.ArgumentParser:
        command = commands.add_parser(
            name, help=about, description=about, epilog=f"example:\n  pourline {example}", formatter_class=_form
        )
        command.set_defaults(run=run)
        return command

    demo = add("demo", "analyse the bundled demo brews, write a figure and a page", _demo, "demo --out out")
    demo.add_argument("--out", default="out", metavar="DIR", help="where to write (default: out)")
    add_force(demo)

    about = "analyse logs or folders: CSV, TSV, JSON Lines, Parquet, workbooks"
    analyze = add(
        "analyze",
        about,
        _analyze,
        "analyze brew.csv --dose-g 15 --tds-pct 1.4 -o pours.csv\n  cat brew.csv | pourline analyze -",
    )
    analyze.add_argument("--report", metavar="PAGE", help="HTML page to write")
    analyze.add_argument("--full", action="store_true", help="all numbers with their sd, in text and tables")
    about = "what to print: a short table per brew (default), or a row per pour"
    analyze.add_argument("--format", choices=("table", *FORMATS), default="table", help=about)

    page = add("report", "write an HTML report of brews", run_report, "report brew.csv -o page.html")
    page.add_argument("--title", help="title of the page")

    example = "compare spoutA/ spoutB/ --report spouts.html\n  pourline compare *.csv --factors factors.csv --by kettle"
    groups = add("compare", "test whether groups of brews differ", run_compare, example)
    of_groups = "factor of the groups (default: the folder)"
    offer(groups.add_argument("--by", metavar="FACTOR", help=of_groups), TEXTS)
    of_measure = "a measure, may be repeated (default: five)"
    measures = list(dict.fromkeys(row[0] for owner, row in _rows if owner))
    offer(groups.add_argument("--measure", action="append", default=[], help=of_measure), measures)
    within = "compare within its levels"
    offer(groups.add_argument("--block", action="append", default=[], metavar="FACTOR", help=within), TEXTS)
    groups.add_argument("--report", metavar="PAGE", help="HTML page to write")

    example = "design --factor kettle=thin,wide --factor person=Ada,Bo --repeats 3 --days 2 -o design.csv"
    order = add("design", "order the brews of a study before the first one", run_design, example)
    of_factor = "levels, or their number; may be repeated"
    order.add_argument("--factor", action="append", required=True, metavar="NAME=LEVELS", help=of_factor)
    order.add_argument("--repeats", type=int, default=1, metavar="N", help="brews of each combination on a day")
    order.add_argument("--days", type=int, default=1, metavar="N", help="days (default: 1)")
    order.add_argument("--seed", type=int, default=0, metavar="N", help="the same seed gives the same order")
    order.add_argument("--report", metavar="PAGE", help="sheet to print, an HTML page")
    order.add_argument("--title", help="title of the sheet")
    add_output(order, "CSV")

    plan = add("plan", "compare logs with a plan of pours, with the main deviation", _plan, "plan plan.toml brew.csv")
    plan.add_argument("plan", metavar="PLAN", help="the plan, a TOML file")

    days = add("progress", "follow one person over days", run_progress, "progress brews/ --plan plan.toml")
    days.add_argument("--plan", metavar="PLAN", help="score the brews by this plan, a TOML file")

    live = add(
        "watch",
        "follow a log while it is written, and analyse it at its end",
        run_watch,
        "watch brew.csv --plan plan.toml",
    )
    live.add_argument("file", metavar="LOG", help="a growing log, or - for CSV on standard input; Ctrl-C ends it")
    live.add_argument("--plan", metavar="PLAN", help="show the deviation from this plan, a TOML file")
    live.add_argument("--large", action="store_true", help="time, flow and mass in digits for across a room")
    live.add_argument("--every", type=float, default=0.2, metavar="S", help="how often to look, s (default: 0.2)")
    patience = "end after this time without new samples, s (default: wait until Ctrl-C)"
    live.add_argument("--patience", type=float, default=math.inf, metavar="S", help=patience)
    add_columns(live)
    live.set_defaults(missing="flag")

    made = add("simulate", "simulate the log of a brew", run_simulate, "simulate usual --seed 7 -o brew.csv")
    about = f"{', '.join(levels())}, a .json file, or - for standard input"
    offer(made.add_argument("recipe", metavar="RECIPE", help=about), levels())
    made.add_argument("--seed", type=int, default=0, metavar="N", help="the same seed gives the same log (default: 0)")
    made.add_argument("--truth", metavar="JSON", help="write the true pours and events of the log to this file")
    add_output(made, "LOG")

    about = "find how a scale shows a load from masses put on it"
    scale = add("calibrate", about, run_calibrate, "calibrate masses.csv -o my_scale.toml")
    about = "a log in which masses are put on and left, or -; several stand beside each other"
    scale.add_argument("files", nargs="+", metavar="LOG", help=about)
    about = "what the masses weigh: one for each that was put on, in this order, or one for all"
    scale.add_argument("--masses", nargs="+", type=float, metavar="G", help=about)
    scale.add_argument("--report", metavar="PAGE", help="write a page to this file")
    add_columns(scale)
    add_output(scale, "TOML")

    shell = add("completion", "print a script that completes words", _complete, "completion bash > pourline.bash")
    shell.add_argument("shell", choices=SHELLS)

    for command in (analyze, page, groups, plan, days):
        add_output(command, *(("PAGE", True) if command is page else ("FIGURE",) if command is days else ()))
        add_log_arguments(command)
    return parser


def _form(prog: str) -> argparse.HelpFormatter:
    return argparse.RawDescriptionHelpFormatter(prog, max_help_position=28)


def _complete(arguments: argparse.Namespace) -> int:
    sys.stdout.write(script(_parser(), arguments.shell))
    return ALL_GOOD


def _demo(arguments: argparse.Namespace) -> int:
    out = Path(arguments.out)
    page = out / "demo.html"
    may_write(page, arguments)
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as failed:
        raise PourlineError(f"{out}: {failed.strerror}", "io") from failed
    names = datasets.names()
    found = analyze_many([datasets.load(name) for name in names])
    lines = BrewLines()
    for name, brew in zip(names, found, strict=True):
        lines.write(name, brew)
    lines.close()
    brews = [brew for brew in found if isinstance(brew, Brew)]
    busiest = sorted(brews, key=lambda brew: -len(brew.events))[:1]
    figures = _figures(busiest, out, arguments.force)
    write_whole(page, page_text(found, "Demo brews of an invented roastery").encode(), arguments.force)
    lines.line(f"wrote {' and '.join(str(path) for path in [*figures, page])}; open {page} in a browser")
    return lines.code()


def _figures(brews: Sequence[Brew], out: Path, replace: bool) -> list[Path]:
    """Write the figure of each brew as PNG, or as SVG if matplotlib is not installed."""
    written = []
    for brew in brews:
        name = (brew.meta.name or "brew").replace(os.sep, "-")
        try:
            written.append(_png(brew, out / f"{name}.png", replace))
        except ImportError:
            written.append(out / f"{name}.svg")
            write_whole(written[-1], brew_figure(brew, zero_s=brew.time_zero_s).encode(), replace)
    return written


def _png(brew: Brew, path: Path, replace: bool) -> Path:
    from matplotlib.figure import Figure

    figure = Figure(figsize=size(brew), layout="constrained")
    plot(brew, axes_on(figure, brew))
    with whole_file(path, replace) as part:
        figure.savefig(part, format="png", dpi=130)
    return path


def _analyze(arguments: argparse.Namespace) -> int:
    page = Path(arguments.report) if arguments.report else None
    output = table_path(arguments)
    may_write(page, arguments)
    is_short = arguments.format == "table"
    lines, tables, found = Lines(full=arguments.full), [], []
    for file, _, brew in brews_of(arguments):
        if is_short:
            lines.write(file, brew)
        else:
            lines.count(file, brew)
        if isinstance(brew, Brew) and (output is not None or not is_short):
            tables.append(brew.table(all=arguments.full))
        if page is not None:
            found.append(brew)
    if not is_short and lines.good:
        sys.stdout.write(FORMATS[arguments.format](stack(tables)))
    if output is not None and lines.good:
        write_tables(tables, output, arguments)
    if page is not None and lines.good:
        write_whole(page, page_text(found).encode(), arguments.force)
    return lines.code()


def _plan(arguments: argparse.Namespace) -> int:
    plan = Plan.read(arguments.plan)
    output = table_path(arguments)
    lines, tables = PlanLines(), []
    for file, _, brew in brews_of(arguments):
        try:
            followed = plan.follow(brew) if isinstance(brew, Brew) else brew
        except PourlineError as error:
            followed = error
        lines.write(file, followed)
        if isinstance(followed, PlanResult) and output is not None:
            tables.append(followed.table())
    if output is not None and lines.good:
        write_tables(tables, output, arguments)
    return lines.code()
