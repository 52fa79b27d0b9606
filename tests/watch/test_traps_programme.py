"""Points beside those that move with the programme: an anode and a supply go a little way with it."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats

from .shapes import flat, times
from .streams import Judged, Shape, Timeline, ac, dc

RECEIVER = Chart(
    "a receiver",
    mains=230.0,
    points=(
        ac("heater", 6.3),
        dc("HT", 262.0),
        dc("anode", 162.0, 0.2, fed_from="HT"),
        dc("AVC", -1.1, 0.9, moves="programme"),
    ),
)
AT_S = 120.0


def stands_from(part: float) -> Shape:
    """As a factor: within some tenths of a second to another level, and there it stays."""
    return lambda t: 1.0 - part * np.expm1(-np.maximum(t - AT_S, 0.0) / 0.2)


def received(anode: float, control: float, seed: int, rate: float = 15.0) -> Judged:
    """The anode goes by a part as the control voltage does, or while that wanders as before."""
    time = Timeline(RECEIVER, 180.0, seed)

    def speech(t: Floats) -> Floats:
        return 1.0 + 0.02 * np.sin(9.1 * t) + 0.02 * np.sin(3.3 * t + 1.0)

    time.meter("heater", flat(6.3), rate=1.2, step=0.01, noise=0.5)
    time.meter("HT", flat(262.0), rate=4.0)
    time.meter("anode", times(flat(162.0), stands_from(anode)), rate=2.4)
    time.meter("AVC", times(times(flat(-1.1), speech), stands_from(control)), rate=rate, step=0.001)
    return time.judged()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("rate", [15.0, 1.0])
def test_an_anode_that_moves_a_little_as_the_station_does_is_no_fault(rate: float, seed: int) -> None:
    """The control voltage falls to a third, the anode by 1.2 %; its chart does not say that it moves."""
    said = received(-0.012, -0.65, seed, rate)
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_it_is_one_while_the_programme_goes_on_as_before(seed: int) -> None:
    """The same step of the anode, and the control voltage sways as all the time."""
    assert received(-0.012, 0.0, seed).one("step").point == "anode"


@pytest.mark.parametrize("seed", range(3))
def test_a_greater_one_is_told_whatever_the_programme_does(seed: int) -> None:
    """A twentieth is more than a station makes: that stage may be why the control voltage fell."""
    assert received(-0.05, -0.65, seed).one("step").point == "anode"


@pytest.mark.parametrize("count", [0.0, 0.001])
def test_a_programme_point_that_reads_nothing_at_all_explains_no_step(count: float) -> None:
    """A control voltage of 0, also from a meter whose last digit is not known."""
    time = Timeline(RECEIVER, 180.0)
    time.meter("heater", flat(6.3), rate=1.2, step=0.01, noise=0.5)
    time.meter("HT", flat(262.0), rate=4.0)
    time.meter("anode", times(flat(162.0), stands_from(-0.02)), rate=2.4)
    time.meter("AVC", flat(0.0), rate=4.0, step=count, noise=0.0)
    assert time.judged().one("step").point == "anode"
