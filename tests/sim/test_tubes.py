"""The gas regulator tube and the neon lamp."""

from __future__ import annotations

import pytest

from benchtui.sim.parts import Parts
from benchtui.sim.tubes import Neon, Regulator

# A regulator tube for 150 V, 30 mA (0A2): runs at 144-164 V, 5-30 mA, strikes at about 155-165 V, a supply of
# 185 V is guaranteed to strike it; from tube tables for 150 V, 30 mA, 185 V, the rest from memory.


def at(regulator: Regulator, feed: float, parts: Parts, load: float = 0.0, times: int = 10) -> Regulator:
    for _ in range(times):
        regulator.step(feed, load, parts)
    return regulator


def test_a_raw_supply_of_140_volts_never_strikes_it() -> None:
    """At 140 V it stays dark and its point follows the raw supply."""
    tube = at(Regulator(), 140.0, Parts(), times=1000)
    assert not tube.lit
    assert tube.volts == pytest.approx(140.0)


def test_a_supply_of_185_volts_strikes_it() -> None:
    """At 185 V every tube within the makers' spread lights."""
    for strikes in (155.0, 165.0, 184.0):
        assert at(Regulator(), 185.5, Parts(v8_strikes=strikes, r36=3000.0)).lit


@pytest.mark.parametrize("milliamperes", [5, 10, 20, 30])
def test_lit_it_holds_144_to_164_volts_from_5_to_30_milliamperes(milliamperes: float) -> None:
    """Over its whole current it stays in the table's band, and rises by no more than some volts."""
    parts = Parts()
    feed = 149.0 + 90.0 * milliamperes / 1000 + parts.r36 * milliamperes / 1000
    tube = at(at(Regulator(), 300.0, parts), feed, parts)
    assert tube.amps == pytest.approx(milliamperes / 1000, rel=1e-6)
    assert 144 <= tube.volts <= 164


def test_it_strikes_higher_than_it_runs() -> None:
    """A feed between running and striking voltage keeps a lit tube lit and leaves a dark one dark."""
    parts = Parts(r36=1000.0)
    dark = at(Regulator(), 165.0, parts, times=1000)
    lit = at(at(Regulator(), 300.0, parts), 165.0, parts)
    assert (dark.lit, lit.lit) == (False, True)


def test_without_its_current_it_goes_out_and_its_point_goes_to_what_the_feed_gives() -> None:
    """A load that takes its current puts it out; the point is then the divider of feed and load."""
    parts = Parts()
    tube = at(Regulator(), 285.0, parts)
    assert tube.lit
    at(tube, 285.0, parts, load=1 / 10e3)
    assert not tube.lit
    assert tube.volts == pytest.approx(285.0 / 2)


def test_a_good_joint_alone_does_not_relight_it_below_its_striking_voltage() -> None:
    """A worn tube is lit by the unloaded feed, goes out with the joint, and stays out with a good joint:
    what the feed gives beside the load is less than it strikes at. More feed lights it.
    """
    parts, load = Parts(v8_strikes=230.0), 5e-3 / 150
    tube = at(at(Regulator(), 360.0, parts), 285.0, parts, load)
    assert tube.lit
    parts.joint36 = 50e6
    assert not at(tube, 285.0, parts, load).lit
    assert tube.volts < 1.0
    parts.joint36 = 0.0
    assert not at(tube, 285.0, parts, load, times=1000).lit
    assert tube.volts == pytest.approx(285.0 * 30 / 40, rel=1e-3)
    assert at(tube, 320.0, parts, load).lit


def test_its_currents_balance() -> None:
    """What comes through the feed is what the tube and the load take."""
    parts, load = Parts(), 5e-3 / 150
    tube = at(Regulator(), 285.0, parts, load)
    assert tube.feed_amps == pytest.approx(tube.amps + tube.volts * load)


def test_a_neon_lamp_strikes_above_where_it_lets_go() -> None:
    """Going up it lights at its striking voltage, going down it goes out at its holding voltage.

    Extinguishing < maintaining < striking; strikes at about 60-90 V DC, holds at about 50-65 V: common
    practice, no source.
    """
    lamp, parts = Neon(), Parts()
    up, down = [], []
    for volts in range(120):
        for _ in range(5):
            lamp.step(volts, parts)
        up.append(lamp.lit)
    for volts in range(119, -1, -1):
        lamp.step(volts, parts)
        down.append(lamp.lit)
    lights, lets_go = up.index(True), 119 - down.index(False)
    assert 60 <= lights <= 90
    assert 50 <= lets_go <= 65


def test_both_voltages_of_a_lamp_can_age() -> None:
    """A lamp with a risen holding voltage is lit by 120 V and out at 95 V, where a good one stays lit."""
    states = []
    for holds, strikes in ((58.0, 78.0), (97.0, 119.0)):
        lamp, parts = Neon(), Parts(pilot_holds=holds, pilot_strikes=strikes, pilot_runs=holds - 3)
        for volts in (120.0,) * 5 + (95.0,) * 5:
            lamp.step(volts, parts)
        states.append(lamp.lit)
    assert states == [True, False]
