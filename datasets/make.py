"""In: recipes.json. Out: the demo brews beside it: a CSV and its labels for each, and index.csv with their sha256.

Run it with `python datasets/make.py` after a change to recipes.json or to the simulator; the result is committed.
"""

from __future__ import annotations

import csv
import hashlib
import json
import random
import sys
from pathlib import Path
from typing import Any

import pourline

HERE = Path(__file__).parent
INDEX = (
    "name", "file", "sha256", "labels", "labels_sha256", "licence", "origin", "kettle", "person", "coffee", "roast",
    "grinder", "grinder_setting", "brewer", "device", "day", "dose_g", "tds_pct", "water_c", "wrong",
)  # fmt: skip


def simulated(book: dict[str, Any], brew: dict[str, Any]) -> tuple[pourline.Log, pourline.Truth]:
    """Return the log of one brew of the book and the truth about it."""
    kettle, person, coffee = (
        book["kettles"][brew["kettle"]],
        book["people"][brew["person"]],
        book["coffees"][brew["coffee"]],
    )
    draw = random.Random(brew["seed"])
    flow_g_per_s = draw.uniform(*kettle["flow_g_per_s"])
    planned = [
        {
            "rest_s": max(
                0.0, pour["rest_s"] + (draw.uniform(-1, 1) * person["rest_error_s"] if pour["rest_s"] else 0)
            ),
            "mass_g": pour["mass_g"] + draw.uniform(-1, 1) * person["mass_error_g"],
            "flow_g_per_s": flow_g_per_s * draw.uniform(0.95, 1.05),
            "rise_s": draw.uniform(*kettle["rise_s"]),
            "fall_s": draw.uniform(*kettle["rise_s"]),
        }
        for pour in book["pours"]
    ]
    recipe: dict[str, Any] = {
        "hand": {"planned": planned, "tremor": person["tremor"], "tremor_hz": person["tremor_hz"]},
        "scale": book["scale"],
        "bed": coffee["bed"],
        "faults": {kind: value for wrong in brew["faults"] for kind, value in book["faults"][wrong].items()},
        "meta": {
            "name": brew["name"], "kettle": brew["kettle"], "person": brew["person"], "coffee": brew["coffee"],
            "roast": coffee["roast"], "grinder": book["grinder"], "grinder_setting": coffee["grinder_setting"],
            "brewer": book["brewer"], "device": book["device"], "dose_g": book["dose_g"],
            "water_c": coffee["water_c"], "factors": {"day": brew["day"]},
        },
    }  # fmt: skip
    return pourline.simulate(recipe, brew["seed"])


def log_text(log: pourline.Log) -> str:
    """Return a log as CSV: what is known of the brew, stamps to the millisecond, weights to the 0.1 g readout."""
    assert log.water_g is not None
    assert log.beverage_g is not None
    rows = zip(log.time_s.tolist(), log.water_g.tolist(), log.beverage_g.tolist(), strict=True)
    meta = log.meta.to_dict()
    factors = {f"factors.{key}": value for key, value in meta.pop("factors").items()}
    notes = "".join(f"# {key}: {value}\n" for key, value in {**meta, **factors}.items())
    return (
        notes
        + "time_s,water_g,beverage_g\n"
        + "".join(f"{t:.3f},{round(w, 1) + 0.0},{round(b, 1) + 0.0}\n" for t, w, b in rows)
    )


def label_text(truth: pourline.Truth) -> str:
    """Return the truth about a log as JSON, without its arrays."""
    labels = {
        "pours": [{key: round(value, 4) for key, value in pour.to_dict().items()} for pour in truth.pours],
        "events": [
            {"kind": e.kind, "channel": e.channel, "start_s": round(e.start_s, 3), "end_s": round(e.end_s, 3),
             "size_g": round(e.size_g, 2)}
            for e in truth.events
        ],
        "brew_start_s": round(truth.brew_start_s, 3),
        "scale_lag_s": round(truth.scale_lag_s, 4),
        "noise_sd_g": truth.noise_sd_g,
        "dose_g": truth.dose_g,
        "retention_g_per_g": round(truth.retention_g_per_g, 4),
        "beverage_end_s": truth.beverage_end_s and round(truth.beverage_end_s, 3),
    }  # fmt: skip
    return json.dumps(labels, indent=1) + "\n"


def made(book: dict[str, Any]) -> dict[str, str]:
    """Return all files by their path beside recipes.json."""
    files: dict[str, str] = {}
    rows = []
    for brew in book["brews"]:
        log, truth = simulated(book, brew)
        meta = log.meta.to_dict()
        file, labels = f"brews/{brew['name']}.csv", f"brews/{brew['name']}.json"
        files[file], files[labels] = log_text(log), label_text(truth)
        row = {**meta, **meta["factors"], "file": file, "labels": labels, "licence": book["licence"]}
        row |= {"origin": book["origin"], "wrong": " ".join(brew["faults"])}
        row |= {"sha256": sha256(files[file]), "labels_sha256": sha256(files[labels])}
        rows.append(row)
    files["index.csv"] = index_text(rows)
    return files


def sha256(text: str) -> str:
    """Return the checksum of a text as it is written."""
    return hashlib.sha256(text.encode()).hexdigest()


def index_text(rows: list[dict[str, Any]]) -> str:
    """Return the index as CSV."""
    import io

    text = io.StringIO()
    writer = csv.DictWriter(text, INDEX, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def main() -> int:
    """Write all files."""
    book = json.loads((HERE / "recipes.json").read_text(encoding="utf-8"))
    (HERE / "brews").mkdir(exist_ok=True)
    for old in (HERE / "brews").iterdir():
        old.unlink()
    for file, text in made(book).items():
        (HERE / file).write_text(text, encoding="utf-8", newline="\n")
    print(f"{len(book['brews'])} brews")
    return 0


if __name__ == "__main__":
    sys.exit(main())
