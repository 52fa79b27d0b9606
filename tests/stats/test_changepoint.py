"""When did the level change: published series, transformed, and noise in which nothing changed."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats.changepoint import level_changes
from benchtui.stats.split import Split, tame

from . import nist

UNITS = [(1.0, 0.0), (1000.0, 0.0), (-0.001, 0.0), (1.0, 250.0), (-3.0, 1e4)]


def series(name: str) -> np.ndarray:
    """One series of the Turing Change Point Dataset."""
    return np.array(json.loads((nist.DATA / f"{name}.json").read_text())["series"][0]["raw"], dtype=float)


def nile() -> np.ndarray:
    """Yearly volumes, 1871 to 1970."""
    return np.loadtxt(nist.DATA / "nile.csv", delimiter=",", skiprows=1)[:, 1]


@pytest.mark.parametrize(("a", "b"), UNITS)
@pytest.mark.parametrize("trend", [False, True])
def test_the_nile(a: float, b: float, trend: bool) -> None:
    """One change, after observation 28 (1898). statsmodels data set; annotations of TCPD."""
    changes = level_changes(a * nile() + b, trend=trend)
    assert [c.index for c in changes] == [28]
    assert changes[0].low <= 28 <= changes[0].high
    if not trend:
        levels = ((changes[0].before - b) / a, (changes[0].after - b) / a)
        assert levels == pytest.approx((1097.75, 849.97), abs=0.005)


@pytest.mark.parametrize(("a", "b"), UNITS)
def test_a_level_change_with_trend(a: float, b: float) -> None:
    """quality_control_1: one change at index 144 to 146 (annotators 143 to 146), the slope is none. TCPD,
    MIT.
    """
    changes = level_changes(a * series("quality_control_1") + b, trend=True)
    assert len(changes) == 1
    assert abs(changes[0].index - 145) <= 5
    assert 143 <= changes[0].index <= 146


@pytest.mark.parametrize(("a", "b"), UNITS)
@pytest.mark.parametrize("trend", [False, True])
def test_a_level_change_and_an_outlier(a: float, b: float, trend: bool) -> None:
    """quality_control_3: one change at index 179; the outlier at 42 is no level change. TCPD, MIT."""
    changes = level_changes(a * series("quality_control_3") + b, trend=trend)
    assert len(changes) == 1
    assert abs(changes[0].index - 179) <= 5


def test_the_outlier_is_drawn_in_and_the_step_is_not() -> None:
    """Of quality_control_3 the reading 42 is drawn in, those around the step at 179 stay as they are."""
    values = series("quality_control_3")
    drawn = np.flatnonzero(tame(values) != values)
    assert 42 in drawn
    assert not set(range(170, 190)) & set(drawn.tolist())


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 10**6), st.integers(40, 200), st.floats(0.2, 0.8), st.floats(4.0, 50.0),
    st.sampled_from([-1, 1]), st.booleans(),
)  # fmt: skip
def test_a_clear_step_is_found_where_it_is(
    seed: int, n: int, part: float, height: float, sign: int, wild: bool
) -> None:
    """A step of 4 sd and more is found within 2 readings, also with a wild reading on either side."""
    rng = np.random.default_rng(seed)
    at = round(part * n)
    values = rng.normal(size=n) + sign * height * (np.arange(n) >= at)
    if wild:
        values[at // 2] += 40.0 * height
        values[(at + n) // 2] -= 40.0 * height
    nearest = min(level_changes(values), key=lambda c: abs(c.index - at))
    assert abs(nearest.index - at) <= 2
    assert nearest.after - nearest.before == pytest.approx(sign * height, abs=2.5)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.booleans())
def test_a_film_run_backwards(seed: int, trend: bool) -> None:
    """Readings in reverse have their changes in reverse, levels exchanged."""
    rng = np.random.default_rng(seed)
    values = rng.normal(size=120)
    values[rng.integers(20, 100) :] += 5.0
    forward = level_changes(values, trend=trend)
    backward = level_changes(values[::-1], trend=trend)[::-1]
    assert [120 - c.index for c in backward] == [c.index for c in forward]
    assert [c.after for c in backward] == pytest.approx([c.before for c in forward], abs=1e-6)


def test_a_level_that_returns_is_two_changes() -> None:
    """Twenty readings 4 sd higher in the middle of 300 are told by their beginning and end."""
    found = 0
    for seed in range(30):
        values = np.random.default_rng(seed).normal(size=300)
        values[140:160] += 4.0
        places = [c.index for c in level_changes(values)]
        found += len(places) == 2 and abs(places[0] - 140) <= 2 and abs(places[1] - 160) <= 2
    assert found >= 28


@pytest.mark.parametrize("trend", [False, True])
def test_noise_has_no_level_changes(trend: bool) -> None:
    """Normal, heavy-tailed, alike and quantised noise: a change in at most 6 % of 150 stretches of 120."""
    rng = np.random.default_rng(11)

    def alike(n: int) -> np.ndarray:
        return np.convolve(rng.normal(size=n + 40), 0.5 ** np.arange(41), "valid")

    for noise in (
        lambda n: rng.normal(size=n),
        lambda n: rng.standard_t(3, size=n),
        alike,
        lambda n: 150.0 + 0.1 * np.round(0.3 * rng.normal(size=n)),
    ):
        assert sum(bool(level_changes(noise(120), trend=trend, resolution=0.1)) for _ in range(150)) <= 9


def test_a_dropout_is_no_level_change() -> None:
    """Three readings at 0 in a level of 240 V are a dropout; ten are a level for a while."""
    values = 240.0 + 0.2 * np.random.default_rng(3).normal(size=100)
    values[50:53] = 0.0
    assert level_changes(values, resolution=0.1) == []
    values[50:60] = 0.0
    assert [c.index for c in level_changes(values, resolution=0.1)] == [50, 60]


def test_a_drift_with_trend_has_no_steps() -> None:
    """A straight slope of 20 sd over the stretch is no change where a slope is allowed."""
    rng = np.random.default_rng(9)
    found = sum(
        bool(level_changes(rng.normal(size=200) + np.linspace(0, 20, 200), trend=True)) for _ in range(100)
    )
    assert found <= 5


def test_what_does_not_move_has_no_change() -> None:
    """A repeated reading, one last digit to and fro, and too few readings: nothing."""
    assert level_changes(np.full(100, 150.0), resolution=0.1) == []
    assert level_changes(np.full(100, 150.0)) == []
    assert level_changes(np.array([150.0, 150.1] * 50), resolution=0.1) == []
    assert level_changes(np.arange(4.0)) == []
    assert level_changes(np.array([])) == []


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(-100.0, 100.0), min_size=8, max_size=40), st.booleans())
def test_splits_explain_what_least_squares_says(values: list[float], trend: bool) -> None:
    """The sum of squares that a step explains is that of a regression with and without it."""
    y = np.array(values)
    n = len(y)
    base = np.column_stack([np.ones(n)] + ([np.arange(n)] if trend else []))
    split = Split(y, trend=trend)
    for place in range(3, n - 2):
        step = np.column_stack((base, np.arange(n) >= place))
        rss = [float(np.sum((y - d @ np.linalg.lstsq(d, y, rcond=None)[0]) ** 2)) for d in (base, step)]
        assert split.total == pytest.approx(rss[0], rel=1e-9, abs=1e-6)
        assert float(split.explained(0, place)) == pytest.approx(rss[0] - rss[1], rel=1e-6, abs=1e-6)
