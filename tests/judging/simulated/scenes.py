"""The scenes: what goes wrong, or does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from benchtui.sim.script import Act, bring_up

from .plot import WARM_S, Plot


@dataclass(frozen=True, slots=True)
class Scene:
    """One scene."""

    name: str
    play: Callable[[Plot], None]


def _blinks(name: str, warm_up: bool = False) -> Scene:
    def play(plot: Plot) -> None:
        low = plot.even(0.3, 3.0)
        every = plot.uniform(30, 90)
        plot.bad(name, plot.when(warm_up), amount=every, lasts_s=(low, low * plot.uniform(1.5, 4)))

    return Scene(f"{name}{'_in_warm_up' if warm_up else ''}", play)


def _goes(
    name: str, low: float, high: float, comes_back: bool = False, over: tuple[float, float] | None = None
) -> Scene:
    """A part that changes at once (or over some time), by an amount between two."""

    def play(plot: Plot) -> None:
        at = plot.when()
        until = at + plot.uniform(8, 40) if comes_back else None
        how = {} if over is None else {"over_s": plot.uniform(*over)}
        plot.bad(name, at, until_s=until, amount=plot.even(low, high), **how)
        if over is not None:
            plot.seconds = at + over[1] + 80

    return Scene(f"{name}{'_and_back' if comes_back else ''}", play)


def _pilot(plot: Plot) -> None:
    plot.rectifier = str(plot.rng.choice(["direct", "solid"]))
    plot.bad("pilot_aged", 0.0, amount=plot.uniform(25, 90))
    plot.needs.add("B+4")


def _pilot_twice(plot: Plot) -> None:
    _pilot(plot)
    off = plot.on_s + plot.uniform(120, 150)
    plot.acts += [Act(off, "off"), Act(off + plot.uniform(60, 90), "on")]


def _joint(plot: Plot) -> None:
    plot.bad("regulator_joint", 0.0, amount=plot.uniform(37.0, 41.0))


def _joint_with_taps(plot: Plot) -> None:
    _joint(plot)
    at = plot.on_s + plot.uniform(60, 90)
    while at < plot.seconds - 30:
        plot.acts.append(Act(at, "tap", "chassis"))
        at += plot.uniform(25, 60)


def _tapped_to_fail(plot: Plot) -> None:
    """A part that opens when it is tapped: the blink begins with the tap."""
    at = plot.when()
    name = str(plot.rng.choice(["dropper_blinks", "screen_blinks", "divider_blinks"]))
    for _ in range(int(plot.rng.integers(3, 5))):
        lasts = plot.uniform(1.0, 4.0)
        plot.bad(name, at + 0.1, until_s=at + lasts + 0.2, amount=1e9, lasts_s=(lasts, lasts * 1.001))
        plot.acts.append(Act(at, "tap", "valve"))
        at += plot.uniform(30, 50)
    plot.acts.append(Act(at, "tap", "valve"))
    plot.seconds = at + 40


def _frozen(plot: Plot) -> None:
    at = plot.when()
    plot.befalls(plot.some_point(), held=((at, at + plot.uniform(60, 140)),))
    plot.sag(at + plot.uniform(15, 25), plot.uniform(3, 8), plot.uniform(0.05, 0.1))
    plot.needs.add("mains")


def _wrong_function(plot: Plot) -> None:
    at = plot.when()
    point = str(plot.rng.choice(["B+1", "B+2", "V6 cathode"]))
    plot.befalls(point, wrong=((at, at + plot.uniform(20, 60)),), says_unit=True)


def _reversed(plot: Plot) -> None:
    at = plot.when()
    plot.befalls(plot.some_point(), reversed=((at, at + plot.uniform(20, 60)),))


def _too_low_a_range(plot: Plot) -> None:
    plot.befalls("B+1", ranges=(200.0,), counts=2000)


def _fault_and_sags(plot: Plot) -> None:
    at = plot.when()
    plot.bad("screen_dropper_step", at, amount=plot.uniform(1.15, 1.6))
    for offset in (-30.0, 35.0, 70.0):
        plot.sag(at + offset + plot.uniform(-5, 5), plot.uniform(1, 4), plot.uniform(0.04, 0.1))


def _off_and_bleed(plot: Plot) -> None:
    plot.acts.append(Act(plot.on_s + plot.uniform(130, 200), "off"))


FAULTS = (
    _blinks("dropper_blinks"),
    Scene("pilot_aged", _pilot),
    _goes("bias_resistor_step", 1.12, 1.4),
    _goes("screen_dropper_high", 1.3, 2.0, over=(150, 320)),
    _blinks("screen_blinks"),
    Scene("regulator_joint", _joint),
    _goes("coupling_leak", 12e6, 40e6, over=(100, 250)),
    _goes("dropper_high", 1.2, 1.8),
    _blinks("rectifier_blinks"),
    Scene("tapped_to_fail", _tapped_to_fail),
    _goes("rectifier_open", 0.0001, 0.0001),
    _goes("screen_restless", 0.1, 0.3),
    _goes("v6_heater_joint", 4e7, 5e7),
    Scene("frozen", _frozen),
    _goes("reservoir_leak", 6e3, 15e3, over=(150, 300)),
    _blinks("divider_blinks"),
    Scene("regulator_joint_with_taps", _joint_with_taps),
    _goes("v6_low_emission", 0.03, 0.06),
    _goes("dropper_high", 1.3, 3.0, comes_back=True),
    Scene("wrong_function", _wrong_function),
    _goes("heater_joint", 0.25, 0.6),
    _goes("screen_dropper_open", 1e6, 5e7),
    Scene("pilot_twice", _pilot_twice),
    _goes("coupling_leak_sudden", 10e6, 60e6),
    _blinks("dropper_blinks", warm_up=True),
    _goes("divider_high", 1.1, 1.5),
    Scene("reversed", _reversed),
    _goes("rectifier_half", 0.5, 0.5),
    _goes("second_reservoir_leak", 9e3, 20e3, over=(150, 300)),
    _goes("screen_dropper_step", 1.2, 1.8, comes_back=True),
    Scene("fault_and_sags", _fault_and_sags),
    _goes("dropper_restless", 0.08, 0.25),
    _goes("reservoir_short", 25.0, 60.0),
    _blinks("regulator_blinks"),
    _goes("v6_emission_falls", 0.035, 0.06, over=(200, 400)),
    Scene("too_low_a_range", _too_low_a_range),
    _goes("bias_resistor_high", 1.2, 1.6, over=(150, 300)),
    _goes("screen_capacitor_short", 20.0, 200.0),
    _blinks("screen_blinks", warm_up=True),
    _goes("divider_foot_open", 1e6, 5e7),
    _goes("regulator_stays_out", 18e-3, 25e-3),
    _goes("v6_gas", 0.8e-4, 2e-4, over=(150, 300)),
)


def _plain(plot: Plot) -> None:
    plot.seconds = plot.uniform(300, 600)


def _sags(plot: Plot) -> None:
    plot.mains["sags_per_h"] = plot.uniform(30, 90)


def _soak(plot: Plot) -> None:
    plot.seconds, plot.slow = 3600.0, True
    plot.mains["sags_per_h"] = plot.uniform(0, 10)


def _evening(plot: Plot) -> None:
    plot.seconds, plot.slow = 3900.0, True
    plot.mains.update(trend_per_h=-0.04, trend_s=3600.0, wander=0.001)
    plot.needs.add("mains")


def _warm_restart(plot: Plot) -> None:
    off = plot.on_s + plot.uniform(130, 180)
    plot.acts += [Act(off, "off"), Act(off + plot.uniform(5, 12), "on")]


def _second_run(plot: Plot) -> None:
    off = plot.on_s + plot.uniform(130, 160)
    plot.acts += [Act(off, "off"), Act(off + plot.uniform(40, 90), "on")]
    plot.seconds = off + 250


def _bring_up(plot: Plot) -> None:
    every = plot.uniform(25, 45)
    plot.acts += [act for act in bring_up(plot.on_s, 10 / 230, every) if act.what != "on"]
    plot.seconds = plot.on_s + 24 * every + 120
    plot.slow = True
    plot.needs.add("mains")


def _sleeps(plot: Plot) -> None:
    at = plot.when()
    plot.befalls(plot.some_point(), sleeps=((at, at + plot.uniform(15, 120)),))


def _sleeps_through_settling(plot: Plot) -> None:
    at = plot.on_s + plot.uniform(1, 8)
    plot.befalls(plot.some_point(), sleeps=((at, plot.on_s + WARM_S + plot.uniform(0, 40)),))


def _slips(plot: Plot) -> None:
    plot.befalls(plot.some_point(), slips=(plot.when(), plot.when() + 60))


def _half_settled(plot: Plot) -> None:
    plot.befalls("B+1", range_manner="half", ranges=(60.0, 300.0, 1000.0), counts=6000)


def _restless_mains(plot: Plot) -> None:
    plot.mains.update(wander=0.012, flutter=0.002)
    plot.needs.add("mains")


def _sags_close(plot: Plot) -> None:
    at = plot.when()
    for _ in range(int(plot.rng.integers(3, 7))):
        plot.sag(at, plot.uniform(0.5, 2.5), plot.uniform(0.03, 0.09))
        at += plot.uniform(3, 8)


QUIET = tuple(
    Scene(play.__name__.lstrip("_"), play)
    for play in (
        _plain, _sags, _soak, _warm_restart, _sleeps, _off_and_bleed, _evening, _restless_mains, _bring_up,
        _slips, _sleeps_through_settling, _sags_close, _second_run, _half_settled,
    )
)  # fmt: skip
SCENES = {scene.name: scene for scene in (*FAULTS, *QUIET)}


def scene_of(seed: int) -> tuple[Scene, bool]:
    """The scene of a seed, and whether it is fault-free: every third is."""
    third, place = divmod(seed, 3)
    if place == 0:
        return QUIET[third % len(QUIET)], True
    return FAULTS[(2 * third + place - 1) % len(FAULTS)], False
