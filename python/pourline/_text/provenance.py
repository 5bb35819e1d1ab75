"""In: logs, brews, a comparison. Out: the provenance of its numbers: version, options, and digests of the samples.

The digest of a comparison is SHA-256 over the columns value and sd, that of labels over start_s and end_s. Each
column is its name in ASCII, a line feed, and its values as IEEE 754 doubles of 8 bytes, the least significant byte
first. A negative zero counts as zero, any missing value as 0x7ff8000000000000. That of a log, `Log.digest`, is the
same over its weights. Reference: FIPS 180-4 for SHA-256, IEEE 754-2019 for the doubles.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import PourlineError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from .._pourline import Brew, Comparison, Log


def digest(columns: Mapping[str, NDArray[np.float64] | None]) -> str:
    """Return the digest of columns by name, as 64 hexadecimal digits."""
    import hashlib

    found = hashlib.sha256()
    for name, values in columns.items():
        if values is None:
            continue
        plain = np.where(np.isnan(values), np.nan, values + 0.0).astype("<f8")
        plain.view("<u8")[np.isnan(values)] = 0x7FF8000000000000
        found.update(name.encode("ascii") + b"\n" + plain.tobytes())
    return found.hexdigest()


def brew_provenance(brew: Brew, log: Log | None) -> list[str]:
    """Return the provenance of a brew: the version, its input and its options."""
    return [f"pourline {brew.version}", _input(brew, log), *_labels(brew), *changed_options(brew)]


def comparison_provenance(comparisons: Sequence[Comparison], version: str, logs: list[Log]) -> list[str]:
    """Return the provenance of comparisons: the version and their input."""
    lines = [f"pourline {version}"]
    for one in comparisons:
        values = one.values_table()
        value, sd = (values[name] for name in values.columns[-2:])
        found = digest({"value": value, "sd": sd})
        lines.append(f"SHA-256 of the values of {one.measure} compared and their sd: {found}")
    return lines + [f"SHA-256 of the samples of {log.meta.name or 'an unnamed log'}: {log.digest}" for log in logs]


def changed_options(brew: Brew) -> list[str]:
    """Return the options that are not at their default, one per line."""
    stages: dict[str, Any] = {**brew.options.changed()}
    changed = [f"{stage}.{key} = {value}" for stage, keys in stages.items() for key, value in keys.items()]
    return changed or ["All options at their defaults."]


def _labels(brew: Brew) -> list[str]:
    if brew.labelled is None:
        return []
    labels = brew.labelled.labels
    start_s, end_s = np.array(labels.pours, dtype=np.float64).reshape(-1, 2).T
    known = [f"by {labels.by}" if labels.by else "", labels.note or "", f"sd {labels.sd_s:g} s"]
    source = ", ".join(part for part in known if part)
    return [f"SHA-256 of the pours set by hand ({source}): {digest({'start_s': start_s, 'end_s': end_s})}"]


def _input(brew: Brew, log: Log | None) -> str:
    found = brew.log_digest
    if log is not None:
        # A brew written by an earlier version has no digest; its stamps are compared instead.
        stamps = brew.trace.time_s
        same = len(log) == len(stamps) and np.array_equal(log.time_s[brew.trace.log_index], stamps)
        if not (same if found is None else found == log.digest):
            raise PourlineError(
                f"the log given for {brew.meta.name or 'a brew'} is not the one it came from", column="logs"
            )
        found = log.digest
    return f"SHA-256 of the samples of the log: {found or 'not recorded by an earlier version'}"
