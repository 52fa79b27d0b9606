"""The set's supply as a whole: RC, overshoot, warm-up, bring-up, power-off, and that its currents add up."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.parts import INFINITE, Parts
from benchtui.sim.receiver import RECTIFIERS

from .bench import column, nominal, now, steps


def settled(rectifier: str) -> tuple[float, float]:
    """Greatest B+1 within a minute of power-on, and B+1 after five."""
    receiver = nominal(rectifier)
    receiver.switch = True
    steps(receiver, 300)
    volts = column(receiver, "B+1")
    return float(volts[: 60 * STEPS_PER_S].max()), float(volts[-1])


def only_a_bleeder(farads: float, ohms: float, volts: float):  # type: ignore[no-untyped-def]
    """The reservoir with one resistor across it and nothing else."""
    receiver = nominal(c31=farads, leak31=ohms, r33=INFINITE, r36=INFINITE, strength6=0.0)
    receiver._v1 = volts
    return receiver


def test_a_capacitor_discharges_as_its_time_constant_says() -> None:
    """After 1 to 5 time constants 63.2, 86.5, 95.1, 98.2 and 99.3 % are gone (US Army training text)."""
    receiver = only_a_bleeder(47e-6, 220e3, 450.0)
    gone = []
    for _ in range(5):
        steps(receiver, 47e-6 * 220e3)
        gone.append(100 * (1 - now(receiver, "B+1") / 450))
    assert gone == pytest.approx([63.2, 86.5, 95.1, 98.2, 99.3], abs=0.15)


def test_bleeding_from_450_to_50_volts_takes_22_7_seconds() -> None:
    """47 uF through 220 k: t = RC ln(V0/V1) = 22.72 s; at the start 4.76 J are stored (arithmetic)."""
    receiver = only_a_bleeder(47e-6, 220e3, 450.0)
    steps(receiver, 30)
    volts = column(receiver, "B+1")
    assert np.argmax(volts < 50) / STEPS_PER_S == pytest.approx(22.72, rel=0.005)
    burnt = float((volts**2 / 220e3).sum() / STEPS_PER_S)
    left = 0.5 * 47e-6 * volts[-1] ** 2
    assert pytest.approx(4.76, abs=0.005) == 0.5 * 47e-6 * 450**2
    assert burnt + left == pytest.approx(4.76, rel=0.005)


@pytest.mark.parametrize("rectifier", ["solid", "direct"])
def test_a_rectifier_ahead_of_the_valves_overshoots_as_a_flat_top(rectifier: str) -> None:
    """Solid or directly heated: 15-40 % over the settled value, flat for some seconds (common practice)."""
    most, level = settled(rectifier)
    assert 1.15 <= most / level <= 1.40
    receiver = nominal(rectifier)
    receiver.switch = True
    steps(receiver, 30)
    volts = column(receiver, "B+1")
    assert (volts > 0.99 * most).sum() / STEPS_PER_S >= 5


def test_an_indirectly_heated_rectifier_overshoots_little() -> None:
    """It warms with the valves: little or none (common practice, no source)."""
    most, level = settled("indirect")
    assert most / level <= 1.08


def test_each_rectifier_and_the_load_valves_come_in_when_they_should() -> None:
    """Solid at once, direct in 2-5 s, the load valves in 10-25 s (common practice, no source)."""
    half = {}
    for rectifier in RECTIFIERS:
        receiver = nominal(rectifier)
        receiver.switch = True
        steps(receiver, 60)
        half[rectifier] = float(np.argmax(column(receiver, "B+1") > 142)) / STEPS_PER_S
        conducts = float(np.argmax(column(receiver, "output current") > 17e-3)) / STEPS_PER_S
        assert 10 <= conducts <= 25
    assert half["solid"] < 1
    assert 2 <= half["direct"] <= 5
    assert 8 <= half["indirect"] <= 25


@pytest.mark.parametrize("rectifier", RECTIFIERS)
def test_the_nominal_set_reads_as_its_chart_says(rectifier: str) -> None:
    """Five minutes after power-on every point of the nominal set is within 1.5 % of the chart."""
    receiver = nominal(rectifier)
    receiver.switch = True
    steps(receiver, 300)
    chart = {
        "B+1": 285, "B+2": 240, "screen": 185, "V6 cathode": 9.4, "regulator": 150, "B+4": 95, "mains": 230,
        "heater": 6.3, "pilot": 1,
    }  # fmt: skip
    assert {p: now(receiver, p) for p in chart} == pytest.approx(chart, rel=0.015)


def test_a_slow_bring_up_of_a_valve_rectified_set() -> None:
    """Almost nothing below half the mains, then B+ jumps; as the valves wake it sags (common practice)."""
    receiver = nominal("direct")
    receiver.switch = True
    peaks, ends = {}, {}
    for percent in range(10, 101, 5):
        receiver.variac = percent / 100
        before = len(column(receiver, "B+1")) if receiver.steps else 0
        steps(receiver, 90)
        course = column(receiver, "B+1")[before:]
        peaks[percent], ends[percent] = float(course.max()), float(course[-1])
    assert max(ends[p] for p in (10, 15, 20, 25, 30, 35)) < 0.05 * ends[100]
    assert max(ends[p + 10] - ends[p] for p in (40, 45, 50)) > 0.3 * ends[100]
    assert all(peaks[p] - ends[p] > 3 for p in (60, 65, 70))
    assert peaks[100] < 1.02 * ends[100]


def test_eight_seconds_off_and_on_is_a_warm_restart() -> None:
    """The cathodes are still warm: B+1 overshoots less and less long than from cold."""
    receiver = nominal("solid")
    receiver.switch = True
    steps(receiver, 120)
    cold = float((column(receiver, "B+1") > 300).sum()) / STEPS_PER_S
    receiver.switch = False
    steps(receiver, 8)
    receiver.switch = True
    start = receiver.steps
    steps(receiver, 60)
    warm = float((column(receiver, "B+1")[start:] > 300).sum()) / STEPS_PER_S
    assert 0 < warm < 0.6 * cold


def test_hot_valves_discharge_the_supply_and_cold_ones_do_not() -> None:
    """Switched off hot, the valves pull B+1 under 30 V in seconds; cold, only the divider bleeds it."""
    falls = []
    for on_s in (8.0, 120.0):
        receiver = nominal("solid")
        receiver.switch = True
        steps(receiver, on_s)
        receiver.switch = False
        steps(receiver, 60)
        falls.append(
            float(np.argmax(column(receiver, "B+1")[round(on_s * STEPS_PER_S) :] < 30)) / STEPS_PER_S
        )
    assert falls[1] < 3 < 5 < falls[0] < 30


def test_every_charge_is_accounted_for_after_power_off() -> None:
    """What C31 loses is what flows out of it: through V6, the regulator's feed and the tree below."""
    receiver, p = nominal("solid"), Parts()
    receiver.switch = True
    steps(receiver, 120)
    receiver.switch = False
    start = receiver.steps
    steps(receiver, 2)
    v1, v2 = column(receiver, "B+1")[start - 1 :], column(receiver, "B+2")[start - 1 :]
    v8, i6 = column(receiver, "regulator")[start:], column(receiver, "output current")[start:]
    out = (v1[1:] - v2[1:]) / p.r33 + i6 + (v1[1:] - v8) / p.r36
    assert float(out.sum()) / STEPS_PER_S == pytest.approx(p.c31 * float(v1[0] - v1[-1]), rel=0.03)


def test_the_steps_agree_with_a_solver_that_chooses_its_own() -> None:
    """Rising from cold behind a solid rectifier, all four capacitors are within 2 % of scipy's LSODA."""
    integrate = pytest.importorskip("scipy.integrate")
    p = Parts()
    peak, ohms = 230.0 * p.turns_ht, p.r_source

    def flows(_: float, v: np.ndarray) -> list[float]:
        v1, v2, vs, v4 = v
        into = 0.0
        if v1 < peak:
            a = math.acos(v1 / peak)
            into = 2 * peak / (math.pi * ohms) * (math.sin(a) - a * v1 / peak)
        v8 = (v1 - 149.0) / (p.r36 + p.v8_slope) if v1 > p.v8_strikes else 0.0
        lamp = max(0.0, v4 - p.pilot_runs) / p.r41 if v4 > p.pilot_strikes else 0.0
        down, screen, divider = (v1 - v2) / p.r33, (v2 - vs) / p.r12, (v2 - v4) / p.r38
        return [
            (into - down - v8) / p.c31,
            (down - screen - divider) / p.c32,
            screen / p.c22,
            (divider - v4 / p.r39 - lamp) / p.c38,
        ]

    receiver = nominal("solid", r_primary=0.0)
    receiver.switch = True
    steps(receiver, 2)
    at = [0.3, 0.6, 1.0, 2.0]
    right = integrate.solve_ivp(flows, (0, 2), [0, 0, 0, 0], "LSODA", t_eval=at, max_step=0.01).y
    for row, point in enumerate(("B+1", "B+2", "screen", "B+4")):
        ours = column(receiver, point)[[round(t * STEPS_PER_S) - 1 for t in at]]
        assert ours == pytest.approx(right[row], rel=0.02), point


def test_a_meter_loads_the_point_that_it_is_on() -> None:
    """A meter across the lower of two equal resistors reads less by Rth/(Rth + Rm) (course text formula).

    30 V over two 400 k on a 20 V range of 20 kohm/V reads 10 V where 15 are true; here R38 and R39 are the
    divider, the valves cold and the lamp out.
    """
    volts = []
    for meter_ohms in (INFINITE, 400e3):
        receiver = nominal("solid", r38=400e3, r39=400e3, c38=1e-9, pilot_strikes=1e9)
        receiver.switch = True
        receiver.load["B+4"] = 1.0 / meter_ohms
        steps(receiver, 5)
        volts.append(now(receiver, "B+4") / now(receiver, "B+2") * 30)
    assert volts == pytest.approx([15.0, 10.0], rel=1e-3)
