"""Labelled pours: values that do not change, files that are not lost, and results that name labelled edges."""

from __future__ import annotations

import hashlib
import json
import struct
import xml.etree.ElementTree as ET
from pathlib import Path

import matplotlib as mpl
import pytest

import pourline
from pourline._figures.svg import brew_figure
from pourline.cli import main

mpl.use("agg")

NASTY = "<script>alert(1)</script>&\"'"
LABELS = pourline.Labels([(10.0, 20.0), (35.0, 47.15)], by="Ada", note=NASTY)


@pytest.fixture(scope="module")
def by_hand(log: pourline.Log) -> pourline.Brew:
    return pourline.analyze(log, labels=LABELS.moved(1, end_s=15.5))


def test_labels_are_values_and_changes_make_new_ones() -> None:
    assert pourline.Labels([(10.0, 20.0), (35.0, 47.15)], 0.05, "Ada", NASTY) == LABELS
    assert LABELS.moved(2, start_s=36.0).pours == [(10.0, 20.0), (36.0, 47.15)]
    assert LABELS.added(25.0, 30.0).pours == [(10.0, 20.0), (25.0, 30.0), (35.0, 47.15)]
    assert LABELS.added(25.0, 30.0).removed(2) == LABELS
    assert LABELS.pours == [(10.0, 20.0), (35.0, 47.15)]
    assert (LABELS.removed(1).by, LABELS.removed(1).note, LABELS.sd_s, len(LABELS)) == ("Ada", NASTY, 0.05, 2)
    assert LABELS.removed(1) != LABELS
    with pytest.raises(AttributeError):
        LABELS.sd_s = 0.1  # type: ignore[misc]


@pytest.mark.parametrize(
    ("pours", "sd_s", "kind", "row", "column"),
    [
        ([(10.0, 20.0), (19.0, 25.0)], 0.05, "out_of_range", 2, "labels.start_s"),
        ([(10.0, 9.0)], 0.05, "out_of_range", 1, "labels.end_s"),
        ([(10.0, float("nan"))], 0.05, "not_finite", 1, "labels.end_s"),
        ([(10.0, 20.0)], 0.0, "out_of_range", None, "labels.sd_s"),
    ],
)
def test_labels_that_no_brew_can_have_are_refused(
    pours: list[tuple[float, float]], sd_s: float, kind: str, row: int | None, column: str
) -> None:
    with pytest.raises(pourline.PourlineError) as refused:
        pourline.Labels(pours, sd_s)
    assert (refused.value.kind, refused.value.row, refused.value.column) == (kind, row, column)


def test_a_change_that_breaks_the_order_is_refused() -> None:
    with pytest.raises(pourline.PourlineError):
        LABELS.moved(2, start_s=19.0)
    with pytest.raises(pourline.PourlineError):
        LABELS.added(18.0, 22.0)
    with pytest.raises(pourline.PourlineError, match="no pour 0"):
        LABELS.removed(0)
    with pytest.raises(pourline.PourlineError, match="from 1 to 2"):
        LABELS.moved(3, end_s=50.0)


def test_a_file_keeps_them_and_is_not_lost(tmp_path: Path) -> None:
    path = tmp_path / "labels.json"
    LABELS.write(path)
    assert pourline.Labels.read(path) == LABELS
    assert json.loads(path.read_text(encoding="utf-8"))["pours"][0] == {"start_s": 10.0, "end_s": 20.0}
    with pytest.raises(pourline.PourlineError, match="exists already"):
        LABELS.removed(1).write(path)
    assert pourline.Labels.read(path) == LABELS
    LABELS.removed(1).write(path, overwrite=True)
    assert len(pourline.Labels.read(path)) == 1
    assert [one.name for one in tmp_path.iterdir()] == ["labels.json"]
    path.write_text('{"pours": [], "brew_start_s": 1}', encoding="utf-8")
    with pytest.raises(pourline.PourlineError, match=r"labels\.json: these are no labels") as refused:
        pourline.Labels.read(path)
    assert refused.value.kind == "format"
    with pytest.raises(pourline.PourlineError) as missing:
        pourline.Labels.read(tmp_path / "none.json")
    assert missing.value.kind == "io"


def test_labels_equal_to_the_pours_found_give_the_same_brew(log: pourline.Log, brew: pourline.Brew) -> None:
    same = json.loads(pourline.analyze(log, labels=pourline.Labels.of(brew)).to_json())
    labelled = same.pop("labelled")
    found = json.loads(brew.to_json())
    assert found.pop("labelled") is None
    assert same == found
    assert labelled["warnings"] == []


def test_labels_bound_to_a_log_are_refused_with_another(log: pourline.Log, brew: pourline.Brew) -> None:
    labels = pourline.Labels.of(brew, log)
    assert labels.log_digest is not None
    assert labels.moved(1, end_s=19.0).log_digest == labels.log_digest
    assert pourline.analyze(log, labels=labels).labelled is not None
    with pytest.raises(pourline.PourlineError, match="digest"):
        pourline.analyze(pourline.datasets.load("fernspout-ada-01"), labels=labels)


def test_a_cut_pour_holds_the_water_until_the_cut(by_hand: pourline.Brew, brew: pourline.Brew) -> None:
    # 6 g/s from 10 s on (conftest): 33 g until 15.5 s, by arithmetic.
    first, second = by_hand.pours
    assert abs(first.mass_g.value - 33.0) < 2 * first.mass_g.sd
    assert (first.end_s.value, first.end_s.sd) == (15.5, 0.05)
    assert first.mass_g.sd >= 6.0 * 0.05
    assert abs(second.mass_g.value - 60.0) < 4 * second.mass_g.sd
    found = by_hand.labelled
    assert found is not None
    assert found.labels == LABELS.moved(1, end_s=15.5)
    assert found.table().to_dict()["by_hand"] == ["both", "both"]
    assert (found.added, found.removed) == ([], 0)
    assert any("the detected pours" in warning for warning in found.warnings)
    assert brew.labelled is None


def test_cards_and_figures_say_what_was_set_by_hand(by_hand: pourline.Brew, brew: pourline.Brew) -> None:
    card = by_hand._repr_html_()
    assert "labels set by hand by Ada" in card
    assert "4 edges were set by hand" in card
    assert NASTY not in card
    assert "by hand" not in brew._repr_html_()
    figure = brew_figure(by_hand)
    ET.fromstring(figure)
    assert "set by hand" in figure
    assert "set by hand" not in brew_figure(brew)
    for one, told in ((by_hand, True), (brew, False)):
        legend = pourline.plot(one)["weight"].get_legend()
        assert legend is not None
        words = [text.get_text() for text in legend.get_texts()]
        assert ("edge set by hand" in words) == told


def test_a_report_names_the_labels_and_their_digest(
    by_hand: pourline.Brew, brew: pourline.Brew, log: pourline.Log, tmp_path: Path
) -> None:
    page = pourline.report(by_hand, tmp_path / "page.html", logs=log).read_text(encoding="utf-8")
    # Source: FIPS 180-4 as hashlib has it; doubles by struct, not by the code that is tested.
    columns = ((b"start_s", (10.0, 35.0)), (b"end_s", (15.5, 47.15)))
    text = b"".join(name + b"\n" + b"".join(struct.pack("<d", value) for value in values) for name, values in columns)
    assert hashlib.sha256(text).hexdigest() in page
    assert "pours set by hand (by Ada" in page
    assert NASTY not in page
    assert "by hand" not in pourline.report(brew, tmp_path / "plain.html").read_text(encoding="utf-8")


def test_the_command_line_takes_only_labels_that_are_named(
    log: pourline.Log, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, labels = tmp_path / "brew.csv", tmp_path / "brew.labels.json"
    assert log.water_g is not None
    rows = zip(log.time_s, log.water_g, strict=True)
    path.write_text("time_s,water_g\n" + "".join(f"{t:.1f},{w:.1f}\n" for t, w in rows), encoding="utf-8")
    pourline.Labels([(10.0, 15.5)], by="Ada").write(labels)
    assert main(["analyze", str(path)]) == 0
    assert "by hand" not in capsys.readouterr().out
    assert main(["analyze", str(path), "--labels", str(labels)]) == 0
    told = capsys.readouterr().out
    assert "labels set by hand by Ada" in told
    assert "1 detected pour was removed by hand" in told.replace("\n", " ").replace("    ", "")
    assert main(["analyze", str(path), str(path), "--labels", str(labels)]) == 2
    labels.write_text('{"pours": [{"start_s": 10, "end_s": 500}]}', encoding="utf-8")
    assert main(["analyze", str(path), "--labels", str(labels)]) == 3
    assert "labels.end_s, row 1" in capsys.readouterr().err
