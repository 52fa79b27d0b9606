"""What still holds its charge when the chart says that it should not: told of what is read then."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.units import Unit

from .shapes import bleeds, flat, switched
from .streams import Judged, Shape, Timeline, ac, dc, ns

OFF, BLEED_S = 100.0, 5.0
SET = Chart(
    "a set", mains=230.0, points=(ac("mains", 230.0), dc("B+1", 285.0, bleed_s=BLEED_S), dc("B+2", 240.0))
)


def off(b1: Shape, *, rate: float = 2.0, start_s: float = 0.05, b2: Shape | None = None) -> Judged:
    """On from the beginning, switched off at 100 s; the mains is read."""
    time = Timeline(SET, 160.0)
    time.meter("mains", switched(flat(230.0), 0.0, OFF))
    time.meter("B+1", b1, rate=rate, start_s=start_s)
    if b2 is not None:
        time.meter("B+2", b2)
    return time.judged()


@pytest.mark.parametrize("start_s", [0.1, 0.4, 0.7, 1.0, 1.3])
def test_a_slow_meter_is_not_asked_for_what_it_read_before_the_time_was_up(start_s: float) -> None:
    """A reading every 1.4 s of a supply that is below 30 V after 4 s: what came before is older."""
    said = off(bleeds(flat(285.0), OFF, 1.75), rate=1 / 1.4, start_s=start_s)
    assert said.of("power_off")
    assert not said.of("slow_bleed"), said.said()


def test_a_supply_still_charged_is_told_with_a_reading_of_then() -> None:
    """An open bleeder: told within two readings of the time, with what is read then, until it is below."""
    said = off(bleeds(flat(285.0), OFF, 12.0))
    told = said.one("slow_bleed")
    assert OFF + BLEED_S <= told.found_ns * 1e-9 <= OFF + BLEED_S + 1.5
    assert told.evidence["value"] == pytest.approx(285.0 * np.exp(-5.5 / 12.0), rel=0.05)
    assert told.end_ns == pytest.approx(ns(OFF + 27.0), abs=ns(2.0))


def test_what_is_fed_again_does_not_bleed_slowly() -> None:
    """Gone for 4.6 s, and no AC meter: at the end of the bleeder's time the supplies are on their way up."""

    def cut(level: float) -> Shape:
        down = bleeds(flat(level), OFF, 0.5)
        return lambda t: np.where(t < OFF + 4.6, down(t), level * (1.0 - np.exp(-(t - OFF - 4.6) / 0.8)))

    time = Timeline(SET, 160.0)
    time.meter("B+1", cut(285.0), rate=4.0)
    time.meter("B+2", cut(240.0), rate=1.0)
    said = time.judged()
    assert [f.kind for f in said.of("power_on", "power_off")] == ["power_off", "power_on"], said.said()
    kinds = [f.kind for f in said.bank.folding.all()]
    assert "slow_bleed" not in kinds, said.said()


def test_what_fills_and_then_holds_is_told_in_the_end() -> None:
    """After power-off B+1 comes up to what B+2 holds, and stays: charged, however it came there."""
    low = bleeds(flat(285.0), OFF, 0.4)
    said = off(
        lambda t: np.where(t < OFF + 3.0, low(t), 200.0 * (1.0 - np.exp(-(t - OFF - 3.0) / 2.0))),
        b2=bleeds(flat(240.0), OFF, 400.0),
    )
    told = said.one("slow_bleed")
    assert told.found_ns * 1e-9 <= OFF + 23.0, said.said()


@pytest.mark.parametrize("heater", [True, False])
def test_what_holds_its_charge_beside_dead_ac_meters_is_not_called_powered(heater: bool) -> None:
    """B+1 has lost its load and its bleeder: it stands, hardly falling, and that is what is to be told."""
    chart = Chart(
        "a set", mains=230.0, points=(ac("mains", 230.0), ac("heater", 6.3), dc("B+1", 285.0, bleed_s=30.0))
    )
    time = Timeline(chart, 220.0)
    time.meter("mains", switched(flat(230.0), 0.0, OFF))
    if heater:
        time.meter("heater", switched(flat(6.3), 0.0, OFF), step=0.01)
    time.meter("B+1", bleeds(flat(285.0), OFF, 4000.0), rate=4.0)
    said = time.judged()
    assert said.one("slow_bleed").state == "open", said.said()


def test_a_heater_meter_on_hold_does_not_hide_that_a_supply_bleeds_slowly() -> None:
    """Held since before the switch-off, which is marked."""
    chart = Chart("a set", mains=230.0, points=(ac("heater", 6.3), dc("B+1", 285.0, bleed_s=30.0)))
    time = Timeline(chart, 220.0)
    held = time.meter("heater", flat(6.3), step=0.01, until_s=OFF - 5.0)
    time.reads(held, flat(6.3), OFF - 5.0, 220.0, step=0.01, noise=0.0, unit=Unit.VAC)
    time.meter("B+1", bleeds(flat(285.0), OFF, 100.0), rate=4.0)
    time.mark(OFF, "off")
    said = time.judged()
    assert said.one("slow_bleed").point == "B+1", said.said()
