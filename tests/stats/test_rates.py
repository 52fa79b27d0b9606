"""Faults in time: rates, comparisons and waiting, against published values and scipy."""

from __future__ import annotations

import math

import pytest
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats import rates

HOURS, MINUTES = 1.0, 60.0


@pytest.mark.parametrize("unit", [HOURS, MINUTES, 3.6e12])
def test_rate_and_its_interval(unit: float) -> None:
    """137 events in 24.19893: 5.661407, 95 % 4.753125 to 6.692709. R reference output, poisson.test."""
    exposure = 24.19893 * unit
    assert 137 / exposure * unit == pytest.approx(5.661407, abs=1e-6)
    low, high = rates.rate_interval(137, exposure)
    assert (low * unit, high * unit) == pytest.approx((4.753125, 6.692709), abs=1e-6)


@pytest.mark.parametrize(
    ("confidence", "low", "high"), [(0.90, 17.38, 34.92), (0.95, 16.18, 36.90), (0.99, 14.00, 41.00)]
)
def test_garwood(confidence: float, low: float, high: float) -> None:
    """25 events. Garwood 1936 tables as commonly reprinted."""
    assert rates.count_interval(25, confidence) == pytest.approx((low, high), abs=0.005)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 3000), st.floats(0.5, 0.9999))
def test_intervals_agree_with_scipy(count: int, confidence: float) -> None:
    """Garwood's bounds are chi-square quantiles, here an outside library's."""
    half = 0.5 * (1.0 - confidence)
    low, high = rates.count_interval(count, confidence)
    assert high == pytest.approx(outside.chi2.isf(half, 2 * count + 2) / 2, rel=1e-9)
    assert low == pytest.approx(outside.chi2.ppf(half, 2 * count) / 2 if count else 0.0, rel=1e-9)


@pytest.mark.parametrize(
    ("risk", "factor"), [(0.1, 2.303), (0.05, 2.996), (0.2, 1.609), (0.4, 0.916), (0.5, 0.693)]
)
def test_no_failure(risk: float, factor: float) -> None:
    """T / MTBF shown by no failure in T. NIST/SEMATECH e-Handbook 8.4.5.1."""
    for unit in (HOURS, MINUTES):
        assert rates.rate_upper(0, 7.0 * unit, 1.0 - risk) * 7.0 * unit == pytest.approx(factor, abs=0.0005)


@pytest.mark.parametrize(("count", "factor"), [(1, 19.0), (2, 3.47), (3, 1.71)])
@pytest.mark.parametrize("unit", [HOURS, MINUTES])
def test_clean_time_needed(count: int, factor: float, unit: float) -> None:
    """T (20**(1/n) - 1), and the exact comparison passes 5 % just there. Arithmetic of two Poisson rates."""
    need = rates.clean_time_needed(count, 2.0 * unit)
    assert need / (2.0 * unit) == pytest.approx(factor, abs=0.005)
    assert (
        rates.compare(count, 2.0 * unit, 0, need * 1.001).p
        < 0.05
        < rates.compare(count, 2.0 * unit, 0, need * 0.999).p
    )


def test_more_looks_need_more_time() -> None:
    """Three looks share the 5 %: each is taken at 1.67 %."""
    assert rates.clean_time_needed(2, 1.0, looks=3) == pytest.approx(math.sqrt(60.0) - 1.0)
    assert rates.clean_time_needed(0, 1.0) == math.inf


@pytest.mark.parametrize("unit", [1.0, 60.0])
def test_two_rates(unit: float) -> None:
    """11 in 800 against 21 in 3011: ratio 1.971488, .8584264 to 4.2772659, p .07967. R poisson.test example
    (memory).
    """
    found = rates.compare(21, 3011.0 * unit, 11, 800.0 * unit, "two-sided")
    assert (found.ratio, found.low, found.high) == pytest.approx((1.971488, 0.8584264, 4.2772659), abs=5e-7)
    assert found.p == pytest.approx(0.07967, abs=5e-6)


def test_a_rate_that_fell_and_one_that_did_not() -> None:
    """12 faults in an hour, then 1 in an hour, is told; 2 then 1 is not; sides exchange."""
    assert rates.compare(12, 1.0, 1, 1.0).p == pytest.approx(14 / 2**13)
    assert rates.compare(2, 1.0, 1, 1.0).p == pytest.approx(0.5)
    assert rates.compare(1, 1.0, 12, 1.0, "greater").p == pytest.approx(14 / 2**13)
    nothing = rates.compare(0, 1.0, 0, 5.0)
    assert (nothing.low, nothing.high, nothing.p) == (0.0, math.inf, 1.0)
    assert rates.compare(0, 1.0, 3, 5.0).ratio == math.inf


@pytest.mark.parametrize("expected", [0.3, 2.5, 11.0])
def test_intervals_hold_as_often_as_they_say(expected: float) -> None:
    """For any true rate the chance that the 90 % interval holds is at least 90 %, summed exactly."""
    held = 0.0
    for k in range(80):
        low, high = rates.count_interval(k, 0.90)
        held += outside.poisson.pmf(k, expected) if low <= expected <= high else 0.0
    assert held >= 0.90


def test_nonsense_is_refused() -> None:
    """Negative counts and no exposure are errors."""
    for f in (lambda: rates.rate_interval(-1, 1.0), lambda: rates.rate_upper(1, 0.0),
              lambda: rates.compare(1, 1.0, 1, -1.0)):  # fmt: skip
        with pytest.raises(ValueError, match="exposure"):
            f()
