"""In: brews, a comparison or a schedule. Out: a self-contained HTML page: figures, numbers with sd, repairs, provenance. All text
is escaped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from os import PathLike
from pathlib import Path

from .._escape import escape
from .._figures.calibration import named_calibrations
from .._figures.pointing import policy, script
from .._io.files import write_whole
from .._io.progress import Bar
from .._pourline import Brew, Calibration, Comparison, Log, Profile, ProfileDifference, Schedule, __version__
from .._text.comparison import title_of
from .._text.provenance import comparison_provenance
from .._text.words import name_of
from ..errors import PourlineError
from .brew_part import brew_part, facts, listed, overview
from .calibration_part import calibrations_part
from .comparison_part import comparisons_part
from .schedule_part import schedule_part

STYLE = """
:root{color-scheme:light dark;--ground:#fff;--ink:#111;--faint:#4a4a4a;--link:#0b4f9e;--alarm:#a8455a}
@media (prefers-color-scheme:dark){:root{--ground:#121212;--ink:#eee;--faint:#b5b5b5;--link:#8ab8f0;--alarm:#e07f92}}
body{background:var(--ground);color:var(--ink);font:15px/1.5 system-ui,sans-serif;max-width:940px;margin:1.5rem auto;padding:0 1rem}
h1{font-size:1.5rem;margin:0 0 .2rem}h2{font-size:1.25rem;margin:0 0 .2rem}h3,h2.part{font-size:1rem;margin:1rem 0 .3rem}
.brew+.brew,.pourline-sorted~.brew{margin-top:2.5rem;border-top:1px solid #8888;padding-top:1rem}
p,ul{margin:.3rem 0}ul{padding-left:1.3rem}.answer{font-size:1.1rem}
.small,.legend{font-size:.85rem}.small,.faint{color:var(--faint)}a{color:var(--link)}
.warning{border-left:4px solid var(--alarm);padding:.1rem .6rem}
table{border-collapse:collapse;font-size:.9rem;margin:.4rem 0}td,th{padding:.1rem .8rem .1rem 0;text-align:right;
white-space:nowrap;vertical-align:top;font-variant-numeric:tabular-nums}th{font-weight:600;border-bottom:1px solid #8888}
td.t,th.t{text-align:left}.text td:last-child{white-space:normal}
.pourline-sorted th{white-space:normal;vertical-align:bottom}
th button{font:inherit;color:inherit;background:none;border:0;padding:.25rem 0;min-height:24px;cursor:pointer;
text-align:inherit}
th button:after{content:"\\2195";opacity:.6;padding-left:.2rem}
[aria-sort=ascending] button:after{content:"\\2191";opacity:1}[aria-sort=descending] button:after{content:"\\2193";opacity:1}
.legend{list-style:none;padding:0;columns:3 15rem;column-gap:1.2rem}
.legend li{padding-left:36px;break-inside:avoid}.legend svg{margin:0 10px -1px -36px;color:inherit}
svg text{fill:currentColor}
details{border-top:1px solid #8888;padding:.3rem 0}summary{cursor:pointer;min-height:24px}
.wide{overflow-x:auto}dl{display:grid;grid-template-columns:max-content 1fr;gap:.1rem 1rem;margin:0}
dd{margin:0}.digest{overflow-wrap:anywhere}.digest :is(h2,h3){font-size:inherit;margin:.4rem 0 0}
@media (prefers-color-scheme:dark){svg{filter:brightness(1.5)}.pourline-pour{opacity:.12}}
@media (max-width:600px){th{white-space:normal}}
@media screen and (max-width:650px){.figure:after{content:"the figure goes on to the right";display:block;position:sticky;
left:0;width:max-content;font-size:.8rem;color:var(--faint)}}
@page{size:A4;margin:12mm}
@media print{:root{color-scheme:light;--ground:#fff;--ink:#000;--faint:#333;--link:#000}body{font-size:9pt;line-height:1.3;margin:0;max-width:none;padding:0}
.brew{border:0!important;margin:0!important;padding:0!important}.brew+.brew,.pourline-sorted~.brew{break-before:page}
h1,h2,h3{break-after:avoid}svg,tr,li,.figure{break-inside:avoid}svg{filter:none}
.pourline-figure{max-height:116mm;min-width:0!important;display:block}.pourline-pour{opacity:.3}
.legend{columns:3;font-size:7.5pt}.small{font-size:7.5pt}.pourline-hint{display:none}
details:not([open]),th button:after{display:none}dl{grid-template-columns:max-content 1fr max-content 1fr;gap:0 .8rem}
thead{display:table-header-group}.wide{overflow:visible!important}
td,th{white-space:normal;padding-right:6px}table{font-size:8pt}.pourline-sorted a{color:inherit;text-decoration:none}}
"""


def report(
    brews: Brew
    | Comparison
    | Calibration
    | Mapping[str, Calibration]
    | Schedule
    | Iterable[Brew | PourlineError | Comparison],
    path: str | PathLike[str],
    title: str | None = None,
    logs: Log | Iterable[Log | PourlineError] | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
    profiles: Mapping[str, Profile] | ProfileDifference | None = None,
) -> Path:
    """Write a self-contained HTML page that prints on A4: nothing is fetched, all text is escaped.

    The answer, the figure with its legend and the pours of a brew fit one page; all other sections fold. Figures and
    tables are complete without a script. The only script shows values at the pointer and sorts the table of brews.

    Args:
        brews: a brew, the result of `analyze_many` (a failed brew is listed with its error), that of `compare`, a
            list of such comparisons of the same groups, or a `Schedule`, as a sheet to print; or the result of
            `calibrate`, or several by the names of the scales, which stand beside each other.
        path: the file to write. It is written completely or not at all; an existing page is replaced.
        title: the title of the page; by default the name of the brew, the number of brews, or what a comparison shows.
        logs: the logs of the brews, in the same order. They are checked against the digests of the brews; a
            comparison lists their digests.
        progress: whether to show the progress, as for `analyze_many`.
        profiles: the mean flows of two groups of a comparison, from `profile_difference`, or that of each group by its
            name, from `profile`; they are drawn above the measures.

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
    write_whole(path, page(brews, title, logs, progress, profiles).encode())
    return Path(path)


def page(
    brews: Brew
    | Comparison
    | Calibration
    | Mapping[str, Calibration]
    | Schedule
    | Iterable[Brew | PourlineError | Comparison],
    title: str | None = None,
    logs: Log | Iterable[Log | PourlineError] | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
    profiles: Mapping[str, Profile] | ProfileDifference | None = None,
) -> str:
    """Return the page as text."""
    if isinstance(brews, (Calibration, Mapping)):
        named = named_calibrations(brews)
        usual = " and ".join(filter(None, named)) or "Calibration of a scale"
        return _whole(title or usual, calibrations_part(named))
    if isinstance(brews, Schedule):
        body, own = schedule_part(brews), f"{len(brews)} brews in order"
        return _whole(title or own, body, is_measured=False)
    given = [logs] if isinstance(logs, Log) else list(logs or [])
    given_brews: list[Brew | PourlineError | Comparison] = (
        [brews] if isinstance(brews, (Brew, Comparison)) else list(brews)
    )
    compared = [one for one in given_brews if isinstance(one, Comparison)]
    if compared and len(compared) == len(given_brews):
        read = [log for log in given if isinstance(log, Log)]
        body = f"{comparisons_part(compared, profiles)}{facts(comparison_provenance(compared, __version__, read))}"
        return _whole(title or title_of(compared), body)
    found: list[Brew | PourlineError] = [one for one in given_brews if not isinstance(one, Comparison)]
    if compared:
        raise PourlineError("brews and comparisons need a page each", column="brews")
    for one in found:
        if not isinstance(one, (Brew, PourlineError)):
            raise PourlineError(f"a Brew is needed, not {type(one).__name__}", column="brews")
    if given and len(given) != len(found):
        raise PourlineError(f"{len(given)} logs for {len(found)} brews; one for each is needed", column="logs")
    alone = name_of(found[0].meta) if len(found) == 1 and isinstance(found[0], Brew) else None
    usual = alone or f"{sum(isinstance(one, Brew) for one in found)} brews"
    return _whole(title or usual, _brews(found, given or [None] * len(found), title, progress))


def _whole(title: str, body: str, is_measured: bool = True) -> str:
    has_figure = "pourline-figure" in body
    times = "Times count from the first start; they are true times at the bed, corrected for the delay of the scale. "
    doubt = (
        '<p class="small">± is one standard deviation: about two in three true values lie within one, 95 in 100 '
        f"within two. {times if has_figure else ''}A kitchen scale is not a legal-for-trade instrument.</p>"
    )
    doubt = doubt if is_measured else ""
    last = script() if has_figure else ""
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8">{policy()}<meta name="viewport" '
        f'content="width=device-width,initial-scale=1"><title>{escape(title)}</title><style>{STYLE}</style></head>'
        f"<body><main><h1>{escape(title)}</h1>{body}{doubt}</main>{last}</body></html>\n"
    )


def _brews(
    found: Sequence[Brew | PourlineError],
    logs: Sequence[Log | PourlineError | None],
    title: str | None,
    progress: bool | Callable[[int, int], object] | None,
) -> str:
    brews = [one for one in found if isinstance(one, Brew)]
    failed = [one for one in found if isinstance(one, PourlineError)]
    parts = []
    if len(brews) > 1:
        warned = sum(bool(brew.warnings) for brew in brews)
        some = f"{warned} of {len(brews)} brews carr{'ies' if warned == 1 else 'y'} warnings."
        parts.append(f"<p>{some}</p>" if warned else "")
    if failed:
        parts.append(f'<h2 class="part">Not analysed: {len(failed)}</h2>' + listed([str(error) for error in failed]))
    if len(brews) > 1:
        parts.append(overview(brews))
    pairs = [
        (one, log if isinstance(log, Log) else None)
        for one, log in zip(found, logs, strict=True)
        if isinstance(one, Brew)
    ]
    is_alone = len(found) == 1 and title is None
    with Bar(progress, len(pairs)) as bar:
        for place, (brew, log) in enumerate(pairs, 1):
            parts.append(brew_part(place, brew, log, is_alone))
            bar.tell(place)
    return "".join(parts)
