"""In: the pages that `.ci/quality` wrote, and `target/quality/bench.txt` if times were measured. Out: docs/quality.md,
one table with links.

No figure is typed: each is read from its page, and a page that no longer holds one is an error.
"""

from __future__ import annotations

import re
from pathlib import Path

HOME = Path(__file__).parent.parent
DOCS = HOME / "docs"
TIMES = HOME / "target" / "quality" / "bench.txt"
LEVELS = ("clean", "usual", "hard", "usual_50_hz", "usual_5_hz")
HEAD = """# Quality

What was measured, on simulated brews whose truth is known, with default options. Written by `make quality`; no number here was typed.

- `edges` are the starts and ends of pours, errors are mean absolute ones unless another is named.
- `within 2 sd` is the share of true values that lie within two stated sd: about 0.95 if the sd is honest.
- The bars that a release has to keep stand in the detail pages. Those that are not met yet are listed at the end.
"""
OPEN = """
## Bars that are not met

`tests/open_bars.txt` lists them with the worst figure seen. Tests and `make quality` fail if a figure gets worse, if
another bar is missed, or if a listed one is met.

"""
LATER = """
## Times

Of the machine that measured them: compare rows, not pages.

```text
"""


def page(name: str) -> str:
    """The text of a detail page."""
    return (DOCS / f"{name}.md").read_text(encoding="utf-8")


def found(pattern: str, text: str) -> tuple[str, ...]:
    """The groups of the first match of a pattern in a text."""
    match = re.search(pattern, text, re.MULTILINE)
    if match is None:
        raise SystemExit(f"no page matches: {pattern}")
    return match.groups()


def table(*rows: tuple[str, ...]) -> str:
    """Rows, the first of them the head, in markdown."""
    lines = ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join([lines[0], "|" + "---|" * len(rows[0]), *lines[1:]]) + "\n"


def span(values: list[str]) -> str:
    """The least and the largest of some numbers, as printed."""
    return f"{min(values, key=float)} to {max(values, key=float)}"


def level(name: str, text: str) -> tuple[str, ...]:
    """One level of disturbance: missed pours, errors, and coverage of the sd."""
    (part,) = found(rf"^({name}: \d+ brews(?:.*\n)(?:  .*\n)+)", text)
    brews, pours, missed, false = found(r"(\d+) brews, (\d+) pours, (\d+) missed, (\d+) false", part)
    (edges,) = found(r"start and end, mean absolute error s +(\S+)", part)
    of = {
        row: found(rf"^  {row} +\S+ +(\S+) +(\S+) +(\S+)$", part)
        for row in ("start_s", "end_s", "mass_g", "flow_g_per_s")
    }
    held = " / ".join(of[row][2] for row in of)
    return name, brews, pours, missed, false, edges, of["mass_g"][0], of["flow_g_per_s"][1], held


def further(accuracy: str) -> list[tuple[str, ...]]:
    """Rows on other numbers than edges and masses, and on many brews."""

    def bar(what: str) -> str:
        value, sign, limit = found(rf"^  {re.escape(what)} +(\S+)  ([<>]=) (\S+)", accuracy)
        return f"{float(value):g} (bar: {'at least' if sign == '>=' else 'at most'} {limit})"

    near = "[accuracy](accuracy.md)"
    rows = [
        (what.replace("false alarms", "pulsing: false alarms"), bar(what), near)
        for what in (
            "plateau flow, mean absolute error %",
            "drawdown end, largest error s",
            "retention, largest error g/g",
            "yield, largest error points",
            "false alarms, share",
        )
    ]
    silent, logs = found(r"^(\d+) of (\d+) logs with a fault", page("faults"))
    rows.append(("logs with a fault that changed a result in silence", f"{silent} of {logs}", "[faults](faults.md)"))
    for what, name in (("hands", "worlds"), ("scales", "scales")):
        bars = re.findall(r"^(met|MISSED) ", page(name), re.MULTILINE)
        met = f"{bars.count('met')} of {len(bars)}"
        rows.append((f"{what} of many kinds: bars met by every kind", met, f"[{name}]({name}.md)"))
    scales = re.findall(r"^\| \d+ \| \S+ \| \S+ \| \S+ \| \S+ \| (\S+) \| (\S+) \|$", page("steadiness"), re.MULTILINE)
    rows.append(
        (
            "unsteadiness of a hand on many scales: mean error",
            span([one for one, _ in scales]),
            "[steadiness](steadiness.md)",
        )
    )
    studies = re.findall(r"^\| [^|]+ \| (0\.\d+) \| 0\.\d+ \| (0\.\d+) \|", page("calibration"), re.MULTILINE)
    rows.append(
        (
            "false findings of comparisons at p < 0.05",
            span([one for one, _ in studies]),
            "[calibration](calibration.md)",
        )
    )
    rows.append(
        (
            "intervals of 95 % of comparisons that hold the truth",
            span([one for _, one in studies]),
            "[calibration](calibration.md)",
        )
    )
    live = page("live_figures")
    false, delay = found(r"^usual: .* missed, (\d+) false calls.*\n  delay of the call: median (\S+) s", live)
    rows.append(("live: delay of the call of a pour, median s", delay, "[live](live_figures.md)"))
    rows.append(("live: false calls in 200 usual brews", false, "[live](live_figures.md)"))
    held = re.findall(r"held by (\S+) % of", page("coverage"))
    rows.append(
        ("intervals of 95 % of studies of repeatability that hold the truth, %", span(held), "[coverage](coverage.md)")
    )
    (usual,) = found(r"\*\*usual\*\*.*\n((?:\| .*\n)+?)(?=\| \*\*|\n)", page("beside_others"))
    off = re.findall(r"^\| ([^|]+) \|(?: [^|]+ \|){4} (\S+) \|", usual, re.MULTILINE)
    others = [one for way, one in off if not way.startswith("pourline")]
    (own,) = [one for way, one in off if way.startswith("pourline")]
    rows.append(
        (
            "edges off by, s: general-purpose packages, and pourline",
            f"{span(others)}, and {own}",
            "[beside others](beside_others.md)",
        )
    )
    (twice,) = found(r"^best pair: (\S+) times as fast", page("many_figures"))
    rows.append(("two threads instead of one", f"{twice} times as fast", "[many logs](many_figures.md)"))
    return rows


def written(times: str | None) -> str:
    """The page, with the given times, if any."""
    accuracy = page("accuracy")
    (missed,) = found(r"^(\d+) bars missed", accuracy)
    heads = (
        "level",
        "brews",
        "pours",
        "missed",
        "false",
        "edges, s",
        "mass, g",
        "flow, rms g/s",
        "within 2 sd: start / end / mass / flow",
    )
    levels = table(heads, *(level(name, accuracy) for name in LEVELS))
    text = f"{HEAD}\n## Pours\n\n{levels}\n{missed} bars missed. [All figures](accuracy.md).\n\n## Further\n\n"
    text += table(("what", "measured", "details"), *further(accuracy))
    text += OPEN + table(("what", "worst figure", "asked for"), *still_open())
    return text + (f"{LATER}{times}```\n" if times else "")


def still_open() -> list[tuple[str, ...]]:
    """The lines of the list of open bars."""
    lines = (HOME / "tests" / "open_bars.txt").read_text(encoding="utf-8").splitlines()
    rows = [tuple(part.strip() for part in line.split("|")) for line in lines if "|" in line and line[0] != "#"]
    return [(what.replace("_", " ").replace("::", ": "), f"{float(figure):.4g}", asked) for what, figure, asked in rows]


def earlier_times() -> str | None:
    """The times that the page holds."""
    old = page("quality") if (DOCS / "quality.md").exists() else ""
    return old.partition(LATER)[2].removesuffix("```\n") or None


if __name__ == "__main__":
    times = TIMES.read_text(encoding="utf-8") if TIMES.exists() else earlier_times()
    (DOCS / "quality.md").write_text(written(times), encoding="utf-8")
