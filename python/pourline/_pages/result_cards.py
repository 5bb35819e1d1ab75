"""In: a pour, an extraction, a study or a profile. Out: its card for a notebook. All text is escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .._escape import escape
from .._figures.svg_profile import profile_figure
from .._pourline import Estimate, Outlier, Undefined
from .._text.pours import DASH, cell
from .._text.pours import head as words_of
from .cards import BOX, TITLE, head, numbers, scrolled, table, texts

if TYPE_CHECKING:
    from .._pourline import Extraction, Pour, Profile, Study

GRID = "display:grid;grid-template-columns:max-content 1fr;gap:0 1em;margin:0;font-size:.85em"
ROWS, MEASURES = 12, 6
# What a study is looked at for first, if it has it.
FIRST = ("pours", "water_g", "mean_flow_g_per_s", "flow_cv", "drawdown_end_s", "yield_pct")


def pour_card(pour: Pour) -> str:
    """Return the card of a pour: its numbers, those of its metrics, agitation and drainage folded away."""
    own = [name for name in dir(type(pour)) if not name.startswith("_")]
    further = [name for name in dir(pour) if not name.startswith("_") and name not in own]
    line = f"{pour.mass_g} g in {pour.duration_s} s, {pour.mean_flow_g_per_s} g/s"
    rest = _fold("metrics, agitation and drainage", _terms(pour, further)) if further else ""
    return _card(head("Pour", line) + _terms(pour, own) + rest)


def extraction_card(found: Extraction) -> str:
    """Return the card of an extraction: yield and strength, what they are from, and the budget of the yield."""
    names = ["yield_pct", "strength_pct", "brew_ratio", "retention_g_per_g", "water_g", "beverage_g"]
    parts = [head("Extraction", found.convention), _terms(found, names)]
    rows = [
        [row.name, str(row.value), f"{row.contribution_pct:.3f}", f"{100 * row.share:.1f}"]
        for row in sorted(found.budget, key=lambda row: -row.share)
        if row.share > 0
    ]
    if rows:
        budget = table(["input", "value", "adds, percentage points", "share of the variance, %"], texts(rows))
        parts.append(TITLE.format("Budget of the yield") + scrolled(budget, "budget of the yield"))
    return _card("".join(parts))


def study_card(study: Study) -> str:
    """Return the card of a study: its factors with their levels, and the first rows of a few measures."""
    factors = study.factors
    levels = [(name, ", ".join(study.levels(name)), "") for name in factors]
    line = f"{len(study)} rows, {len(factors)} factors, {len(study.measures)} measures"
    if study.warned:
        line += f"; warnings: {len(study.warned)} brews"
    named = [name for name in FIRST if name in study.measures]
    measures = (named + [name for name in study.measures if name not in named])[:MEASURES]
    whole = study.table()
    rows = [
        [str(row["brew"]), *(str(row[name] or DASH) for name in factors), *(_number(row[name]) for name in measures)]
        for row in whole[:ROWS]
    ]
    shown = table(["brew", *factors, *map(words_of, measures)], texts(rows))
    parts = [head("Study", line), f'<dl style="{GRID}">{numbers(levels)}</dl>', scrolled(shown, "study")]
    if len(whole) > ROWS:
        parts.append(f"<div>{ROWS} of {len(whole)} rows</div>")
    return _card("".join(parts))


def profile_card(found: Profile) -> str:
    """Return the card of a profile: its mean flow with the band over time, and the brew that is unlike the others."""
    line = f"{len(found.brews)} brews over {found.axis}, aligned on {found.align}"
    parts = [head("Profile", line)]
    if found.axis == "time":
        parts.append(scrolled(profile_figure({"mean flow": found}), "mean flow"))
    else:
        parts.append(found.table()._repr_html_())
    if isinstance(found.odd, Outlier):
        parts.append(f"<div>{escape(found.odd.why)}</div>")
    return _card("".join(parts))


def _card(inside: str) -> str:
    return f'<div style="{BOX}">{inside}</div>'


def _fold(title: str, inside: str) -> str:
    return f"<details><summary>{escape(title)}</summary>{inside}</details>"


def _number(value: float) -> str:
    return DASH if value != value else f"{value:.4g}"


def _terms(of: Any, names: list[str]) -> str:
    """Return the uncertain numbers, texts and plain numbers of an object as a list of terms."""
    found = []
    for name in names:
        value = getattr(of, name)
        if isinstance(value, (Estimate, Undefined)):
            one = cell(value)
            found.append((words_of(name), one.text, one.why))
        elif isinstance(value, (str, int, float)):
            found.append((words_of(name), f"{value:.4g}" if isinstance(value, float) else str(value), ""))
    return f'<dl style="{GRID}">{numbers(found)}</dl>'
