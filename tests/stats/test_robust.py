"""How noisy is it: consistency, breakdown, quantisation, invariance."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats import robust

ESTIMATES = [
    robust.mad,
    robust.successive,
    lambda x, r: robust.successive(x, r, order=2),
    robust.von_neumann,
]
counts = st.lists(st.integers(-2000, 2000), min_size=1, max_size=60)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6, 7, 8, 9, 10, 20, 100])
def test_small_sample_factors(n: int) -> None:
    """Rows of n normal readings have the right sd in the mean (factors: Croux and Rousseeuw 1992)."""
    rows = np.random.default_rng(n).normal(size=(40000, n))
    assert robust.mad(rows, 1e-12).mean() == pytest.approx(1.0, abs=0.02)


def test_mad_agrees_with_an_outside_library() -> None:
    """But for the small-sample factor the answer is scipy's median_abs_deviation(scale="normal")."""
    for seed, n in enumerate((11, 32, 101)):
        rows = np.random.default_rng(seed).standard_t(3, size=(50, n))
        theirs = outside.median_abs_deviation(rows, axis=-1, scale="normal") * n / (n - 0.8)
        assert robust.mad(rows, 1e-12) == pytest.approx(theirs, rel=1e-6)


@settings(max_examples=200, deadline=None)
@given(counts, st.sampled_from([0.001, 0.1, 1.0, 0.5]), st.floats(-300.0, 300.0))
def test_quantised_readings_are_never_quiet(steps: list[int], resolution: float, level: float) -> None:
    """No estimate falls below resolution / sqrt(12); a reading that repeats gives just that."""
    values = np.array(steps) * resolution + level
    for estimate in ESTIMATES:
        assert estimate(values, resolution) >= resolution / np.sqrt(12.0) * (1.0 - 1e-12)
        assert estimate(np.full(9, level), resolution) == pytest.approx(resolution / np.sqrt(12.0))
        assert estimate(values, 0.0) > 0.0


@pytest.mark.parametrize("sd", [0.3, 0.5, 0.7, 1.0, 1.5, 3.0])
def test_rounded_readings_show_noise_and_rounding(sd: float) -> None:
    """Noise of a few tenths of a count and more is seen as sqrt(sd**2 + 1/12) (Sheppard) within 25 % in the
    mean.
    """
    rng = np.random.default_rng(3)
    rows = np.round(rng.uniform(size=(2000, 1)) + sd * rng.normal(size=(2000, 64)))
    total = np.sqrt(sd * sd + 1.0 / 12.0)
    for estimate in ESTIMATES:
        assert estimate(rows, 1.0).mean() / total == pytest.approx(1.0, abs=0.25 if sd < 0.7 else 0.1)


def test_half_the_readings_may_be_wild() -> None:
    """45 % readings of a slipped decimal point leave the sd within a factor of 4; the plain sd is out by
    1,000.
    """
    rng = np.random.default_rng(5)
    values = 285.0 + rng.normal(size=400)
    values[rng.choice(400, 180, replace=False)] = 2850.0
    assert 0.8 < robust.mad(values, 0.01) < 4.0
    assert np.std(values) > 1000.0


def test_one_wild_reading_and_one_step_hardly_count() -> None:
    """A spike and a level change in 64 readings change the difference estimates by less than 15 %."""
    quiet = np.random.default_rng(6).normal(size=64)
    moved = quiet.copy()
    moved[40:] += 100.0
    moved[7] = -500.0
    for order in (1, 2):
        before, after = (robust.successive(v, 1e-9, order=order) for v in (quiet, moved))
        assert after == pytest.approx(before, rel=0.15)


def test_differences_forgive_a_course() -> None:
    """First differences hardly see a slope; second ones see no slope at all, and hardly a curve."""
    t = np.arange(200.0)
    noise = np.random.default_rng(8).normal(size=200)
    for order, course in ((1, 0.3 * t), (2, 50.0 * t), (2, 50.0 * t - 0.1 * t * t)):
        with_course = robust.successive(noise + course, 1e-9, order=order)
        assert with_course == pytest.approx(robust.successive(noise, 1e-9, order=order), rel=0.1)
    assert robust.mad(noise + 0.3 * t, 1e-9) > 10.0


@settings(max_examples=200, deadline=None)
@given(counts, st.sampled_from([-4, -1, 2, 1024]), st.integers(-(10**6), 10**6))
def test_volts_or_millivolts(steps: list[int], scale: int, shift: int) -> None:
    """y -> a*y + b with the resolution scaled by |a| scales every estimate by |a| exactly."""
    values = np.array(steps, dtype=float)
    for estimate in ESTIMATES:
        moved = estimate(values * scale + shift, float(abs(scale)))
        assert moved == pytest.approx(abs(scale) * estimate(values, 1.0), rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(-50, 50), min_size=24, max_size=24), st.sampled_from([1, 2, 3, 4, 6]))
def test_rows_are_independent(steps: list[int], rows: int) -> None:
    """A block of rows gives what each row gives alone, also with a resolution for each."""
    block = np.array(steps, dtype=float).reshape(rows, -1)
    resolution = 1.0 + np.arange(rows) % 2
    for estimate in ESTIMATES:
        together = estimate(block, resolution)
        assert together.shape == (rows,)
        assert list(together) == [float(estimate(row, r)) for row, r in zip(block, resolution, strict=True)]


def test_the_resolution_is_found_from_the_readings() -> None:
    """Readings in steps of 0.1 show a resolution of 0.1, binary dust between equal readings is none."""
    readings = np.array([150.0, 150.1, 149.9, 150.3, 0.1 + 149.9])
    assert robust.infer_resolution(readings) == pytest.approx(0.1, rel=1e-9)
    assert robust.infer_resolution(np.array([285.0, 285.0])) == np.spacing(285.0)


def test_neighbours_that_are_alike_show() -> None:
    """The ratio is near 2 for independent readings (von Neumann 1941), low for averaged, high for
    alternating ones.
    """
    rng = np.random.default_rng(12)
    rows = rng.normal(size=(4000, 50))
    ratio = robust.von_neumann_ratio(rows)
    assert ratio.mean() == pytest.approx(2.0, abs=0.02)
    assert ratio.std() == pytest.approx(2.0 * np.sqrt(48.0 / 2499.0), rel=0.05)
    averaged = np.apply_along_axis(lambda v: np.convolve(v, np.ones(5) / 5, "valid"), -1, rows)
    assert robust.von_neumann_ratio(averaged).mean() < 0.6
    assert robust.von_neumann_ratio(np.array([1.0, -1.0] * 10)) > 3.5


def test_rows_too_short_for_differences_get_the_floor() -> None:
    """One or two readings say nothing of the noise beyond the rounding."""
    assert robust.successive(np.array([5.0]), 0.1) == pytest.approx(0.1 / np.sqrt(12.0))
    assert robust.successive(np.array([5.0, 9.0]), 0.1, order=2) == pytest.approx(0.1 / np.sqrt(12.0))
    assert robust.von_neumann(np.array([5.0]), 0.1) == pytest.approx(0.1 / np.sqrt(12.0))
    with pytest.raises(ValueError, match="order"):
        robust.successive(np.array([5.0, 9.0]), 0.1, order=3)
