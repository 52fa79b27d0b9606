"""The averaged rectifier against the same circuit stepped through every cycle."""

from __future__ import annotations

import math

import pytest

from benchtui.sim.rectifier import RMS, mean_current, ripple_pp


def stepped(
    peak: float, ohms: float, farads: float, load: float, halves: float
) -> tuple[float, float, float]:
    """Mean, ripple rms and ripple peak to peak, by going through 2 s of 50 Hz in steps of 20 us.

    Two diodes behind a resistance into a capacitor with a resistive load: nothing averaged.
    """
    dt, volts, kept = 2e-5, 0.8 * peak, []
    for i in range(100_000):
        wave = math.sin(2 * math.pi * 50 * i * dt)
        source = peak * (abs(wave) if halves == 1.0 else max(0.0, wave))
        amps = max(0.0, source - volts) / ohms
        volts += dt * (amps - volts * load) / farads
        if i >= 90_000:
            kept.append(volts)
    mean = sum(kept) / len(kept)
    rms = math.sqrt(sum((v - mean) ** 2 for v in kept) / len(kept))
    return mean, rms, max(kept) - min(kept)


def averaged(
    peak: float, ohms: float, farads: float, load: float, halves: float
) -> tuple[float, float, float]:
    """The same by the model: the voltage at which what comes in is what goes out."""
    low, high, ripple = 0.0, peak, 0.0
    for _ in range(200):
        volts = (low + high) / 2
        ripple = ripple_pp(peak, volts, ohms, farads, volts * load)
        amps, _ = mean_current(peak, volts, ohms, halves, 1e9, ripple)
        low, high = (volts, high) if amps > volts * load else (low, volts)
    return volts, ripple * RMS, ripple


@pytest.mark.parametrize("halves", [1.0, 0.5])
@pytest.mark.parametrize("farads", [64e-6, 32e-6, 16e-6, 8e-6, 4e-6])
@pytest.mark.parametrize("milliamperes", [20, 70])
def test_the_mean_voltage_is_that_of_the_circuit(halves: float, farads: float, milliamperes: float) -> None:
    """Down to an eighth of the usual capacitance the mean is right to 1 %; half wave to 4 %."""
    load = milliamperes / 1000 / 285
    true, _, _ = stepped(445, 860, farads, load, halves)
    mean, _, _ = averaged(445, 860, farads, load, halves)
    hard = halves == 0.5 and farads < 8e-6
    assert mean == pytest.approx(true, rel=0.045 if hard else 0.01)


@pytest.mark.parametrize("halves", [1.0, 0.5])
@pytest.mark.parametrize("farads", [64e-6, 32e-6, 16e-6, 8e-6])
def test_the_ripple_is_that_of_the_circuit(halves: float, farads: float) -> None:
    """Ripple peak to peak is right to 8 %, rms to 15 %, full wave and half wave."""
    _, rms, pp = stepped(445, 860, farads, 0.07 / 285, halves)
    _, mean_rms, mean_pp = averaged(445, 860, farads, 0.07 / 285, halves)
    assert mean_pp == pytest.approx(pp, rel=0.08)
    assert mean_rms == pytest.approx(rms, rel=0.15)


def test_without_load_the_reservoir_stands_at_the_peak() -> None:
    """A capacitor that nothing drains is charged to the peak: 1.414 times the rms voltage (definition)."""
    mean, _, _ = averaged(math.sqrt(2) * 250, 860, 32e-6, 1e-9, 1.0)
    assert mean == pytest.approx(353.6, rel=0.002)


def test_short_circuited_it_gives_the_mean_of_the_wave_over_the_resistance() -> None:
    """Into a short the mean current is 2P/(pi R): the mean of a rectified sine is 2/pi (definition)."""
    amps, slope = mean_current(445.0, 0.0, 860.0, 1.0, 1e9, 0.0)
    assert amps == pytest.approx(2 * 445 / (math.pi * 860))
    assert slope == pytest.approx(1 / 860)


def test_a_cold_cathode_gives_no_more_than_it_emits() -> None:
    """However low the load, the current stays under the emission."""
    amps, _ = mean_current(445.0, 10.0, 860.0, 1.0, 0.004, 0.0)
    assert 0.0039 < amps <= 0.004


@pytest.mark.parametrize("halves", [1.0, 0.5])
def test_the_slope_is_that_of_the_current(halves: float) -> None:
    """The slope handed to the solver is the current's own, by differences."""
    here, slope = mean_current(445.0, 285.0, 860.0, halves, 0.2, 0.0)
    there, _ = mean_current(445.0, 285.01, 860.0, halves, 0.2, 0.0)
    assert (here - there) / 0.01 == pytest.approx(slope, rel=1e-3)
