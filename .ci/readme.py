"""In: the package, the bundled brews and docs/accuracy.md. Out: the generated parts of README.md, between its marks.

`make columns` runs it. It writes the table of numbers from `pourline.describe`, the output of the commands, and the
accuracy of the numbers. `tests/python/test_documents.py` checks them.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

from pourline._descriptions import rows

ROOT = Path(__file__).parents[1]
MARK = re.compile(r"(<!-- (\w+): (.*?) -->\n).*?(<!-- end -->)", re.DOTALL)
LEVELS = {"clean": "clean", "usual": "usual", "hard": "hard"}
# The columns that most people need.
COLUMNS = (
    *("half_rise_s", "duration_s", "mass_g", "rest_before_s", "mean_flow_g_per_s", "plateau_flow_g_per_s"),
    *("time_near_plateau_pct", "flow_cv", "energy_j", "drawdown_s", "retention_g_per_g", "yield_pct"),
)
# Rows of the table: label, the lines of accuracy.md that are averaged, decimals.
ERRORS = {
    "start and end, s": (("start_s", "end_s"), 3),
    "half-rise and half-fall, s": (("half_rise_s", "half_fall_s"), 3),
    "mass, g": (("mass_g",), 3),
    "mean flow, g/s": (("mean_flow_g_per_s",), 2),
}


def numbers(_: str) -> str:
    """Return the table of `COLUMNS`: name, unit, meaning."""
    return rows(COLUMNS)


def printed(command: str) -> str:
    """Return the output of a command, as a block of text."""
    line = [sys.executable, "-m", *shlex.split(command)]
    done = subprocess.run(line, capture_output=True, text=True, check=True, cwd=ROOT)
    return "```text\n" + "\n".join(row.rstrip() for row in done.stdout.rstrip().splitlines()) + "\n```\n"


def errors(page: str) -> str:
    """Return the table of errors and coverage on simulated brews, from the page of accuracy."""
    text = (ROOT / page).read_text(encoding="utf-8")
    of: dict[str, dict[str, tuple[float, float]]] = {}
    for level in LEVELS:
        (part,) = re.findall(rf"^{level}: .*?\n(?=\S)", text, re.MULTILINE | re.DOTALL)
        rows = re.findall(r"^  (\w+) +\S+ +(\S+) +\S+ +(\S+)$", part, re.MULTILINE)
        of[level] = {name: (float(error), float(within)) for name, error, within in rows}
    lines = [
        f"| mean absolute error of | {' | '.join(LEVELS.values())} | true values within 2 sd, usual |",
        "|---|---|---|---|---|",
    ]
    for label, (names, decimals) in ERRORS.items():
        means = [sum(of[level][name][0] for name in names) / len(names) for level in LEVELS]
        within = sum(of["usual"][name][1] for name in names) / len(names)
        cells = [f"{mean:.{decimals}f}" for mean in means]
        lines.append(f"| {label} | {' | '.join(cells)} | {100 * within:.1f} % |")
    return "\n".join([*lines, ""])


WRITE = {"numbers": numbers, "printed": printed, "errors": errors}


def filled(text: str) -> str:
    """Return README.md with the parts between its marks replaced."""
    return MARK.sub(lambda found: found[1] + WRITE[found[2]](found[3]) + found[4], text)


if __name__ == "__main__":
    readme = ROOT / "README.md"
    readme.write_text(filled(readme.read_text(encoding="utf-8")), encoding="utf-8")
