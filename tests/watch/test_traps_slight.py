"""Traps where a point reads less than a volt, the small difference of large ones: a tail, a grid, a shunt."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats

from .shapes import flat, steps, switched, times
from .streams import Judged, Shape, Timeline, ac, dc

PAIR = Chart(
    "a long-tailed pair",
    mains=230.0,
    rectifier="solid",
    points=(
        ac("mains", 230.0),
        ac("heater", 6.3),
        dc("HT", 345.0),
        dc("negative", -197.0),
        dc("left cathode", 20.7, 0.2),
        dc("right cathode", 21.3, 0.2),
        dc("tail", 0.152, 0.9),
    ),
)
LEVELS = {p.name: p.nominal or 0.0 for p in PAIR.points}
AT_S = 130.0


def judged(mains: Shape, tail: Shape, read: tuple[str, ...], seed: int = 0, **others: Shape) -> Judged:
    """Every point but the tail goes with the mains, and as `others` say; only those are read."""
    time = Timeline(PAIR, 220.0, seed=seed)
    time.mark(1.0, "on")
    for number, name in enumerate(read):
        course = others.get(name.replace(" ", "_"), flat(1.0))
        shape = times(times(switched(flat(LEVELS[name]), 1.0), mains), course)
        step = 0.1 if abs(LEVELS[name]) > 60 else 0.01 if abs(LEVELS[name]) > 5 else 0.001
        time.meter(name, shape, rate=3.0 + 0.3 * number, step=step, noise=0.5)
    time.meter("tail", times(switched(flat(0.152), 1.0), tail), rate=3.0, step=0.001, noise=0.5)
    return time.judged()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("part", [0.024, -0.03])
@pytest.mark.parametrize(
    "read", [("heater", "HT", "left cathode", "right cathode"), ("HT", "negative", "left cathode")]
)
def test_a_tail_that_goes_many_times_as_far_as_the_mains_is_no_fault(
    part: float, read: tuple[str, ...], seed: int
) -> None:
    """The mains steps by a few per cent, the tail, the difference of two large voltages, by half."""
    said = judged(steps(flat(1.0), AT_S, part), steps(flat(1.0), AT_S, 17 * part), read, seed)
    assert not said.ever_wrong(), said.said()
    told = said.one("mains")
    assert told.evidence["relative"] == pytest.approx(part, abs=0.01)
    assert told.evidence["shown_by"] != "tail"


@pytest.mark.parametrize("part", [-0.5, 0.5, -1.0])
def test_a_tail_that_moves_alone_is_its_own(part: float) -> None:
    """All else stands."""
    said = judged(flat(1.0), steps(flat(1.0), AT_S, part), ("mains", "HT", "negative", "left cathode"))
    assert said.of("step", "dropout", point="tail"), said.said()
    assert not said.of("mains")


def test_a_shunt_that_rises_as_its_supply_falls_is_to_blame() -> None:
    """The valve draws three times as much, the supply sags by a tenth: no AC meter is needed to tell."""
    tripled = steps(flat(1.0), AT_S, 2.0)
    sags = steps(flat(1.0), AT_S, -0.1)
    said = judged(flat(1.0), tripled, ("HT", "negative", "left cathode", "right cathode"), HT=sags)
    assert said.of("dropout", "step", point="tail"), said.said()
    assert not said.of("mains")


def test_a_cathode_that_opens_goes_to_volts_and_is_to_blame() -> None:
    """From a sixth of a volt to three; the supply, unloaded, rises by a twentieth and all with it."""
    rises = steps(flat(1.0), AT_S, 0.05)
    said = judged(rises, steps(flat(1.0), AT_S, 19.0), ("HT", "negative", "left cathode", "right cathode"))
    assert said.of("dropout", "step", point="tail"), said.said()
    assert not said.of("mains"), said.said()


def test_a_cathode_that_stood_with_its_supply_until_the_valve_conducted_has_not_fallen() -> None:
    """A tail at -180 V while the valves are cold, at -0.15 V once they conduct: no dropout."""

    def conducts(t: Floats) -> Floats:
        return np.where(t < 9.0, 180.0, 0.152) / 0.152

    said = judged(flat(1.0), conducts, ("mains", "HT", "negative"))
    assert not said.ever_wrong(), said.said()


def test_a_meter_that_is_stuck_does_not_say_that_the_mains_stood() -> None:
    """The heater meter repeats one reading from long before, which is told; the rest moved together."""
    read = ("HT", "negative", "left cathode", "right cathode")
    time = Timeline(PAIR, 220.0)
    time.mark(1.0, "on")
    mains = steps(flat(1.0), AT_S, 0.03)
    for name in read:
        shape = times(switched(flat(LEVELS[name]), 1.0), mains)
        time.meter(name, shape, rate=3.0, step=0.1 if abs(LEVELS[name]) > 60 else 0.01, noise=0.5)
    heater = time.meter("heater", switched(flat(6.3), 1.0), rate=4.0, step=0.001, noise=3.0, until_s=100.0)
    for k in range(400):
        time.at(heater, 100.05 + 0.25 * k, 6.301, step=0.001, unit=PAIR.points[1].unit)
    said = time.judged()
    assert said.of("frozen", point="heater")
    assert not said.ever_wrong(), said.said()
    assert len(said.of("mains")) == 1
