"""Slow drift against published slopes, and a slope that wild readings do not bend."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats.dependence import lag1
from benchtui.stats.trend import MOST, line, theil_sen

from . import nist

UNITS = [(1.0, 1.0, 0.0), (1000.0, 1.0, 0.0), (1 / 3600, 1.0, 250.0), (1.0, -1000.0, 0.0)]


def resistor() -> np.ndarray:
    """DZIUBA1: the fourth column."""
    return np.loadtxt(nist.DATA / "DZIUBA1.DAT", skiprows=25)[:, 3]


def junction() -> np.ndarray:
    """SOULEN: 700 counts, five a line."""
    lines = (nist.DATA / "SOULEN.DAT").read_text().splitlines()[25:]
    return np.array(" ".join(lines).split(), dtype=float)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_drift_of_a_resistor(x_unit: float, y_unit: float, zero: float) -> None:
    """DZIUBA1: slope 2.0967e-4, sd 2.092e-6, t 100.2, residual sd .01909796. NIST e-Handbook 1.4.2.7.3."""
    found = line(np.arange(1.0, 1001.0) * x_unit, resistor() * y_unit + zero)
    rate = y_unit / x_unit
    assert found.slope / rate == pytest.approx(2.0967e-4, abs=5e-9)
    assert found.sd / abs(rate) == pytest.approx(2.092e-6, abs=5e-10)
    assert abs(found.t) == pytest.approx(100.2, abs=0.05)
    assert found.spread / abs(y_unit) == pytest.approx(0.01909796, abs=5e-9)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_the_resistor_overstates_its_t(x_unit: float, y_unit: float, zero: float) -> None:
    """Lag-1 autocorrelation .972 of the readings (e-Handbook), .73 about the line: t more than halves."""
    assert lag1(resistor() * y_unit + zero) == pytest.approx(0.972, abs=5e-4)
    found = line(np.arange(1.0, 1001.0) * x_unit, resistor() * y_unit + zero)
    assert found.lag1 == pytest.approx(0.731, abs=5e-4)
    assert abs(found.corrected_t) < 0.5 * abs(found.t)
    assert found.p < 1e-12, "it drifts all the same"
    low, high = found.interval()
    assert low < found.slope < high
    assert found.slope - low == pytest.approx(1.96 * found.corrected_sd, rel=0.02)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_tiny_drift_in_counts(x_unit: float, y_unit: float, zero: float) -> None:
    """SOULEN: mean 2898.5614286, sd 1.3049694, slope .00107075, t 4.445. e-Handbook 1.4.2.4 (memory)."""
    counts = junction() * y_unit + zero
    found = line(np.arange(1.0, 701.0) * x_unit, counts)
    assert (found.level - zero) / y_unit == pytest.approx(2898.5614286, abs=5e-7)
    assert np.std(counts, ddof=1) / abs(y_unit) == pytest.approx(1.3049694, abs=5e-8)
    assert found.slope * x_unit / y_unit == pytest.approx(0.00107075, abs=5e-9)
    assert abs(found.t) == pytest.approx(4.445, abs=5e-4)


def test_drift_is_not_invented_where_readings_are_alike() -> None:
    """Level noise with autocorrelation .6: the plain t says drift in over 25 %, the corrected p in at most
    9 %.
    """
    rng = np.random.default_rng(21)
    plain = corrected = 0
    for _ in range(400):
        noise = rng.normal(size=300)
        for k in range(1, 300):
            noise[k] += 0.6 * noise[k - 1]
        found = line(np.arange(300.0), noise)
        plain += abs(found.t) > 1.97
        corrected += found.p < 0.05
    assert plain > 100
    assert corrected <= 36


def test_the_line_agrees_with_an_outside_library() -> None:
    """Slope and sd are scipy's linregress; the p-value too where residuals are not alike."""
    t = np.sort(np.random.default_rng(0).uniform(0.0, 9.0, size=40))
    y = 0.2 * t + np.random.default_rng(4).normal(size=40)
    ours, theirs = line(t, y), outside.linregress(t, y)
    assert (ours.slope, ours.sd) == pytest.approx((theirs.slope, theirs.stderr), rel=1e-12)
    assert ours.value(0.0) == pytest.approx(theirs.intercept, rel=1e-9)
    if ours.lag1 <= 0.0:
        assert ours.p == pytest.approx(theirs.pvalue, rel=1e-9)


def test_a_repeated_reading_has_no_drift_and_no_certainty_beyond_its_digit() -> None:
    """A quiet 150.0 V: slope 0, and an sd that comes from the last digit."""
    found = line(np.arange(100.0), np.full(100, 150.0), resolution=0.1)
    assert (found.slope, found.t, found.p) == (0.0, 0.0, 1.0)
    assert found.sd == pytest.approx(0.1 / math.sqrt(12.0) / math.sqrt(100 * (100**2 - 1) / 12), rel=0.02)
    assert line(np.arange(3.0), np.zeros(3)).p == 1.0


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(-20, 20), min_size=3, max_size=40), st.integers(0, 999), st.booleans())
def test_robust_slope_agrees_with_an_outside_library(steps: list[int], seed: int, even: bool) -> None:
    """Slope and interval are scipy's theilslopes, ties included."""
    y = np.array(steps, dtype=float)
    t = np.arange(len(y)) * 0.5 if even else np.sort(np.random.default_rng(seed).uniform(size=len(y)))
    ours = theil_sen(t, y)
    theirs = outside.theilslopes(y, t, alpha=0.95)
    assert ours.slope == pytest.approx(theirs.slope, rel=1e-9, abs=1e-12)
    if math.isfinite(ours.low) and math.isfinite(ours.high):
        assert (ours.low, ours.high) == pytest.approx(
            (theirs.low_slope, theirs.high_slope), rel=1e-9, abs=1e-12
        )


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_wild_readings_do_not_bend_the_slope(x_unit: float, y_unit: float, zero: float) -> None:
    """With a fifth of the resistor's readings ten times too high the robust slope moves by less than 10 %."""
    clean = resistor()
    wild = clean.copy()
    wild[np.random.default_rng(1).choice(1000, 200, replace=False)] *= 10.0
    t = np.arange(1.0, 1001.0) * x_unit
    rate = y_unit / x_unit
    found = theil_sen(t, wild * y_unit + zero, likeness=0.73)
    assert found.slope / rate == pytest.approx(2.0967e-4, rel=0.1)
    bounds = sorted((found.low / rate, found.high / rate))
    assert bounds[0] < found.slope / rate < bounds[1]
    independent = theil_sen(t, wild * y_unit + zero)
    assert found.high - found.low > 1.5 * (independent.high - independent.low)


def test_nonsense_is_refused() -> None:
    """Too few, too many, or readings of one time: errors, not slopes."""
    with pytest.raises(ValueError, match="3 readings"):
        line(np.arange(2.0), np.arange(2.0))
    for f in (line, theil_sen):
        with pytest.raises(ValueError, match="one time"):
            f(np.ones(5), np.arange(5.0))
    with pytest.raises(ValueError, match="at most"):
        theil_sen(np.arange(MOST + 1.0), np.arange(MOST + 1.0))
