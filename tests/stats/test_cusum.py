"""CUSUM and EWMA evaluated: a published example, the definition, any cut."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats import cusum, ewma

HANDBOOK = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15,
    328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
]  # fmt: skip
"""NIST/SEMATECH e-Handbook 6.3.2.3."""
blocks = st.lists(st.lists(st.floats(-30.0, 30.0), max_size=40), min_size=1, max_size=12)


@pytest.mark.parametrize(("a", "b"), [(1.0, 0.0), (1000.0, 0.0), (1.0, 250.0), (-1.0, 650.0)])
def test_handbook_example(a: float, b: float) -> None:
    """Target 325, k .3175, h 4.1959: alarm at the 14th, sums as printed. NIST e-Handbook 6.3.2.3."""
    readings = a * np.array(HANDBOOK) + b
    course = cusum.run((readings - (a * 325.0 + b)) / abs(a), 0.3175)
    rising = course.high if a > 0 else course.low
    assert cusum.first_alarm(course, 4.1959) == 13
    printed = [3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
    assert rising[12:] == pytest.approx(printed, abs=1e-9)
    assert (course.high_age if a > 0 else course.low_age)[13] == 2, "the change began with the 13th"


def by_definition(values: list[float], k: float) -> list[tuple[float, float]]:
    """The two sums as the textbook writes them."""
    high = low = 0.0
    sums = []
    for value in values:
        high, low = max(0.0, high + value - k), max(0.0, low - value - k)
        sums.append((high, low))
    return sums


@settings(max_examples=200, deadline=None)
@given(blocks, st.floats(0.0, 3.0))
def test_any_cut_gives_the_same_sums(parts: list[list[float]], k: float) -> None:
    """Block by block, reading by reading or in one go: identical to the last digit, and as defined."""
    whole = np.array(list(itertools.chain(*parts)))
    once = cusum.run(whole, k)
    state, high, low, ages = cusum.Cusum(), [], [], []
    for part in parts:
        course = cusum.run(np.array(part), k, state)
        state = course.end
        high += list(course.high)
        low += list(course.low)
        ages += list(zip(course.high_age, course.low_age, strict=True))
    assert high == list(once.high)
    assert low == list(once.low)
    assert ages == list(zip(once.high_age, once.low_age, strict=True))
    assert state == once.end
    expected = np.array(by_definition(list(whole), k)).reshape(-1, 2)
    assert np.allclose(once.high, expected[:, 0], rtol=0.0, atol=1e-7)
    assert np.allclose(once.low, expected[:, 1], rtol=0.0, atol=1e-7)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.integers(0, 20000), min_size=1, max_size=6), st.integers(0, 99))
def test_long_blocks_are_cut_alike(cuts: list[int], seed: int) -> None:
    """The same beyond the length in which numpy works through a block, with a lasting shift of 3,000 sd in
    it.
    """
    values = np.random.default_rng(seed).normal(size=20000)
    values[7000:9000] += 3000.0
    once = cusum.run(values, 0.5)
    state, high = cusum.Cusum(), []
    for part in np.split(values, sorted(cuts)):
        course = cusum.run(part, 0.5, state)
        state = course.end
        high.append(course.high)
    assert (np.concatenate(high) == once.high).all()
    assert state == once.end


def test_an_endless_excursion_neither_overflows_nor_turns() -> None:
    """Readings off by more than the clip for two million readings: the sum stops at its cap, then falls
    again.
    """
    state = cusum.Cusum()
    for _ in range(32):
        state = cusum.run(np.full(65536, 1e9), 0.5, state).end
    assert state.high * cusum.STEP == 2.0**25
    assert state.low == 0
    assert state.high_age == 32 * 65536
    after = cusum.run(np.array([-1e9]), 0.5, state)
    assert after.high[0] == 2.0**25 - cusum.CLIP - 0.5
    assert after.low[0] == cusum.CLIP - 0.5


def test_nothing_in_nothing_out() -> None:
    """An empty block leaves the state as it was, and nothing alarms."""
    state = cusum.Cusum(5, 7, 1, 2)
    course = cusum.run(np.array([]), 0.5, state)
    assert course.end == state
    assert cusum.first_alarm(course, 1.0) is None


def test_a_head_start_alarms_sooner() -> None:
    """From h/2 the same shift crosses h earlier: Lucas and Crosier's fast initial response."""
    shifted = np.full(30, 1.5)
    plain, quick = (cusum.run(shifted, 0.5, s) for s in (None, cusum.Cusum.head_start(4.0)))
    assert cusum.first_alarm(plain, 4.0) == 4
    assert cusum.first_alarm(quick, 4.0) == 2


EWMA_READINGS = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
    52.4, 53.6, 52.1,
]  # fmt: skip
EWMA_PRINTED = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
    49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip
"""NIST/SEMATECH e-Handbook 6.3.2.4 (memory; they agree with each other)."""


@pytest.mark.parametrize(("a", "b"), [(1.0, 0.0), (1000.0, 0.0), (-1.0, 250.0)])
def test_ewma_handbook_example(a: float, b: float) -> None:
    """Weight .3, start 50, sd 2.0539: averages and limits 47.4115..52.5884 as printed. e-Handbook 6.3.2.4
    (memory).
    """
    readings = a * np.array(EWMA_READINGS) + b
    got = (ewma.run(readings, 0.3, before=a * 50.0 + b) - b) / a
    assert got == pytest.approx(EWMA_PRINTED, abs=0.0051)
    assert 50.0 + ewma.limit(3.0, 0.3) * 2.0539 == pytest.approx(52.5884, abs=2e-4)


@settings(max_examples=200, deadline=None)
@given(blocks, st.floats(0.001, 1.0))
def test_any_cut_gives_the_same_average(parts: list[list[float]], weight: float) -> None:
    """Block by block the averages are identical to those in one go."""
    before, course = 0.0, []
    for part in parts:
        block = ewma.run(np.array(part), weight, before)
        before = float(block[-1]) if len(block) else before
        course += list(block)
    assert course == list(ewma.run(np.array(list(itertools.chain(*parts))), weight))


def test_ewma_limits_open() -> None:
    """The sd of the average after n readings is that of its weights; after one reading it is the weight
    itself.
    """
    assert ewma.limit(1.0, 0.2, readings=1) == pytest.approx(0.2)
    weights = 0.2 * 0.8 ** np.arange(7)
    assert ewma.limit(1.0, 0.2, readings=7) == pytest.approx(math.sqrt(float(np.sum(weights**2))))
    with pytest.raises(ValueError, match="weight"):
        ewma.run(np.array([1.0]), 0.0)
