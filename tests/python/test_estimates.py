"""Estimates among themselves and with plain numbers: order, arithmetic, text."""

from __future__ import annotations

import math
import operator
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

import pourline
from pourline import Estimate


def test_estimates_are_ordered_by_value_also_against_numbers() -> None:
    low, high = Estimate(1.0, 5.0), Estimate(2.0, 0.1)
    assert low < high > 1.5 >= low
    assert high <= 2 <= high
    assert not high > 3
    assert np.float64(1.5) > low
    assert sorted([high, low]) == [low, high]
    assert max([low, high], default=low) is high
    assert (Estimate(1.0, 0.5) < Estimate(1.0, 0.1)) is (Estimate(1.0, 0.5) > Estimate(1.0, 0.1)) is False


def test_an_exact_estimate_equals_its_number_and_no_other_does() -> None:
    assert Estimate(1) == 1.0 == Estimate(1.0)
    assert hash(Estimate(1)) == hash(1)
    assert Estimate(1.0, 0.1) != 1.0
    assert Estimate(1.0) != "1.0"


def test_arithmetic_with_a_number_is_that_of_a_linear_function() -> None:
    # JCGM 100:2008, 5.1.3: the sd of a + b x is |b| times that of x. The products are exact in binary.
    e: Any = Estimate(60.0, 0.25)
    cases = {
        e + 1: (61.0, 0.25),
        1 + e: (61.0, 0.25),
        e - 1: (59.0, 0.25),
        100 - e: (40.0, 0.25),
        e * 2: (120.0, 0.5),
        -2 * e: (-120.0, 0.5),
        e / 4: (15.0, 0.0625),
        e / -4: (-15.0, 0.0625),
        -e: (-60.0, 0.25),
        +e: (60.0, 0.25),
        abs(-e): (60.0, 0.25),
        e * np.float64(2): (120.0, 0.5),
        np.float64(2) * e: (120.0, 0.5),
        np.int64(2) + e: (62.0, 0.25),
        e * Fraction(1, 2): (30.0, 0.125),
        e * True: (60.0, 0.25),
    }
    for found, (value, sd) in cases.items():
        assert isinstance(found, Estimate)
        assert (found.value, found.sd) == (value, sd)


def test_rounding_is_that_of_a_float_and_keeps_the_sd() -> None:
    for digits in (None, 0, 1, 2, -1):
        found = round(Estimate(44.6789, 0.0123), digits)
        assert (found.value, found.sd) == (round(44.6789, digits or 0), 0.0123)


TWO = [operator.add, operator.sub, operator.mul, operator.truediv]


@pytest.mark.parametrize("operation", TWO)
def test_two_estimates_are_not_combined_and_the_reason_is_the_scale(operation: Callable[[Any, Any], Any]) -> None:
    with pytest.raises(TypeError, match=r"share the scale.*\.value"):
        operation(Estimate(1, 0.1), Estimate(2, 0.1))


@pytest.mark.parametrize("operation", TWO)
@pytest.mark.parametrize("other", ["1", None, [1.0], pourline.Undefined("no dose")])
def test_what_is_no_number_is_refused(operation: Callable[[Any, Any], Any], other: object) -> None:
    with pytest.raises(TypeError):
        operation(Estimate(1, 0.1), other)
    with pytest.raises(TypeError):
        operation(other, Estimate(1, 0.1))


def test_results_stay_finite() -> None:
    with pytest.raises(ZeroDivisionError):
        Estimate(1, 0.1) / 0
    for other in (math.inf, math.nan):
        with pytest.raises(pourline.PourlineError):
            Estimate(1, 0.1) * other


@pytest.mark.parametrize(
    ("estimate", "spec", "text"),
    [
        (Estimate(60.0234, 0.112), ".1f", "60.0 ± 0.1"),
        (Estimate(60.0234, 0.0234), ".1f", "60.0 ± 0.02"),
        (Estimate(60.0234, 0.0234), ".0f", "60 ± 0.02"),
        (Estimate(60.0234, 2e-7), ".2f", "60.02 ± 2e-07"),
        (Estimate(0.2508, 0.0002), ".1%", "25.1% ± 0.02%"),
        (Estimate(60.0234), ".1f", "60.0"),
        (Estimate(60.0234, 0.0234), ".2e", "6.00e+01 ± 2.34e-02"),
    ],
)
def test_no_format_shows_an_sd_of_zero(estimate: Estimate, spec: str, text: str) -> None:
    assert f"{estimate:{spec}}" == text


@pytest.mark.parametrize(
    ("estimate", "text"),
    [
        (Estimate(43.98231234, 0.02349234), "Estimate(43.982, sd=0.023)"),
        (Estimate(61.5, 0.05), "Estimate(61.5, sd=0.05)"),
        (Estimate(1234.5, 120.0), "Estimate(1234.0, sd=120.0)"),
        (Estimate(1.0, 1e-12), "Estimate(1.0, sd=1e-12)"),
        (Estimate(1 / 3), "Estimate(0.3333333333333333, sd=0.0)"),
    ],
)
def test_the_repr_has_the_digits_that_the_sd_supports(estimate: Estimate, text: str) -> None:
    assert repr(estimate) == text
