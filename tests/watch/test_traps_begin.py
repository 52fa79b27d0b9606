"""Traps about how a record begins and what a battery does: what stands before the switch is no power-on."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats

from .shapes import away, bleeds, flat, steps, switched, warm_up
from .streams import Judged, Shape, Timeline, dc

ON, OFF = 20.0, 160.0
VIBRATOR = Chart(
    "a car set",
    points=(dc("battery", 6.4), dc("HT", 180.0), dc("screen", 90.0, fed_from="HT"), dc("cathode", 9.0)),
)
REGULATED = Chart(
    "a regulated supply",
    points=(
        dc("raw", 310.0),
        dc("reg", 150.0, fed_from="raw", follows_mains=False),
        dc("anode", 60.0, fed_from="reg", follows_mains=False),
        dc("cathode", 2.1, fed_from="reg", follows_mains=False),
    ),
)


def car_set(marked: bool, seed: int = 0) -> Judged:
    """The battery is read before the switch and after it; the rest comes and goes with the switch."""
    time = Timeline(VIBRATOR, 240.0, seed)
    time.meter("battery", flat(6.4), step=0.001)
    time.meter("HT", bleeds(warm_up(180.0, ON, 1.0, 0.1), OFF, 6.0))
    time.meter("screen", bleeds(warm_up(90.0, ON, 1.2, 0.1), OFF, 6.0))
    time.meter("cathode", bleeds(switched(flat(9.0), ON + 8.0), OFF, 4.0), step=0.01)
    for at_s, kind in ((ON, "on"), (OFF, "off")) if marked else ():
        time.mark(at_s, kind)
    return time.judged()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("marked", [True, False])
def test_a_battery_ahead_of_the_switch_is_no_power_on(marked: bool, seed: int) -> None:
    said = car_set(marked, seed)
    on, off = said.one("power_on"), said.one("power_off")
    assert on.start_ns * 1e-9 == pytest.approx(ON, abs=1.0)
    assert off.start_ns * 1e-9 == pytest.approx(OFF, abs=2.0)
    assert not said.ever_wrong(), said.said()


def test_a_battery_alone_is_a_set_that_runs() -> None:
    """With no other meter nobody can tell: what is live counts as on."""
    time = Timeline(VIBRATOR, 60.0)
    time.meter("battery", flat(6.4), step=0.001)
    assert time.judged().bank.placer.desk.running


def falls_to(level: float, supply: float, on_s: float) -> Shape:
    """An anode: at its supply until its valve conducts, then down."""

    def course(t: Floats) -> Floats:
        warm = 1.0 / (1.0 + np.exp(-np.clip((t - on_s - 14.0) / 2.0, -50, 50)))
        up = 1.0 - np.exp(-np.maximum(t - on_s, 0.0) / 0.3)
        return np.asarray(up * (supply - (supply - level) * warm))

    return course


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("without", ["", "cathode"])
def test_a_record_that_begins_with_the_switch_knows_that_the_set_warms_up(without: str, seed: int) -> None:
    """No mark, no AC meter, supplies up within a second: what the anode does next is no drift."""
    time = Timeline(REGULATED, 200.0, seed)
    shapes = {
        "raw": switched(lambda t: 310.0 * (1.0 - np.exp(-np.maximum(t, 0.0) / 0.4)), 0.0),
        "reg": switched(lambda t: 150.0 * (1.0 - np.exp(-np.maximum(t, 0.0) / 0.4)), 0.0),
        "anode": falls_to(60.0, 150.0, 0.0),
        "cathode": lambda t: 2.1 / (1.0 + np.exp(-np.clip((t - 14.0) / 2.0, -50, 50))),
    }
    for name, shape in shapes.items():
        if name != without:
            time.meter(name, shape, step=0.1 if name in ("raw", "reg") else 0.01)
    said = time.judged()
    assert said.one("power_on").start_ns * 1e-9 <= 1.0
    assert not said.ever_wrong(), said.said()


def test_what_moves_while_the_battery_stands_was_not_the_battery() -> None:
    """HT and what it feeds rise by 3 % together; the battery, read as well, does not."""
    time = Timeline(VIBRATOR, 240.0)
    time.meter("battery", flat(6.4), step=0.001, noise=2.0)
    for name, level in (("HT", 180.0), ("screen", 90.0)):
        time.meter(name, steps(warm_up(level, ON, 1.0, 0.05, 4.0), 150.0, 0.03))
    said = time.judged()
    assert not said.of("mains"), said.said()
    assert said.of("step", "dropout", point="HT"), said.said()


DC_HEATER = Chart(
    "DC heaters", points=(dc("heater", 12.6), dc("HT1", 285.0), dc("screen", 100.0, fed_from="HT1"))
)


def test_a_dead_supply_beside_a_dc_heater_that_is_fed_is_no_switch_off() -> None:
    """The heater came up with the set, so it is no battery ahead of the switch."""
    time = Timeline(DC_HEATER, 260.0)
    time.meter("heater", switched(flat(12.6), 5.0), step=0.01)
    for name, level in (("HT1", 285.0), ("screen", 100.0)):
        time.meter(name, away(switched(flat(level), 5.0), 150.0, 156.0, -1.0))
    said = time.judged()
    assert not said.of("power_off"), said.said()
    assert said.one("dropout", "HT1").end_ns is not None


def off_and_on(level: float, off_s: float, on_s: float) -> Shape:
    """Down through the bleeder, and back at once."""
    down = bleeds(flat(level), off_s, 6.0)
    return lambda t: np.where(t < on_s, down(t), level)


def test_a_cathode_that_still_has_volts_at_the_next_switch_on_is_no_battery() -> None:
    """Off for three seconds; later all fall by a third together: HT1 is to blame."""
    points = dc("HT1", 285.0), dc("HT2", 240.0), dc("cathode", 9.0)
    time = Timeline(Chart("a set", points=points), 330.0)
    for at_s, kind in ((1.0, "on"), (100.0, "off"), (103.0, "on")):
        time.mark(at_s, kind)
    for point in points:
        assert point.nominal
        course = away(off_and_on(point.nominal, 100.0, 103.0), 300.0, 306.0, -0.3)
        time.meter(point.name, course, step=0.1 if point.nominal > 60 else 0.01)
    said = time.judged()
    assert [f.point for f in said.of("dropout")] == ["HT1"], said.said()


def test_one_low_reading_of_one_meter_as_a_record_begins_is_no_switch_on() -> None:
    """A lead that is being clipped on: the set has long been live."""
    time = Timeline(REGULATED, 60.0)
    time.at(time.meter("raw", None), 0.05, 150.0)
    time.reads(0, flat(310.0), 0.55, 60.0)
    time.meter("reg", flat(150.0))
    said = time.judged()
    assert said.bank.placer.desk.running
    assert not said.of("power_on"), said.said()
