"""In: dates and numbers of a person's brews, and their trend. Out: what became of them, in words."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

from .._pourline import Estimate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from .._pourline import Brew, Progress

SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
DATE = re.compile(r"(?<!\d)(\d{4})([-_.]?)(\d{2})\2(\d{2})(?!\d)")
WEEK, MANY_DAYS = 7, 21


def date_in(*texts: str | None) -> date | None:
    """Return the first date in texts such as `2031-05-03T08:10` or `ada-20310503`.

    >>> date_in(None, "ada-20310503-2"), date_in("2031-05-03T08:10"), date_in("brew-12")
    (datetime.date(2031, 5, 3), datetime.date(2031, 5, 3), None)
    """
    for text in texts:
        for found in DATE.finditer(text or ""):
            try:
                return date(int(found[1]), int(found[3]), int(found[4]))
            except ValueError:
                continue
    return None


def steadiness_of(brew: Brew) -> Estimate | None:
    """Return the share of the pouring near its own flow, weighted by the time of the pours, as in the head."""
    total_s, near, variance = 0.0, 0.0, 0.0
    for pour, row in zip(brew.pours, brew.metrics.pours, strict=True):
        share = row.time_near_plateau_pct
        if isinstance(share, Estimate):
            weight_s = pour.duration_s.value
            total_s, near, variance = (
                total_s + weight_s,
                near + weight_s * share.value,
                variance + (weight_s * share.sd) ** 2,
            )
    return Estimate(near / total_s, variance**0.5 / total_s) if total_s > 0 else None


def ago(days: int) -> str:
    """Return a time in days or weeks, in words.

    >>> ago(35), ago(1), ago(0)
    ('five weeks ago', 'one day ago', 'the same day')
    """
    if days == 0:
        return "the same day"
    count, unit = (round(days / WEEK), "week") if days >= MANY_DAYS else (days, "day")
    return f"{SMALL[count] if count < len(SMALL) else count} {unit}{'' if count == 1 else 's'} ago"


def trend_words(progress: Progress) -> str:
    """Return whether a number for which more is better became better.

    >>> import pourline
    >>> trend_words(pourline.progress([(1, 50), (2, 55), (3, 61), (4, 64)]))
    'better'
    """
    if progress.interval_per_day is None:
        return progress.says
    low, high = progress.interval_per_day
    return "better" if low > 0 else "worse" if high < 0 else "no clear trend"


def progress_line(score: Progress | None, steadiness: Progress | None) -> str:
    """Return score and steadiness of the last day, those of the first, and whether they became better."""
    parts: list[str] = []
    for found, words in ((score, "{:.0f} of 100"), (steadiness, "steadiness {:.0f} %")):
        if found is None or not found.days:
            continue
        first, last = found.days[0], found.days[-1]
        since = "" if parts else f" {ago(last.day - first.day)}"
        begun = words.replace("steadiness ", "").replace(" of 100", "").format(first.mean)
        change = f", from {begun}{since}" if len(found.days) > 1 else ""
        parts.append(f"{words.format(last.mean)}{change}: {trend_words(found)}")
    line = "; ".join(parts)
    return line[:1].upper() + line[1:]


def day_rows(score: Progress | None, steadiness: Progress | None) -> list[list[str]]:
    """Return one row per day, under its heads: the date, the brews, and their mean score and steadiness."""
    found: dict[int, list[str]] = {}
    for place, one in enumerate((score, steadiness)):
        for day in one.days if one is not None else []:
            row = found.setdefault(day.day, [date.fromordinal(day.day).isoformat(), str(day.brews), "", ""])
            row[2 + place] = f"{day.mean:.0f}"
    rows = [["day", "brews", "score", "steadiness, %"], *(found[day] for day in sorted(found))]
    return rows if score is not None else [[*row[:2], row[3]] for row in rows]


def practise(habits: Sequence[str], brews: int) -> str:
    """Return what to practise next."""
    return (
        f"Practise next: {habits[0]}"
        if habits
        else f"Nothing to work on: no deviation recurs in the last {brews} brews."
    )
