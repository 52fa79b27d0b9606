"""Meters as they are: counts, ranges, windows, moods."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchtui.model.readings import Flag, Floats
from benchtui.model.units import Unit
from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.metermodel import MeterModel, autoranges
from benchtui.sim.meters import Meter, Taken
from benchtui.sim.receiver import COLUMNS

PLAIN = MeterModel("m", "B+2", rate=2.0, noise=0.0)


def showing(model: MeterModel, volts: Floats, ripple: float = 0.0, seed: int = 1) -> Taken:
    """What a meter shows of a course of volts on its point, a value a step."""
    trace = np.zeros((len(volts), len(COLUMNS)))
    trace[:, COLUMNS.index(model.point)] = volts
    trace[:, COLUMNS.index("ripple")] = ripple
    return Meter(model, seed).take(trace, 0, len(trace))


def flat(volts: float, seconds: float = 20.0) -> Floats:
    return np.full(round(seconds * STEPS_PER_S), volts)


@pytest.mark.parametrize(
    ("counts", "volts", "shown", "places"),
    [
        (2000, 285.37, 285.0, 0), (6000, 285.37, 285.4, 1), (20000, 285.37, 285.4, 1),
        (60000, 285.37, 285.37, 2),
        (6000, 9.4321, 9.43, 2), (6000, 5.12345, 5.123, 3), (200000, 9.43214, 9.4321, 4),
    ],
)  # fmt: skip
def test_a_display_has_the_digits_of_its_range(counts: int, volts: float, shown: float, places: int) -> None:
    """A display of so many counts shows what fits into the range that the value needs (definition)."""
    taken = showing(replace(PLAIN, counts=counts, ranges=autoranges(counts)), flat(volts))
    assert taken.value[-1] == shown
    assert taken.decimals[-1] == places


def test_what_is_shown_is_the_float_that_its_text_reads_as() -> None:
    """Every value equals `float` of its own decimal text: the wire loses nothing."""
    rng = np.random.default_rng(3)
    taken = showing(replace(PLAIN, noise=0.4), rng.uniform(0, 400, 4000))
    texts = [f"{v:.{d}f}" for v, d in zip(taken.value, taken.decimals, strict=True) if np.isfinite(v)]
    assert [float(t) for t in texts] == taken.value[np.isfinite(taken.value)].tolist()


def test_readings_come_at_the_rate_and_average_over_the_window() -> None:
    """A step shows in one reading as the part of the window after it, then whole."""
    model = replace(PLAIN, ranges=(600.0,))
    volts = np.concatenate([flat(100.0, 10), flat(200.0, 10)])
    taken = showing(model, volts)
    assert np.diff(taken.t_ns) == pytest.approx(np.full(len(taken) - 1, 0.5e9))
    between = (taken.value > 100) & (taken.value < 200)
    assert between.sum() <= 1
    for row in np.flatnonzero(between):
        part = (taken.t_ns[row] / 1e9 - 10.0) / 0.5
        assert taken.value[row] == pytest.approx(100 + 100 * part, abs=0.3)


def test_above_its_last_range_it_shows_overload() -> None:
    """A fixed range that is passed gives the overload word and no value, again and again."""
    taken = showing(replace(PLAIN, ranges=(200.0,)), flat(285.0))
    assert (taken.flags == int(Flag.OVERLOAD)).all()
    assert np.isnan(taken.value).all()


@pytest.mark.parametrize("manner", ["overload", "half", "skip"])
def test_a_range_change_shows_as_the_meter_s_manner_is(manner: str) -> None:
    """Going up: one overload, or one half-settled reading, or nothing; then a pause, then the value."""
    volts = np.concatenate([flat(50.0, 10), flat(285.0, 10)])
    taken = showing(replace(PLAIN, range_manner=manner, window_s=0.02), volts)
    after = taken.t_ns > 10.0e9
    over = taken.flags[after] == int(Flag.OVERLOAD)
    values = taken.value[after][~over]
    assert over.sum() == (1 if manner == "overload" else 0)
    assert values[-1] == 285.0
    assert bool(60.0 < values[0] < 285.0) is (manner == "half")
    assert np.diff(taken.t_ns[taken.t_ns > 9.4e9]).max() > 0.6e9


def test_a_sleeping_meter_sends_nothing_and_comes_back() -> None:
    """No reading in its sleep, the usual ones before and after."""
    taken = showing(replace(PLAIN, sleeps=((5.0, 12.0),)), flat(285.0))
    seconds = taken.t_ns / 1e9
    assert not ((seconds >= 5) & (seconds < 12)).any()
    assert (seconds < 5).any()
    assert (seconds >= 12).any()


def test_a_held_display_repeats_the_reading_before() -> None:
    """Held, it sends the last reading on, to the digit, though the point moves."""
    volts = np.linspace(100, 300, 20 * STEPS_PER_S)
    taken = showing(replace(PLAIN, ranges=(600.0,), held=((8.0, 14.0),)), volts)
    seconds = taken.t_ns / 1e9
    held = taken.value[(seconds >= 8) & (seconds < 14)]
    assert len(set(held.tolist())) == 1
    assert held[0] == taken.value[seconds < 8][-1]
    assert taken.value[-1] > held[0] + 50


def test_a_lead_that_fell_off_reads_almost_nothing() -> None:
    """300 V to millivolts in one reading: an open input, not a discharge."""
    taken = showing(replace(PLAIN, lead_off=((10.0, 20.0),), ranges=(600.0,)), flat(300.0))
    seconds = taken.t_ns / 1e9
    assert (taken.value[seconds < 10] == 300).all()
    assert (np.abs(taken.value[seconds >= 10]) < 0.5).all()


def test_leads_the_wrong_way_round_turn_the_sign() -> None:
    """The same digits with a minus."""
    taken = showing(replace(PLAIN, reversed=((10.0, 20.0),)), flat(285.0))
    assert set(np.sign(taken.value).tolist()) == {1.0, -1.0}
    assert set(np.abs(taken.value).tolist()) == {285.0}


@pytest.mark.parametrize("says", [True, False])
def test_on_ac_it_reads_the_ripple_and_says_so_if_its_wire_says_units(says: bool) -> None:
    """On AC a B+ of 285 V reads as its few volts of ripple: the commonest wrong setting."""
    model = replace(PLAIN, point="B+1", wrong=((10.0, 20.0),), says_unit=says, range_s=0.0)
    taken = showing(model, flat(285.0), ripple=3.6)
    assert taken.value[-1] == pytest.approx(3.6, abs=0.01)
    assert Unit(int(taken.unit[-1])) is (Unit.VAC if says else Unit.V)


def test_a_window_of_whole_half_cycles_rejects_ripple_and_a_short_one_does_not() -> None:
    """Averaged over 100 ms, 100 Hz is gone; over 35 ms some of it stays (definition of the mean)."""
    spread = []
    for window in (0.1, 0.035):
        taken = showing(replace(PLAIN, point="B+1", window_s=window), flat(285.0), ripple=3.6)
        spread.append(float(np.ptp(taken.value)))
    assert spread[0] <= 0.1 < spread[1]


def test_a_slipped_point_is_one_reading_ten_times_too_large() -> None:
    """Once, and the next is right again."""
    taken = showing(replace(PLAIN, slips=(9.9,)), flat(285.0))
    assert taken.value.max() == 2850.0
    assert (taken.value == 2850.0).sum() == 1


def test_a_light_sensor_says_lit_or_out() -> None:
    """A state has no digits and no range."""
    model = MeterModel("s", "pilot", Unit.STATE, rate=5.0, window_s=0.1)
    taken = showing(model, np.concatenate([flat(1.0, 10), flat(0.0, 10)]))
    assert set(taken.value.tolist()) == {0.0, 1.0}
    assert (taken.value[taken.t_ns < 10e9] == 1).all()
    assert (taken.value[taken.t_ns > 10.2e9] == 0).all()
