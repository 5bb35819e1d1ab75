"""In: brews or a comparison. Out: a self-contained HTML page: figures, numbers with sd, repairs, provenance. All text
is escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from os import PathLike
from pathlib import Path

from .._escape import escape
from .._figures.pointing import policy, script
from .._figures.svg import brew_figure
from .._io.files import write_whole
from .._io.progress import Bar
from .._pourline import Brew, Comparison, Log, __version__
from .._text.pours import cell
from .._text.provenance import brew_provenance, comparison_provenance
from .._text.words import budget_rows, event_rows, name_of
from ..errors import PourlineError
from .cards import answer, groups, numbers, scrolled, table, texts
from .comparison_part import comparison_part

STYLE = """
:root{color-scheme:light dark}
body{font:15px/1.5 system-ui,sans-serif;max-width:940px;margin:2rem auto;padding:0 1rem}
h1{font-size:1.5rem;margin-bottom:.2rem}h2{font-size:1.2rem;margin:2.2rem 0 .2rem;border-top:1px solid #8886;
padding-top:1rem}h3,h2.part{font-size:1rem;margin:1.1rem 0 .3rem;border-top:0;padding-top:0}
p,ul{margin:.3rem 0}table{font-size:.9em}
th{font-weight:600;border-bottom:1px solid #8886}td,th{vertical-align:top}
.text td:last-child{white-space:normal!important}
.faint{opacity:.75}.wide{overflow-x:auto}dl{display:grid;grid-template-columns:max-content 1fr;gap:.1rem 1rem;margin:0}
dd{margin:0}.digest{overflow-wrap:anywhere}@page{size:A4;margin:14mm}
@media print{:root{color-scheme:light}body{font-size:9pt;line-height:1.3;margin:0;max-width:none;padding:0}
h2:not(.part){break-before:page;border-top:0;margin-top:0}h2:first-of-type{break-before:auto}h1,h2,h3{break-after:avoid}
svg,tr,li,.figure{break-inside:avoid}svg{max-height:100mm;min-width:0!important}
dl{grid-template-columns:max-content 1fr max-content 1fr;gap:0 .8rem}
thead{display:table-header-group}.wide{overflow:visible!important}
td,th{white-space:normal!important;padding-right:6px!important}table{font-size:8pt!important}}
"""


def report(
    brews: Brew | Iterable[Brew | PourlineError] | Comparison,
    path: str | PathLike[str],
    title: str | None = None,
    logs: Log | Iterable[Log | PourlineError] | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
) -> Path:
    """Write a self-contained HTML page that prints on A4: nothing is fetched, all text is escaped.

    Its figures are complete without a script. The only script shows values at the pointer.

    Args:
        brews: a brew, the result of `analyze_many` (a failed brew is listed with its error), or that of `compare`.
        path: the file to write. It is written completely or not at all; an existing page is replaced.
        title: the title of the page.
        logs: the logs of the brews, in the same order. They are checked against the digests of the brews; a
            comparison lists their digests.
        progress: whether to show the progress, as for `analyze_many`.

    Returns:
        The path.

    Raises:
        PourlineError: kind `argument` if `brews` are not brews or `logs` are not the logs of the brews; `io` if the
            file cannot be written.

    >>> import pourline, tempfile
    >>> log, truth = pourline.simulate("usual", seed=7)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     page = pourline.report(pourline.analyze(log), folder + "/brew.html").read_text(encoding="utf-8")
    >>> page.startswith("<!doctype html>"), page.count("<script")
    (True, 1)
    """
    write_whole(path, page(brews, title, logs, progress).encode())
    return Path(path)


def page(
    brews: Brew | Iterable[Brew | PourlineError] | Comparison,
    title: str | None = None,
    logs: Log | Iterable[Log | PourlineError] | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
) -> str:
    """Return the page as text."""
    given = [logs] if isinstance(logs, Log) else list(logs or [])
    if isinstance(brews, Comparison):
        read = [log for log in given if isinstance(log, Log)]
        facts = _facts(comparison_provenance(brews, __version__, read), 'h2 class="part"')
        return _whole(title or f"{brews.measure} by {brews.by}", f"{comparison_part(brews)}{facts}")
    found: list[Brew | PourlineError] = [brews] if isinstance(brews, Brew) else list(brews)
    for one in found:
        if not isinstance(one, (Brew, PourlineError)):
            raise PourlineError(f"a Brew is needed, not {type(one).__name__}", column="brews")
    if given and len(given) != len(found):
        raise PourlineError(f"{len(given)} logs for {len(found)} brews; one for each is needed", column="logs")
    return _whole(title or "Brews", _brews(found, given or [None] * len(found), progress))


def _whole(title: str, body: str) -> str:
    doubt = (
        '<p class="faint">± is one standard deviation: about two in three true values lie within one, 95 in 100 '
        "within two. Times are true times at the bed, corrected for the lag of the scale. A kitchen scale is not a "
        "legal-for-trade instrument.</p>"
    )
    last = script() if "pourline-figure" in body else ""
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">{policy()}<meta name="viewport" '
        f'content="width=device-width,initial-scale=1"><title>{escape(title)}</title><style>{STYLE}</style></head>'
        f"<body><main><h1>{escape(title)}</h1>{body}{doubt}</main>{last}</body></html>\n"
    )


def _brews(
    found: Sequence[Brew | PourlineError],
    logs: Sequence[Log | PourlineError | None],
    progress: bool | Callable[[int, int], object] | None,
) -> str:
    brews = [one for one in found if isinstance(one, Brew)]
    failed = [one for one in found if isinstance(one, PourlineError)]
    parts = [f'<p class="faint">{len(brews)} analysed by pourline {escape(__version__)}</p>']
    if failed:
        parts.append(f'<h2 class="part">Not analysed: {len(failed)}</h2>' + _list([str(error) for error in failed]))
    if len(brews) > 1:
        parts.append(_overview(brews))
    pairs = [
        (one, log if isinstance(log, Log) else None)
        for one, log in zip(found, logs, strict=True)
        if isinstance(one, Brew)
    ]
    with Bar(progress, len(pairs)) as bar:
        for place, (brew, log) in enumerate(pairs, 1):
            parts.append(_section(place, brew, log))
            bar.tell(place)
    return "".join(parts)


def _overview(brews: list[Brew]) -> str:
    rows = [
        [
            *texts([[name_of(b.meta), str(len(b.pours))]])[0],
            cell(b.water_g),
            cell(b.beverage_g),
            cell(b.extraction.retention_g_per_g),
            cell(b.bed.drawdown_end_s),
            cell(b.extraction.yield_pct),
        ]
        for b in brews
    ]
    heads = ["brew", "pours", "water, g", "beverage, g", "retention, g/g", "drawdown ends, s", "yield, %"]
    return scrolled(table(heads, rows), "brews")


def _section(place: int, brew: Brew, log: Log | None) -> str:
    heads = ["kind", "on", "from, s", "to, s", "size, g", "samples", "action"]
    events = (
        scrolled(table(heads, texts(event_rows(brew))), "events", "text")
        if brew.events
        else "<p>No repair was needed.</p>"
    )
    shares = ["input", "value", "adds to the sd of the yield, points", "share of its variance, %"]
    budget = scrolled(table(shares, texts(rows)), "inputs of the yield") if (rows := budget_rows(brew)) else ""
    return (
        f'<h2 id="brew-{place}">{escape(name_of(brew.meta))}</h2>{answer(brew)}'
        f"{scrolled(brew_figure(brew, zero_s=brew.time_zero_s), 'figure', 'figure')}"
        f"{groups(brew, '<h3>{}</h3>')}"
        f"<h3>The brew</h3><dl>{numbers(brew._totals)}</dl>"
        f"<h3>Uncertainty</h3>{_list(brew._uncertainty)}{budget}"
        f"<h3>Samples and repairs</h3>{_list(brew._samples)}"
        f"{events}"
        f"{_facts(brew_provenance(brew, log))}"
    )


def _facts(lines: Iterable[str], level: str = "h3") -> str:
    return f'<{level}>Provenance</{level.split()[0]}><div class="digest">{_list(lines)}</div>'


def _list(lines: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + "</ul>"
