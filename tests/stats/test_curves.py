"""Approaches to a level: evaluated and fitted against reference output, continued, chosen."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats.choice import choose
from benchtui.stats.curves import asymptote, fit_approach
from benchtui.stats.dependence import effective, lag1

from . import nist

TIMES = np.array([0.25, 0.5, 0.75, 1, 1.25, 2, 3, 4, 5, 6, 8])
FALLING = np.array([1.5, 0.94, 0.78, 0.48, 0.37, 0.19, 0.12, 0.11, 0.08, 0.07, 0.05])
UNITS = [
    (1.0, 1.0, 0.0),
    (1000.0, 1.0, 0.0),
    (1 / 3600, 1.0, 250.0),
    (1.0, -1000.0, 0.0),
    (3.6e6, 0.001, 250.0),
]


def warming(n: int, seed: int, *, quick: float = 0.0, noise: float = 0.3) -> tuple[np.ndarray, np.ndarray]:
    """A level of 250 approached from 220 with a time constant of 20, and a quick part of 4."""
    t = np.linspace(0.0, 100.0, n)
    y = 250.0 - 30.0 * np.exp(-t / 20.0) + quick * np.exp(-t / 4.0)
    return t, y + noise * np.random.default_rng(seed).normal(size=n)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_evaluation(x_unit: float, y_unit: float, zero: float) -> None:
    """Asymptote 100, start -8.5, log rate -3.2. Source: R reference output, stats examples, SSasymp."""
    printed = [3.988924, 11.505611, 27.822517, 41.130854, 51.985354, 60.838463]
    times = x_unit * np.array([3.0, 5.0, 10.0, 15.0, 20.0, 25.0])
    final, start = 100.0 * y_unit + zero, -8.5 * y_unit + zero
    got = asymptote(times, final, start, -3.2 - math.log(x_unit))
    assert (got - zero) / y_unit == pytest.approx(printed, abs=5e-7)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_two_exponentials(x_unit: float, y_unit: float, zero: float) -> None:
    """A1 2.0293, l1 .5794, A2 .1915, l2 -1.7878 with ses and residual sd as printed. R reference output,
    SSbiexp.

    `zero`: the times begin elsewhere, and amplitudes are meant where they did.
    """
    found = fit_approach(x_unit * TIMES + zero, y_unit * FALLING, 2, level=False, origin=zero)
    quick, slow = found.terms
    assert (quick.amplitude / y_unit, slow.amplitude / y_unit) == pytest.approx((2.0293, 0.1915), abs=5e-5)
    log_rates = (-math.log(quick.tau / x_unit), -math.log(slow.tau / x_unit))
    assert log_rates == pytest.approx((0.5794, -1.7878), abs=5.1e-5)
    sds = (
        quick.amplitude_sd / abs(y_unit),
        quick.log_tau_sd,
        slow.amplitude_sd / abs(y_unit),
        slow.log_tau_sd,
    )
    assert sds == pytest.approx((0.1099, 0.1247, 0.1106, 0.7871), abs=5.1e-5)
    assert found.spread / abs(y_unit) == pytest.approx(0.04103, abs=5e-6)
    assert slow.p == pytest.approx(0.127, abs=5e-4)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_no_confident_second_time_constant(x_unit: float, y_unit: float, zero: float) -> None:
    """In the same readings A2 is not significant: one time constant is chosen. R reference, SSbiexp."""
    choice = choose(x_unit * TIMES, y_unit * FALLING, level=False, origin=0.0)
    assert choice.chosen is not None
    assert len(choice.chosen.terms) == 1
    assert choice.tried[-1].worst_p == pytest.approx(0.127, abs=5e-4)
    moved = choose(x_unit * TIMES, y_unit * FALLING + zero)
    assert moved.chosen is not None
    plain = choose(TIMES, FALLING).chosen
    assert plain is not None
    assert len(moved.chosen.terms) == len(plain.terms)
    assert moved.chosen.level == pytest.approx(y_unit * plain.level + zero, abs=1e-6 * abs(y_unit) + 1e-9)


@pytest.mark.parametrize(("x_unit", "y_unit", "zero"), UNITS)
def test_monomolecular_adsorption(x_unit: float, y_unit: float, zero: float) -> None:
    """Misra1a without a start: found as an approach to a level from 0, b 238.94, 5.5e-4. NIST StRD.

    The certified model starts at 0 with nothing free there; ours is free, so the sum of squares is less and
    the level within two of its sds.
    """
    case = nist.read("Misra1a")
    found = fit_approach(case.x * x_unit, case.y * y_unit + zero, 1, origin=0.0)
    assert found.rss / y_unit**2 < case.rss
    assert abs(found.level - zero - y_unit * case.values[0]) < 3.0 * found.level_sd
    plain = fit_approach(case.x, case.y, 1, origin=0.0)
    assert found.level == pytest.approx(y_unit * plain.level + zero, rel=1e-7)
    assert found.level_sd == pytest.approx(abs(y_unit) * plain.level_sd, rel=1e-5)
    assert found.terms[0].tau == pytest.approx(x_unit * plain.terms[0].tau, rel=1e-6)
    assert found.settles(0.02 * abs(y_unit)) == pytest.approx(x_unit * plain.settles(0.02), rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(
    st.integers(0, 10**6), st.floats(-300.0, 300.0), st.floats(1.0, 100.0), st.floats(3.0, 40.0),
    st.sampled_from([1e-3, 1.0, 3600.0]),
)  # fmt: skip
def test_exact_courses_are_found(seed: int, level: float, amplitude: float, tau: float, unit: float) -> None:
    """Without noise, level, amplitude and time constant come back, at uneven times and in any unit."""
    t = np.sort(np.random.default_rng(seed).uniform(0.0, 100.0, size=40)) * unit
    found = fit_approach(t, level - amplitude * np.exp(-t / (tau * unit)), 1, origin=0.0)
    assert found.level == pytest.approx(level, abs=1e-6 * amplitude)
    assert found.terms[0].amplitude == pytest.approx(-amplitude, rel=1e-6)
    assert found.terms[0].tau == pytest.approx(tau * unit, rel=1e-6)


def test_a_second_time_constant_is_seen_where_it_is() -> None:
    """An overshooting course of two parts is told as two, with both time constants, in 40 of 40 noises."""
    for seed in range(40):
        chosen = choose(*warming(60, seed, quick=10.0)).chosen
        assert chosen is not None
        assert [m.tau for m in chosen.terms] == pytest.approx([4.0, 20.0], rel=0.5)


def test_a_second_time_constant_is_not_invented() -> None:
    """One part alone is told as two in at most 3 of 80 noises."""
    chosen = [choose(*warming(n, seed)).chosen for n in (15, 60) for seed in range(40)]
    assert sum(c is not None and len(c.terms) > 1 for c in chosen) <= 3
    assert sum(c is not None and len(c.terms) == 1 for c in chosen) >= 77


def test_the_level_lies_in_its_interval() -> None:
    """The 95 % interval of the level holds in 88 to 99 of 100 noises."""
    held = 0
    for seed in range(100):
        low, high = fit_approach(*warming(60, seed), 1).level_interval()
        held += low <= 250.0 <= high
    assert 88 <= held <= 99


def test_a_meter_that_averages_does_not_narrow_the_interval() -> None:
    """Readings averaged over 5 still hold the level in at least 85 of 100, for the interval is widened."""
    held = 0
    for seed in range(100):
        t, y = warming(154, seed)
        averaged = np.convolve(y - 250.0 + 30.0 * np.exp(-t / 20.0), np.ones(5) / 5.0, "valid")
        t = t[4:]
        low, high = fit_approach(t, 250.0 - 30.0 * np.exp(-t / 20.0) + averaged, 1).level_interval()
        held += low <= 250.0 <= high
    assert held >= 85


def test_a_course_that_has_hardly_begun_is_undetermined() -> None:
    """The first fifth of a time constant, as noisy as a meter, does not determine where it will end."""
    t, y = warming(400, 1, noise=0.3)
    early = t < 4.0
    found = fit_approach(t[early], y[early], 1)
    low, high = found.level_interval()
    assert not found.determined or high - low > 20.0


def test_a_flat_course_needs_no_time_constant() -> None:
    """A repeated reading, and noise alone, are a level and nothing else."""
    flat = choose(np.arange(30.0), np.full(30, 150.0), resolution=0.1).chosen
    assert flat is not None
    assert (flat.terms, flat.level) == ((), 150.0)
    assert flat.level_sd > 0.0
    noisy = choose(np.arange(50.0), np.random.default_rng(4).normal(size=50)).chosen
    assert noisy is not None
    assert noisy.terms == ()


def test_settling_time_of_an_overshoot() -> None:
    """The time to settle is the last one outside the band, past where the curve crosses its level."""
    t = np.linspace(0.0, 100.0, 400)
    course = 250.0 + 40.0 * np.exp(-t / 20.0) - 90.0 * np.exp(-t / 5.0)
    found = fit_approach(t, course, 2)
    grid = np.linspace(0.0, 200.0, 200001)
    away = np.abs(40.0 * np.exp(-grid / 20.0) - 90.0 * np.exp(-grid / 5.0))
    for band in (0.5, 5.0, 12.0, 30.0):
        assert found.settles(band) == pytest.approx(grid[away > band][-1], abs=0.01)
    assert found.settles(200.0) == 0.0


def test_the_curve_continues() -> None:
    """Value and its sd beyond the readings: the sd grows from that within to that of the level."""
    found = fit_approach(*warming(60, 7), 1)
    assert found.value(1e6) == pytest.approx(found.level)
    assert found.value_sd(1e6) == pytest.approx(found.level_sd, rel=1e-9)
    assert found.value(50.0) == pytest.approx(250.0 - 30.0 * math.exp(-2.5), abs=4.0 * found.value_sd(50.0))
    assert found.value_sd(50.0) < found.value_sd(150.0)


def test_neighbours_that_are_alike_are_worth_fewer() -> None:
    """Of readings with autocorrelation .5 three are worth one; r as defined, and certified by NIST."""
    assert effective(300, 0.5) == pytest.approx(100.0)
    assert effective(300, -0.5) == 300.0
    assert effective(300, 1.0) == 1.0
    assert lag1(np.array([1.0, 2.0, 3.0, 4.0])) == pytest.approx((-1.5 * -0.5 + -0.5 * 0.5 + 0.5 * 1.5) / 5.0)
    assert lag1(np.array([1.0, 1.0, 1.0])) == 0.0
    readings = np.loadtxt(nist.DATA / "NUMACC3.DAT", skiprows=60)
    assert lag1(readings) == pytest.approx(-0.999, abs=1e-6)


def test_too_few_readings_are_refused() -> None:
    """A curve with as many parameters as readings is an error, and so are readings of one moment."""
    with pytest.raises(ValueError, match="readings"):
        fit_approach(np.arange(3.0), np.arange(3.0), 1)
    with pytest.raises(ValueError, match="one time"):
        fit_approach(np.ones(9), np.arange(9.0), 1)
