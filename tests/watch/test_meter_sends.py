"""How a meter's readings come: conversions sent several times, needles read to divisions, leads turned."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats, Ints
from benchtui.watch.eyes.divisions import CHANGES, Divisions
from benchtui.watch.eyes.repeats import GIVE_UP, Repeats, conversions
from benchtui.watch.eyes.turned import Turned
from benchtui.watch.signals import Signal

from .shapes import flat, steps, switched, times
from .streams import Shape, Timeline, ac, dc, ns

SET = Chart("a set", mains=230.0, points=(ac("mains", 230.0), dc("B+", 285.0), dc("bias", -22.0)))


def sent(rng: np.random.Generator, lengths: list[int], step: float = 0.1) -> tuple[Ints, Floats]:
    """Readings of conversions that wander, each sent so often; four a second."""
    each = np.round((100.0 + np.cumsum(rng.choice([-3, -2, -1, 1, 2, 3], len(lengths)) * step)) / step) * step
    x = np.repeat(each, lengths)
    return np.arange(len(x)) * ns(0.25), x


@pytest.mark.parametrize(("lengths", "times"), [([4] * 30, 4.0), ([3, 4, 4, 4] * 8, 3.75), ([2] * 30, 2.0)])
@pytest.mark.parametrize("cut", [1, 7, 1000])
def test_a_meter_that_sends_each_conversion_several_times_is_found_out(
    lengths: list[int], times: float, cut: int
) -> None:
    """However the readings are cut: after the same reading, the same number."""
    t, x = sent(np.random.default_rng(1), lengths)
    eye = Repeats()
    for a in range(0, len(t), cut):
        eye.take(t[a : a + cut], x[a : a + cut])
    assert eye.times == pytest.approx(times, abs=0.1)
    assert eye.known_ns == t[sum(lengths[:14])]


def test_a_conversion_that_reads_what_the_one_before_read_hides_nothing() -> None:
    """Two runs are twice as long."""
    lengths = [4, 4, 4, 8, 4, 4, 4, 4, 4, 8, 4, 4, 4, 4, 4, 4, 4]
    eye = Repeats()
    eye.take(*sent(np.random.default_rng(2), lengths))
    assert eye.times == pytest.approx(4.0)


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("p", [0.15, 0.3, 0.5])
def test_a_quiet_point_on_a_coarse_meter_sends_each_conversion_once(seed: int, p: float) -> None:
    """Readings that stay and change by chance are no repeats, and the eye gives up looking in the end."""
    rng = np.random.default_rng(seed)
    turns = np.cumsum(rng.random(4000) < p) % 2
    eye = Repeats()
    eye.take(np.arange(4000) * ns(0.25), 150.0 + 0.1 * turns)
    assert (eye.times, eye.known_ns) == (1.0, 0)
    assert eye._runs <= GIVE_UP


def test_a_point_that_goes_to_and_fro_evenly_is_no_meter_that_repeats() -> None:
    eye = Repeats()
    eye.take(*sent(np.random.default_rng(3), [20] * 40))
    assert (eye.times, eye.known_ns) == (1.0, 0)


def test_of_each_conversion_the_first_reading_counts() -> None:
    t = np.arange(11)
    x = np.array([1.0, 1, 1, 2, 2, 2, 2, 2, 2, 5, 5])
    assert conversions(t, x, 3.0)[0].tolist() == [0, 3, 6, 9]


def repeating(shape: Shape, every_s: float) -> Shape:
    """Converted so seldom, and averaged over that while; what is sent between is the last."""

    def held(t: Floats) -> Floats:
        last = np.floor(t / every_s) * every_s
        return np.mean([shape(last - every_s * (k + 0.5) / 16) for k in range(16)], axis=0)

    return held


@pytest.mark.parametrize("start_s", [150.0, 151.3, 152.6, 153.9])
def test_what_a_repeating_meter_sends_again_is_no_word_that_its_point_stood(start_s: float) -> None:
    """The mains steps by 4 %; one point's meter converts every 5 s and sends four times in between: its late
    move is the mains' and no fault of its own."""
    chart = Chart("a set", mains=230.0, points=(ac("mains", 230.0), dc("B+", 285.0), dc("screen", 151.0)))
    mains = steps(flat(1.0), start_s, -0.04)
    for seed in range(3):
        time = Timeline(chart, 260.0, seed=seed)
        time.mark(1.0, "on")
        up = switched(mains, 1.0)
        time.meter("mains", times(flat(230.0), up), rate=5.0)
        time.meter("B+", times(flat(285.0), up), rate=4.0)
        wander = times(times(flat(151.0), up), lambda t: 1.0 + 0.002 * np.sin(t / 7.0))
        time.meter("screen", repeating(wander, 5.0), rate=0.8, noise=0.0)
        said = time.judged()
        assert not said.ever_wrong(), said.said()
        assert "screen" in said.of("mains")[-1].evidence["also"]


def test_a_needle_is_read_to_its_divisions() -> None:
    """Volts written in units and read in fives: after some changes the resolution is five."""
    x = np.array([220.0, 225, 220, 220, 215, 225, 220, 225, 230, 220])
    found = Divisions().coarser(x, np.full(10, 1.0))
    assert CHANGES == 6
    assert found.tolist() == [1.0] * 7 + [5.0] * 3


@pytest.mark.parametrize("other", [228.0, 250.0, 270.0, 0.0])
def test_a_point_that_falls_out_again_and_again_says_nothing_of_its_meter(other: float) -> None:
    """A quiet point and as deep a fall each time: the next small fall is seen as before."""
    x = np.array([285.0, other] * 20 + [285.0, 281.0, 285.0])
    assert Divisions().coarser(x, np.full(len(x), 1.0)).tolist() == [1.0] * len(x)


def test_one_reading_between_two_divisions_says_that_there_are_none() -> None:
    """And for good; a new range begins anew."""
    x = np.array([220.0, 225, 220, 215, 225, 220, 225, 222, 225, 220])
    eye = Divisions()
    assert eye.coarser(x, np.full(10, 1.0)).tolist() == [1.0] * 6 + [5.0] + [1.0] * 3
    assert eye.coarser(x[:7], np.full(7, 1.0)).tolist() == [1.0] * 7
    assert eye.coarser(x[:7] / 10, np.full(7, 0.1)).tolist() == pytest.approx([0.1] * 6 + [0.5])


@pytest.mark.parametrize("cut", [1, 3, 10])
def test_divisions_do_not_depend_on_how_the_readings_are_cut(cut: int) -> None:
    x = np.array([220.0, 225, 220, 220, 215, 220, 225, 230, 225, 222, 230])
    whole = Divisions().coarser(x, np.full(len(x), 1.0)).tolist()
    eye, found = Divisions(), []
    for a in range(0, len(x), cut):
        found += eye.coarser(x[a : a + cut], np.full(len(x[a : a + cut]), 1.0)).tolist()
    assert found == whole


def said_of(nominal: float, x: list[float], cut: int = 1000) -> list[Signal]:
    """What the eye on turned leads says of readings a second apart."""
    eye, out = Turned(nominal), []
    t = np.arange(len(x)) * ns(1.0)
    for a in range(0, len(x), cut):
        out += eye.take(t[a : a + cut], np.array(x[a : a + cut]))
    return out


@pytest.mark.parametrize("cut", [1, 2, 5, 1000])
@pytest.mark.parametrize(
    ("nominal", "x", "turned"),
    [
        (-22.0, [-22.0] * 5 + [22.1] * 5, True),
        (-22.0, [22.0] * 5, True),
        (-22.0, [-22.0] * 5 + [14.0] * 5, False),
        (-22.0, [-22.0, -15.0, -9.0, -4.0, 0.0, 4.0, 9.0, 12.0, 14.0, 14.0, 14.0], False),
        (285.0, [60.0, 120.0, 170.0, -210.0, -240.0, -260.0], True),
        (0.3, [0.3] * 5 + [-0.3] * 5, True),
        (285.0, [285.0] * 5 + [0.0] * 15 + [-285.0] * 5, True),
        (-22.0, [-22.0] * 5 + [0.0] * 4 + [22.0] * 5, True),
        (-22.0, [-22.0] * 5 + [0.0] * 4 + [12.0] * 5, False),
        (0.3, [-0.25] * 10, False),
        (0.3, [-0.25] * 30, True),
        (0.3, [0.7, 0.15, -0.3, -0.6, -0.8, -0.8], False),
    ],
)  # fmt: skip
def test_leads_are_turned_where_just_as_many_volts_have_the_other_sign(
    nominal: float, x: list[float], turned: bool, cut: int
) -> None:
    """From the start, or at once; a point that goes through zero, or to another value, has itself turned."""
    said = said_of(nominal, x, cut)
    assert bool(said) == turned
    assert said == said_of(nominal, x)


def test_a_mains_meter_that_reads_less_than_nothing_is_the_meters() -> None:
    """AC has no sign: that is no move of the mains."""
    time = Timeline(SET, 200.0)
    time.mark(1.0, "on")
    shape = switched(flat(230.0), 1.0)
    time.meter("mains", lambda t: np.where((t >= 120.0) & (t < 140.0), -1.0, 1.0) * shape(t))
    time.meter("B+", switched(flat(285.0), 1.0))
    said = time.judged()
    assert said.one("reversed", "mains").end_ns is not None
    assert not said.of("mains", "dropout", "step"), said.said()
