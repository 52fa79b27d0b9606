"""Heaters and cathodes."""

from __future__ import annotations

import math

import pytest

from benchtui.sim.thermal import ROOM, WORK, Filament, Indirect, emission


def test_emission_follows_the_richardson_dushman_law() -> None:
    """Emission over T^2 falls as exp(-w/T): its logarithm is straight over 1/T (the equation's form)."""
    hot = [0.7, 0.8, 0.9, 1.0]
    logs = [math.log(emission(t) / t**2) for t in hot]
    slopes = [(logs[i + 1] - logs[i]) / (1 / hot[i + 1] - 1 / hot[i]) for i in range(3)]
    assert slopes == pytest.approx([-WORK] * 3)


@pytest.mark.parametrize("made", [lambda: Indirect(4.8, 6.3, 13.0, 14.0), lambda: Filament(10.0, 5.0, 7.0)])
def test_at_its_heater_voltage_a_cathode_reaches_its_working_temperature(made) -> None:  # type: ignore[no-untyped-def]
    """At the rated voltage it settles at temperature 1 and draws the rated current."""
    cathode = made()
    volts = math.sqrt(cathode.ohms * cathode.watts)
    for _ in range(3000):
        amps = cathode.warm(volts, 0.1)
    assert cathode.cathode == pytest.approx(1.0, abs=0.004)
    assert amps == pytest.approx(cathode.watts / volts, rel=0.01)


def test_a_cold_heater_draws_a_surge() -> None:
    """Cold tungsten has a fraction of its hot resistance: a heater draws 3 to 7 times its current at first.

    Common practice, no source.
    """
    heater = Indirect(4.8, 6.3, 13.0, 14.0)
    first = heater.warm(6.3, 0.1)
    assert 3 <= first / (4.8 / 6.3) <= 7


def test_heat_that_goes_in_comes_out_or_stays() -> None:
    """Over a warm-up the heat put in is what is radiated and what the two bodies hold: none is lost.

    In the model's own units: power as a part of the rated, heat capacity as tau times temperature.
    """
    body = Indirect(4.8, 6.3, 13.0, 14.0)
    start = 13.0 * body.heater + 14.0 * body.cathode
    put_in = radiated = 0.0
    for _ in range(400):
        before = body.cathode
        amps = body.warm(6.3, 0.1)
        hot = body.ohms * (0.15 + 0.85 * heater_before(body, amps) / 1.3)
        put_in += amps * amps * hot / body.watts * 0.1
        radiated += (before**4 - ROOM**4) * 0.1
    assert put_in - radiated == pytest.approx(13.0 * body.heater + 14.0 * body.cathode - start, rel=1e-9)


def heater_before(body: Indirect, amps: float) -> float:
    """The heater's temperature at the step's beginning, from the current that it drew."""
    return ((6.3 / amps) / body.ohms - 0.15) / 0.85 * 1.3


def test_switched_off_it_cools_towards_the_room() -> None:
    """Ten minutes after power-off nothing is above the room by more than a fifth of the way."""
    body = Indirect(4.8, 6.3, 13.0, 14.0)
    for _ in range(1200):
        body.warm(6.3, 0.1)
    for _ in range(6000):
        body.warm(0.0, 0.1)
    assert ROOM <= body.cathode < ROOM + 0.2 * (1 - ROOM)
    assert emission(body.cathode) == 0.0
