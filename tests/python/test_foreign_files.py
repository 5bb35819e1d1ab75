"""Files as other people write them: one brew of 45, 100 and 105 g at 6 g/s, by arithmetic, in many forms."""

from __future__ import annotations

import numpy as np
import pytest

import pourline

TIME_S = np.round(np.arange(0, 130, 0.2), 1)
WATER_G = np.round(np.interp(TIME_S, [5, 12.5, 40, 40 + 100 / 6, 80, 97.5], [0, 45, 45, 145, 145, 250]), 1)
SAMPLES = list(zip(TIME_S.tolist(), WATER_G.tolist(), strict=True))


def text(head: str, row: str, comma: bool = False) -> bytes:
    lines = [row.format(t=t, g=g, ms=round(t * 1000), kg=g / 1000, min=t / 60) for t, g in SAMPLES]
    body = "\n".join(lines)
    return (head + (body.replace(".", ",") if comma else body) + "\n").encode()


READ = {
    "slash": text("t/s,m/g\n", "{t},{g}"),
    "russian": text("Время, с;Масса, г\n", "{t};{g}", comma=True),
    "units in cells": text("Elapsed Time,Scale Reading\n", "{t}s,{g}g"),
    "percent comments": text("% Lantern Yard\n% t/s m/g\n", "{t} {g}"),
    "scale in german": text("Zeit (ms);Waage (g)\n", "{ms};{g}", comma=True),
}


@pytest.mark.parametrize("form", sorted(READ))
def test_a_file_in_a_form_of_other_people_is_the_same_log(form: str) -> None:
    log = pourline.read(READ[form])
    assert log.water_g is not None
    np.testing.assert_allclose(log.time_s, TIME_S, atol=1e-9)
    np.testing.assert_allclose(log.water_g, WATER_G, atol=1e-9)


def test_samples_below_a_key_of_an_object_are_read_with_its_metadata() -> None:
    rows = ",".join(f'{{"t_ms": {round(t * 1000)}, "weight_g": {g}}}' for t, g in SAMPLES)
    log = pourline.read(f'{{"dose_g": 15, "kettle": "Fernspout", "samples": [{rows}]}}'.encode())
    assert (log.meta.dose_g, log.meta.kettle, len(log)) == (15.0, "Fernspout", len(SAMPLES))
    np.testing.assert_allclose(log.time_s, TIME_S, atol=1e-9)
    with pytest.raises(pourline.PourlineError, match="no time"):
        pourline.read(f'{{"one": [{rows}], "other": [{rows}]}}'.encode())


def test_a_column_that_is_the_time_is_not_offered_as_the_water() -> None:
    with pytest.raises(pourline.PourlineError, match=r'perhaps water="2".*mass_unit="kg"'):
        pourline.read(text("seconds,kg\n", "{t},{kg:.4f}"))


@pytest.mark.parametrize("head", ["time_s,weight_g\n", "book of the Lantern Yard\ntime_s,weight_g\n"])
def test_time_that_starts_again_is_two_logs(head: str) -> None:
    rows = text("", "{t},{g}").decode()
    row = 1 + len(SAMPLES)
    with pytest.raises(pourline.PourlineError, match=f"row {row}: time starts again .*two logs.*split the file"):
        pourline.read((head + rows + rows).encode())
    # A clock set back within a brew is no second log.
    back = "".join(f"{t - (60 if t > 90 else 0):.1f},{g}\n" for t, g in SAMPLES)
    assert len(pourline.read(f"time_s,weight_g\n{back}".encode())) == len(SAMPLES)


def test_a_log_upside_down_is_told_as_such() -> None:
    rows = reversed(text("", "{t},{g}").decode().splitlines())
    with pytest.raises(pourline.PourlineError, match="upside down, sort its rows by time"):
        pourline.read(("time_s,weight_g\n" + "\n".join(rows)).encode())


@pytest.mark.parametrize(
    ("head", "row", "said"),
    [
        ("time_min,weight_g\n", "{t},{g}", "the stamps are in seconds, not in minutes"),
        ("time_ms,weight_g\n", "{t},{g}", "the stamps are in seconds, not in milliseconds"),
        ("time_s,weight_g\n", "{ms},{g}", 'time_unit="ms"'),
        ("time_s,weight_kg\n", "{t},{g}", "in grams and not in kilograms"),
        ("time_s,weight_g\n", "{t},{kg:.4f}", 'mass_unit="kg"'),
        ("time_s,server_g\n", "{t},{g}", "the weight of the beverage alone"),
    ],
)
def test_a_log_without_pours_says_what_it_looks_like(head: str, row: str, said: str) -> None:
    brew = pourline.analyze(pourline.read(text(head, row)))
    assert len(brew) == 0
    assert said in brew.warnings[0]
