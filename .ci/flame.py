"""In: a file of callgrind's. Out: the instructions of one analysis as a tree: each function with what it and
those it calls take.

What the compiler put into its caller does not stand by itself, nor does what is not of this crate. Shares are of
`analyze`.
"""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from pathlib import Path

LEAST_PCT = 2.0
DEEPEST = 5
CRATE = "pourline::"
ROOT = CRATE + "brew::analyze"


def short(name: str) -> str:
    """A function's name without addresses, types of closures and the crate's own name."""
    name = name.split("'")[0]
    name = re.sub(r"\{closure[^}]*\}+|\{\{closure\}\}", "{}", name)
    return re.sub(r"::h[0-9a-f]{16}$", "", name).replace(CRATE, "")


def edges(text: str) -> tuple[dict[str, int], dict[tuple[str, str], int]]:
    """Instructions of each function itself, and those of each callee within each caller."""
    names: dict[str, str] = {}
    own: dict[str, int] = defaultdict(int)
    within: dict[tuple[str, str], int] = defaultdict(int)

    def named(given: str) -> str:
        number, _, name = given.partition(" ")
        if name:
            names[number] = name
        return names[number]

    function = callee = ""
    called = False
    for line in text.splitlines():
        if line.startswith("fn="):
            function = named(line[3:])
        elif line.startswith("cfn="):
            callee = named(line[4:])
        elif line.startswith("calls="):
            called = True
        elif line and (line[0].isdigit() or line[0] in "+-*"):
            count = int(line.split()[1])
            if called:
                within[function, callee] += count
            else:
                own[function] += count
            called = False
    return own, within


def tree(own: dict[str, int], within: dict[tuple[str, str], int]) -> list[str]:
    """Lines of the tree, the largest branch first."""
    total = {name: own[name] + sum(n for (caller, _), n in within.items() if caller == name) for name in own}
    root = max((name for name in total if name.startswith(ROOT)), key=lambda name: total[name])
    lines = []

    def go(name: str, cost: float, depth: int, above: frozenset[str]) -> None:
        if name.startswith(CRATE):
            lines.append(f"{100.0 * cost / total[root]:5.1f} %  {'  ' * depth}{short(name)}")
            depth += 1
        if depth > DEEPEST:
            return
        # The cost of a callee is split among its callers as callgrind counted it, and below that in proportion.
        part = cost / total[name] if total.get(name) else 0.0
        below = [(n * part, callee) for (caller, callee), n in within.items() if caller == name and callee not in above]
        for n, callee in sorted(below, reverse=True):
            if 100.0 * n / total[root] >= LEAST_PCT:
                go(callee, n, depth, above | {callee})

    go(root, total[root], 0, frozenset({root}))
    return lines


print("\n".join(tree(*edges(Path(sys.argv[1]).read_text(encoding="utf-8")))))
