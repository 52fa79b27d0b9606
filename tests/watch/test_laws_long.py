"""The laws over long streams: what a piece of 8,192 readings can hold, and what is looked back on."""

from __future__ import annotations

import random

import numpy as np
import pytest

from benchtui.chart.chart import Chart

from .cutting import Session, assert_laws, random_cuts
from .shapes import away, flat, ramps, switched, times, warm_up
from .streams import Timeline, ac, dc, ns

TREE = Chart("a bench", mains=230.0, points=(dc("B+1", 285.0, limit=350.0), dc("B+2", 240.0, fed_from="B+1")))
HOUR = range(0, ns(4200), ns(10))


def test_an_hour_of_two_slow_meters_in_one_block_is_judged_as_it_was_live() -> None:
    """A shallow dip early in a block of 10,000 readings is found at the same instant as with small blocks."""
    time = Timeline(TREE, 4200.0)
    time.mark(5.0, "on")
    time.meter("B+1", warm_up(285.0, 5.0), noise=6.0)
    time.meter("B+2", away(warm_up(240.0, 5.0), 300.0, 340.0, -0.008), rate=0.4, step=0.01)
    assert_laws(time.session(), [HOUR])


def hours(seed: int) -> Session:
    """A few meters for two hours, with dips, ramps, gaps and another range at random."""
    rng = np.random.default_rng([8, seed])
    chart = Chart("a bench", mains=230.0, points=(ac("mains", 230.0), *TREE.points))
    time = Timeline(chart, 7200.0, seed)
    sag = away(flat(1.0), *_stretch(rng, 60.0), -0.05)
    for name, level in (("mains", 230.0), ("B+1", 285.0), ("B+2", 240.0)):
        base = switched(flat(level), 5.0, 6500.0) if name == "mains" else warm_up(level, 5.0)
        shape = away(base, *_stretch(rng, 20.0), float(rng.choice([-0.01, -0.05, -0.6, 0.03])))
        shape = ramps(shape, *_stretch(rng, 900.0), float(rng.uniform(-0.06, 0.06)))
        noise = float(rng.choice([0.3, 1.0, 5.0]))
        rate = float(rng.choice([0.3, 1.0, 2.0]))
        number = time.meter(name, times(shape, sag), rate=rate, noise=noise)
        for _ in range(3):
            time.drop(number, *_stretch(rng, 30.0))
    return time.session()


def _stretch(rng: np.random.Generator, most_s: float) -> tuple[float, float]:
    start = float(rng.uniform(60, 6000))
    return start, start + float(rng.uniform(0.1, 1.0)) * most_s


@pytest.mark.parametrize(
    "seed", [*range(4), *(pytest.param(s, marks=pytest.mark.long) for s in range(4, 60))]
)
def test_two_hours_of_slow_meters_keep_the_laws(seed: int) -> None:
    """Cut at 250 instants or at three, two hours say the same as in one block."""
    session = hours(seed)
    rng = random.Random(seed)
    assert_laws(session, [random_cuts(session, rng, n) for n in (3, 250)])


@pytest.mark.parametrize("seed", range(2))
def test_a_meter_of_a_thousand_readings_a_second_keeps_the_laws(seed: int) -> None:
    """Forty seconds of a meter so quick that the look-back is short say the same however they are cut."""
    rng = np.random.default_rng([9, seed])
    time = Timeline(TREE, 45.0, seed)
    time.mark(1.0, "on")
    shape = warm_up(285.0, 1.0, rise_s=0.5, awake_s=3.0)
    for _ in range(4):
        start = float(rng.uniform(10, 30))
        shape = away(shape, start, start + float(rng.uniform(0.05, 9)), float(rng.uniform(-0.9, -0.02)))
    time.meter("B+1", shape, rate=1000.0)
    time.meter("B+2", warm_up(240.0, 1.0), rate=2.0)
    session = time.session()
    cuts = random.Random(seed)
    assert_laws(session, [random_cuts(session, cuts, n) for n in (3, 250)])
