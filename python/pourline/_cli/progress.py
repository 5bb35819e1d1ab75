"""In: the dated logs of one person, and a plan. Out: what became of score and steadiness, and what to practise next."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from .._figures.progress import plot_progress
from .._io.files import whole_file
from .._pourline import Brew, Estimate, Plan, PlanResult, habits, progress
from .._text.pours import wrapped
from .._text.progress import date_in, day_rows, practise, progress_line, steadiness_of
from ..errors import PourlineError
from .logs import brews_of, may_write
from .output import Tally, complain

# Brews whose habits are the present ones.
RECENT = 6
FIGURES = (".png", ".svg", ".pdf")


def run_progress(arguments: argparse.Namespace) -> int:
    """Print the progress over the days of the logs."""
    output = Path(arguments.output) if arguments.output else None
    if output is not None and output.suffix.lower() not in FIGURES:
        raise PourlineError(f"{output}: a figure ends in {', '.join(FIGURES)}", column="output")
    may_write(output, arguments)
    plan = Plan.read(arguments.plan) if arguments.plan else None
    tally = Tally()
    steady: list[tuple[date, Estimate]] = []
    followed: list[tuple[date, PlanResult]] = []
    for file, _, brew in brews_of(arguments):
        tally.count(file, brew)
        if not isinstance(brew, Brew):
            continue
        day = date_in(brew.meta.started_at, brew.meta.name, Path(file).name)
        if day is None:
            complain(f"{file}: no date in the log or its name; name it as 2031-05-03-1.csv")
            tally.good, tally.bad = tally.good - 1, tally.bad + 1
            continue
        share = steadiness_of(brew)
        if share is not None:
            steady.append((day, share))
        if plan is not None:
            followed.append((day, plan.follow(brew)))
    if not tally.good:
        return tally.code()
    score = progress(followed) if followed else None
    steadiness = progress(steady) if steady else None
    first, *more = wrapped(f"{progress_line(score, steadiness)}.")
    tally.line(strong=first)
    for line in more:
        tally.line(line)
    if plan is not None:
        recent = [one for _, one in sorted(followed, key=lambda pair: pair[0])][-RECENT:]
        for line in wrapped(practise([habit.says for habit in habits(recent)], len(recent))):
            tally.line(line)
    rows = day_rows(score, steadiness)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        tally.line("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)))
    if output is not None:
        _draw(output, followed, steady, arguments.force)
    return tally.code()


def _draw(
    path: Path, followed: list[tuple[date, PlanResult]], steady: list[tuple[date, Estimate]], replace: bool
) -> None:
    """Draw score and steadiness, better upwards."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise PourlineError("the figure needs matplotlib: pip install matplotlib", "install") from None

    count = bool(followed) + bool(steady)
    figure = Figure(figsize=(9, 4 * count), layout="constrained")
    axes = iter(figure.subplots(count, squeeze=False)[:, 0])
    if followed:
        plot_progress(progress(followed), next(axes), followed)
    if steady:
        plot_progress(progress(steady), next(axes), steady, "steadiness, % of the time near its own flow")
    with whole_file(path, replace) as part:
        figure.savefig(part, format=path.suffix[1:].lower(), dpi=130)
