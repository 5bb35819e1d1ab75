"""In: calibrations by the names of their scales. Out: the content of their page: answers, figure, properties beside each
other, masses. All text is escaped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .._escape import escape
from .._figures.svg_calibration import calibration_figure
from .._pourline import Estimate
from .._text.calibration import answer, calibration_rows
from .brew_part import fold
from .cards import scrolled, table, texts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from .._pourline import Calibration


def calibrations_part(named: Mapping[str, Calibration]) -> str:
    """Return the content of the page."""
    parts = []
    for name, one in named.items():
        head = f'<h2 class="part">{escape(name)}</h2>' if name else ""
        first, *more = answer(one)
        parts.append(
            f'{head}<p class="answer">{escape(first)}</p>' + "".join(f"<p>{escape(says)}</p>" for says in more)
        )
    parts.append(scrolled(calibration_figure(named), "step response, noise and stamps"))
    rows: dict[str, dict[str, str]] = {}
    for name, one in named.items():
        for what, says in calibration_rows(one):
            rows.setdefault(what, {})[name] = says
    cells = [[what, *(says.get(name, "") for name in named)] for what, says in rows.items()]
    parts.append(
        scrolled(
            table(["", *(name or "this scale" for name in named)], texts(cells), inline=False), "properties", "text"
        )
    )
    for name, one in named.items():
        parts.append(fold(f"Masses{f' on {name}' if name else ''}", scrolled(_masses(one), "masses")))
    return "".join(parts)


def _masses(calibration: Calibration) -> str:
    heads = ["time, s", "mass shown, g", "more than known, g", "hand, s", "misfit, sd"]
    rows = [
        [
            f"{step.at_s.value:.2f}",
            str(step.mass_g),
            str(step.deviation_g) if isinstance(step.deviation_g, Estimate) else "",
            f"{step.hand_s:.2f}",
            f"{step.misfit:.1f}",
        ]
        for step in calibration.steps
    ]
    return table(heads, texts(rows), inline=False)
