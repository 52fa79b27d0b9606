"""LIVE: from power-on whatever the meters read, and gone only by fresh readings below."""

from __future__ import annotations

import random

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.units import Unit
from benchtui.watch.board import Hazard
from benchtui.watch.now import board

from .cutting import pieces, random_cuts
from .shapes import bleeds, flat, switched, warm_up
from .streams import Shape, Timeline, ac, dc, ns

SET = Chart(
    "a set",
    mains=230.0,
    points=(
        ac("mains", 230.0), dc("B+1", 285.0), dc("B+2", 240.0, fed_from="B+1"), dc("bias", -60.0),
        ac("HT winding", 250.0),
    ),
)  # fmt: skip
OFF = 200.0


def at_end(time: Timeline, settings: Settings | None = None) -> Hazard:
    """What the top bar says after all of it."""
    return board(time.judged(settings).bank).hazard


def falling(tau_s: float = 10.0, until_s: float = 210.0) -> Timeline:
    """On at 2 s, off at 200 s by the mains meter; B+1 bleeds; nothing else is measured."""
    time = Timeline(SET, until_s)
    time.meter("mains", switched(flat(230.0), 2.0, OFF))
    time.meter("B+1", bleeds(warm_up(285.0, 2.0), OFF, tau_s))
    return time


def test_before_any_power_it_is_cold_and_not_live() -> None:
    """No power-on, nothing above the level: cold."""
    time = Timeline(SET, 20.0)
    time.meter("B+1", flat(0.0))
    said = at_end(time)
    assert (said.live, said.phase, said.point) == (False, "cold", None)


@pytest.mark.parametrize("reading", [None, 0.0, 12.0])
def test_it_is_live_from_power_on_whatever_the_meters_read(reading: float | None) -> None:
    """Power on by mark alone, and the only meter shows nothing, or next to nothing: LIVE."""
    time = Timeline(SET, 20.0)
    time.mark(5.0, "on")
    time.meter("B+1", None if reading is None else flat(reading))
    said = at_end(time)
    assert (said.live, said.phase) == (True, "on")


@pytest.mark.parametrize(("point", "level", "unit"), [
    ("B+1", 31.0, Unit.V), ("bias", -60.0, Unit.V), ("HT winding", 250.0, Unit.VAC),
    ("loose end", 31.0, Unit.V), ("loose end", -31.0, Unit.V), ("loose end", 40.0, Unit.VAC),
])  # fmt: skip
def test_any_point_above_the_level_is_live_without_a_power_on(point: str, level: float, unit: Unit) -> None:
    """Negative and AC count, and so does a point that no chart knows: a charged capacitor needs no power."""
    time = Timeline(SET, 20.0)
    time.meter(point, flat(level), unit=unit, noise=0.0)
    said = at_end(time)
    assert said.live
    assert (said.point, said.value, said.unit) == (point, level, unit)


def test_the_level_itself_is_not_above_it() -> None:
    """30.0 V at a level of 30 V is not above; 30.1 V is; the level is the person's setting."""
    for level, live in ((30.0, False), (30.1, True)):
        time = Timeline(SET, 3.0)
        time.meter("B+1", flat(level), noise=0.0)
        assert at_end(time).live is live
        assert not at_end(time, Settings(warn_above=50.0)).live


def test_after_power_off_it_is_live_until_the_point_reads_below() -> None:
    """Off with 105 V left: live, phase off, the point named with its value; at 12 V: below, and not live."""
    said = at_end(falling())
    assert (said.live, said.phase, said.point, said.meter) == (True, "off", "B+1", "meter of B+1")
    assert said.value is not None
    assert said.value == pytest.approx(105.0, rel=0.06)
    assert said.not_measured == ()
    gone = at_end(falling(until_s=232.0))
    assert (gone.live, gone.phase, gone.point) == (False, "below", "B+1")
    assert gone.value is not None
    assert abs(gone.value) < 30.0


@pytest.mark.parametrize("flags", [1, 2, 4, 8, 5])
def test_a_flagged_reading_below_never_clears(flags: int) -> None:
    """Overload, hold, low battery, not a number: no such reading says that the point is below."""
    time = falling(until_s=210.0)
    channel = 1
    time.drop(channel, 205.0, 999.0)
    value = float("nan") if flags & 9 else 3.0
    for k in range(20):
        time.at(channel, 205.05 + 0.2 * k, value, flags=flags)
    said = at_end(time)
    assert said.live
    assert said.point == "B+1"


def test_a_meter_asleep_never_clears() -> None:
    """Asleep at 170 V: live for ever, the last reading shown with its age, named as not measured."""
    time = falling(until_s=4000.0)
    time.drop(1, 205.0, 9999.0)
    said = at_end(time)
    assert (said.live, said.phase, said.point) == (True, "off", "B+1")
    assert said.value == pytest.approx(172.0, rel=0.06)
    assert said.age_s == pytest.approx(3795.0, abs=1.0)
    assert said.not_measured == ("B+1",)


def test_another_quantity_never_clears() -> None:
    """0.0 Vac on a charged DC point is the commonest wrong setting of a meter: LIVE stays."""
    time = falling(until_s=230.0)
    time.drop(1, 205.0, 999.0)
    for k in range(40):
        time.at(1, 205.05 + 0.5 * k, 0.0, unit=Unit.VAC)
    said = at_end(time)
    assert said.live
    assert said.not_measured == ("B+1",)


def test_a_voltage_above_the_level_counts_in_any_setting_of_the_meter() -> None:
    """250 Vac where the chart has DC: whatever the chart says, there is a voltage at the probe."""
    time = Timeline(SET, 20.0)
    time.meter("B+1", flat(250.0), unit=Unit.VAC)
    assert at_end(time).live


def test_a_bare_number_above_the_level_counts_on_a_point_of_the_chart() -> None:
    """A meter that does not say its unit, on a DC point: 250 is taken for volts."""
    time = Timeline(SET, 20.0)
    time.meter("B+1", flat(250.0), unit=Unit.UNKNOWN)
    assert at_end(time).live


@pytest.mark.parametrize("to", [None, "bias", "ground"])
def test_a_moved_lead_never_clears(to: str | None) -> None:
    """The lead leaves B+1 at 170 V for a point that reads 0: B+1 is still live, and not measured."""
    time = falling(until_s=230.0)
    time.drop(1, 205.0, 999.0)
    time.lead(205.0, 1, to)
    if to is not None:
        time.reads(1, flat(0.0), 205.5, 230.0)
    said = at_end(time)
    assert (said.live, said.point, said.not_measured) == (True, "B+1", ("B+1",))


def test_another_meters_reading_below_does_not_clear() -> None:
    """A second meter that shows 0 there may have a broken lead: only the same lead clears."""
    time = falling(until_s=230.0)
    second = time.meter("bias", None)
    time.drop(1, 205.0, 999.0)
    time.lead(205.0, 1, None)
    time.lead(206.0, second, "B+1")
    time.reads(second, flat(0.0), 206.5, 230.0)
    assert at_end(time).live


def test_a_restart_clears_nothing() -> None:
    """Off with 170 V on a meter that then sleeps, on and off again by marks: the point is still live."""
    time = falling(until_s=300.0)
    time.drop(0, 203.0, 999.0)
    time.drop(1, 205.0, 999.0)
    time.mark(210.0, "on")
    time.mark(260.0, "off")
    said = at_end(time)
    assert (said.live, said.phase, said.not_measured) == (True, "off", ("B+1",))


def test_every_point_that_was_above_must_read_below() -> None:
    """B+1 is below, B+2 holds its charge: live, and B+2 is the point named."""
    time = falling(until_s=260.0)
    time.meter("B+2", bleeds(warm_up(240.0, 2.0), OFF, 200.0))
    said = at_end(time)
    assert (said.live, said.point) == (True, "B+2")


def test_voltage_that_returns_is_live_again() -> None:
    """Discharged to 3 V, the capacitor comes back to 36 V by itself: LIVE again (dielectric absorption)."""
    time = falling(until_s=400.0)
    time.drop(1, 205.0, 999.0)
    slow: Shape = lambda t: 3.0 + 33.0 * (1 - np.exp(-np.maximum(t - 210.0, 0.0) / 60.0))  # noqa: E731
    time.reads(1, slow, 210.0, 400.0)
    session = time.session()
    bank = session.bank()
    lived = []
    for piece in pieces(session.block, range(0, session.block.upto_ns, ns(10))):
        bank.feed(piece)
        lived.append(board(bank).hazard.live)
    assert lived[22] is False
    assert lived[-1] is True


@pytest.mark.parametrize("seed", range(3))
def test_what_the_bar_says_does_not_depend_on_cuts(seed: int) -> None:
    """After the same timeline in any pieces the hazard is the same."""
    time = falling(until_s=232.0 - 10.0 * seed)
    time.lead(205.0, 1, None)
    time.lead(207.0, 1, "B+1")
    session = time.session()
    whole = session.bank()
    whole.feed(session.block)
    rng = random.Random(seed)
    for many in (1, 7, 200):
        bank = session.bank()
        for piece in pieces(session.block, random_cuts(session, rng, many)):
            bank.feed(piece)
        assert board(bank).hazard == board(whole).hazard
