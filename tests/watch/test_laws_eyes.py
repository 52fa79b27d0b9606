"""Each eye by itself says the same however its readings were cut into blocks, and each signal in its time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.model.readings import Floats, Ints
from benchtui.watch.eyes.course import Course
from benchtui.watch.eyes.grains import measure
from benchtui.watch.eyes.history import History
from benchtui.watch.eyes.lamp import Lamp
from benchtui.watch.eyes.line import Line
from benchtui.watch.eyes.manners import Frozen, Repeated, Silence
from benchtui.watch.eyes.rating import Rating
from benchtui.watch.signals import Signal

from .streams import ns

Take = Callable[[Ints, Floats], list[Signal]]
EACH = settings(max_examples=300, derandomize=True, deadline=None)
LEVELS = [0.0, 2.0, 100.0, 96.0, 104.0, 99.0, 101.0, 60.0, 150.0, -100.0]


@st.composite
def streams(draw: st.DrawFn) -> tuple[Ints, Floats]:
    """Stretches at a few levels, quiet, noisy or restless, evenly or unevenly read, with gaps."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    period_s = draw(st.sampled_from([0.05, 0.5, 2.0]))
    jitter = draw(st.sampled_from([0.0, 0.4]))
    t_s, x = [np.array([1.0])], [np.array([draw(st.sampled_from(LEVELS))])]
    for _ in range(draw(st.integers(1, 7))):
        many = draw(st.sampled_from([1, 2, 7, 9, 40, 130]))
        gap = draw(st.sampled_from([0.0, 0.0, 0.0, 3.0, 30.0, 70.0]))
        level = draw(st.sampled_from(LEVELS))
        slope = draw(st.sampled_from([0.0, 0.0, 0.02, -0.3]))
        noise = draw(st.sampled_from([0.0, 0.1, 0.1, 0.4, 20.0]))
        own = np.arange(1, many + 1) * period_s + rng.uniform(0, jitter * period_s, many)
        t_s.append(t_s[-1][-1] + gap + own)
        x.append(np.round(level + slope * own + rng.normal(0, 1, many) * noise, 1))
    return np.round(np.concatenate(t_s) * 1e9).astype(np.int64), np.concatenate(x)


def said(take: Take, t: Ints, x: Floats, cuts: Sequence[float]) -> list[Signal]:
    """What an eye says of readings handed to it in pieces."""
    edges = [0, *sorted(round(c * len(t)) for c in cuts), len(t)]
    out: list[Signal] = []
    for a, b in pairwise(edges):
        got = take(t[a:b], x[a:b])
        assert all(t[a] <= s.at_ns <= t[b - 1] for s in got)
        out += got
    return out


def holds(make: Callable[[], Take], stream: tuple[Ints, Floats], cuts: Sequence[float]) -> None:
    """The cut law for an eye: in pieces as in one."""
    t, x = stream
    assert said(make(), t, x, cuts) == said(make(), t, x, [])


CUTS = st.lists(st.floats(0, 1), max_size=30) | st.just([k / 400 for k in range(400)])


def a_course() -> Take:
    history = History()
    course = Course(history, 3.0, 0.01)

    def take(t: Ints, x: Floats) -> list[Signal]:
        history.add(t, x, np.full(len(t), 0.1))
        return course.take(len(t))

    return take


@pytest.mark.parametrize("seed", range(10))
def test_a_small_lasting_move_is_followed_reading_by_reading(seed: int) -> None:
    """What only the mean of six shows is seen at the same reading where each comes by itself."""
    rng = np.random.default_rng(seed)
    x = 100.0 + rng.normal(0.0, 0.05, 600) + np.where(np.arange(600) < 400, 0.0, 0.14)
    t = np.arange(600, dtype=np.int64) * ns(0.1)

    def lines(size: int) -> list[tuple[int, Line]]:
        history = History()
        course = Course(history, 3.0, 0.1, 0.0005)
        for a in range(0, 600, size):
            history.add(t[a : a + size], x[a : a + size], np.full(size, 0.01))
            course.take(size)
        return course.lines

    assert lines(1) == lines(600)


@EACH
@given(streams(), CUTS)
def test_a_course_does_not_depend_on_cuts(stream: tuple[Ints, Floats], cuts: list[float]) -> None:
    """Grains, excursions, rises and falls are the same in pieces."""
    holds(a_course, stream, cuts)


@EACH
@given(streams(), CUTS, st.sampled_from([99.0, 101.0, 120.0]), st.sampled_from([101.0, 140.0]))
def test_a_rating_does_not_depend_on_cuts(
    stream: tuple[Ints, Floats], cuts: list[float], limit: float, surge: float
) -> None:
    """First, second and greater readings beyond a rating, and the first within, are the same in pieces."""
    holds(lambda: Rating(limit, max(limit, surge)).take, stream, cuts)


@EACH
@given(streams(), CUTS, st.sampled_from([0.0, 0.3, 0.8, 0.9, 1.0]))
def test_a_frozen_reading_does_not_depend_on_cuts(
    stream: tuple[Ints, Floats], cuts: list[float], same: float
) -> None:
    """A run of equal readings is as long in pieces as it is in one."""
    holds(lambda: Frozen(lambda t_ns, value: same).take, stream, cuts)


@EACH
@given(streams(), CUTS)
def test_a_lamp_does_not_depend_on_cuts(stream: tuple[Ints, Floats], cuts: list[float]) -> None:
    """Every change of state is told once, with the last reading of the state before."""
    t, x = stream
    holds(lambda: Lamp().take, (t, (x > 99.0).astype(np.float64)), cuts)


@EACH
@given(streams(), CUTS, st.integers(1, 9), st.sampled_from([0.0, 1.0, 3.0]))
def test_a_repeated_condition_does_not_depend_on_cuts(
    stream: tuple[Ints, Floats], cuts: list[float], least: int, least_s: float
) -> None:
    """It opens at the same reading and ends at the same reading in pieces."""

    def make() -> Take:
        eye = Repeated("overload", least, least_s)
        return lambda t, x: eye.take(t, x > 99.0)

    holds(make, stream, cuts)


@EACH
@given(streams(), CUTS, st.lists(st.floats(0.0, 1.2), max_size=10))
def test_silence_does_not_depend_on_cuts_nor_on_when_it_is_asked_for(
    stream: tuple[Ints, Floats], cuts: list[float], asked: list[float]
) -> None:
    """A gap opens at the instant at which patience ends, whoever asks and whenever, and once."""
    t = stream[0]
    end = int(t[-1]) + ns(100.0)
    watermarks = sorted({*(int(a * end) for a in asked), *(int(t[-1] * c) for c in cuts), end})
    whole, pieces = Silence(0), Silence(0)
    wanted = [*whole.take(t), *whole.nothing_until(end)]
    got: list[Signal] = []
    row = 0
    for watermark in watermarks:
        upto = int(np.searchsorted(t, watermark, side="right"))
        if upto > row:
            got += pieces.take(t[row:upto])
        got += pieces.nothing_until(watermark)
        assert all(s.at_ns <= watermark for s in got)
        row = upto
    assert got == wanted


@EACH
@given(st.integers(8, 64), st.integers(2, 40), st.integers(0, 2**32 - 1))
def test_a_grain_says_the_same_whoever_is_measured_with_it(size: int, many: int, seed: int) -> None:
    """Bit for bit: sums of a row do not depend on how many rows there are."""
    rng = np.random.default_rng(seed)
    t = np.cumsum(rng.integers(1, 10**9, (many, size)), axis=None).reshape(many, size)
    x = rng.choice([0.1, 1.0, 1e-9, 1e6]) * np.round(
        rng.normal(285.0, rng.choice([0.0, 0.1, 50.0]), (many, size)), 1
    )
    step = rng.choice([0.0, 0.1, 1.0], (many, size))
    together = measure(t, x, step)
    alone = [measure(t[i : i + 1], x[i : i + 1], step[i : i + 1])[0] for i in range(many)]
    assert together == alone
