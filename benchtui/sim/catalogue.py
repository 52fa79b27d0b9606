"""The faults by name: which component, which point, and what a skilled person would call it there."""

from __future__ import annotations

from dataclasses import dataclass

from .contacts import DryJoint, Intermittent, Restless
from .faults import OPEN, About, AgedLamp, Change, Fault, To, aged


@dataclass(frozen=True, slots=True)
class Entry:
    """One fault of the catalogue."""

    point: str
    kind: str
    how: str
    """change, lamp, joint, blinks or restless."""
    part: str
    amount: float
    """change: the value or factor it goes to; lamp: seconds after power-on at which it lets go; joint: its
    temperature when it opens; blinks: mean seconds from one to the next; restless: the deviation of the
    value's logarithm."""
    factor: bool = False
    over_s: float = 0.0
    or_kinds: tuple[str, ...] = ()
    what: str = ""
    """In a technician's words."""


def _step(
    point: str, part: str, amount: float, what: str, *, factor: bool = False, or_kinds: tuple[str, ...] = ()
) -> Entry:
    return Entry(point, "step", "change", part, amount, factor, 0.0, or_kinds, what)


def _drift(point: str, part: str, amount: float, what: str, over_s: float, *, factor: bool = False) -> Entry:
    return Entry(point, "drift", "change", part, amount, factor, over_s, ("step", "creep"), what)


def _gone(point: str, part: str, amount: float, what: str, *, factor: bool = False) -> Entry:
    return Entry(point, "dropout", "change", part, amount, factor, 0.0, ("step",), what)


FAULTS: dict[str, Entry] = {
    "pilot_aged": Entry(
        "pilot", "glow", "lamp", "pilot_holds", 60.0, what="neon lamp aged: lets go too high"
    ),
    "pilot_ages": Entry(
        "pilot", "glow", "change", "pilot_holds", 100.0, over_s=600.0, what="neon lamp ageing while it is lit"
    ),
    "regulator_joint": Entry(
        "regulator", "dropout", "joint", "joint36", 38.0, what="dry joint in the regulator's feed, opens warm"
    ),
    "regulator_lead_joint": Entry(
        "regulator",
        "dropout",
        "joint",
        "joint_v8",
        30.0,
        or_kinds=("step",),
        what="dry joint at the tube's own pin",
    ),
    "regulator_blinks": Entry(
        "regulator", "dropout", "blinks", "joint36", 60.0, what="loose wire in its feed"
    ),
    "regulator_stays_out": _gone(
        "regulator", "v8_least", 20e-3, "regulator tube worn: goes out at its usual current"
    ),
    "coupling_leak": _drift(
        "V6 cathode", "leak25", 20e6, "coupling capacitor starts to leak as it warms", 120.0
    ),
    "coupling_leak_sudden": _step("V6 cathode", "leak25", 20e6, "coupling capacitor leaks"),
    "screen_dropper_open": _gone("screen", "r12", OPEN, "screen dropper open"),
    "screen_dropper_high": _drift("screen", "r12", 1.8, "screen dropper goes high", 240.0, factor=True),
    "screen_dropper_step": _step(
        "screen", "r12", 1.5, "screen dropper cracked: half as high again", factor=True
    ),
    "screen_blinks": Entry(
        "screen", "dropout", "blinks", "r12", 60.0, what="screen dropper opens for moments"
    ),
    "screen_restless": Entry("screen", "chatter", "restless", "r12", 0.15, what="noisy screen dropper"),
    "screen_capacitor_short": _gone("screen", "leak22", 40.0, "screen capacitor shorted"),
    "screen_capacitor_leak": _drift("screen", "leak22", 60e3, "screen capacitor leaks more and more", 240.0),
    "v6_low_emission": _step("V6 cathode", "emission6", 0.05, "output valve loses emission", factor=True),
    "v6_emission_falls": _drift("V6 cathode", "emission6", 0.06, "output valve tires", 400.0, factor=True),
    "v6_gas": _drift("V6 cathode", "gas6", 1.5e-4, "gassy output valve: grid current as it warms", 180.0),
    "v6_heater_joint": _gone("V6 cathode", "heater6_joint", OPEN, "V6's heater pin opens"),
    "heater_joint": _step("heater", "heater_joint", 0.45, "bad joint in the heater wiring"),
    "bias_resistor_high": _drift("V6 cathode", "r27", 1.5, "cathode resistor goes high", 300.0, factor=True),
    "bias_resistor_step": _step("V6 cathode", "r27", 1.25, "cathode resistor cracked", factor=True),
    "reservoir_loss": _step(
        "B+1", "c31", 0.15, "reservoir capacitor dried out: ripple, some sag", factor=True
    ),
    "reservoir_leak": _drift("B+1", "leak31", 8e3, "reservoir capacitor leaks more and more", 300.0),
    "reservoir_short": _gone("B+1", "leak31", 30.0, "reservoir capacitor shorted: the fuse goes"),
    "second_reservoir_leak": _drift("B+2", "leak32", 12e3, "second reservoir capacitor leaks", 300.0),
    "second_reservoir_short": _gone("B+2", "leak32", 30.0, "second reservoir capacitor shorted"),
    "dropper_blinks": Entry("B+2", "dropout", "blinks", "r33", 60.0, what="B+2 dropper opens for moments"),
    "dropper_high": _step("B+2", "r33", 1.6, "B+2 dropper cracked", factor=True),
    "dropper_drifts": _drift("B+2", "r33", 1.6, "B+2 dropper goes high", 400.0, factor=True),
    "dropper_restless": Entry("B+2", "chatter", "restless", "r33", 0.15, what="noisy B+2 dropper"),
    "divider_blinks": Entry(
        "B+4", "dropout", "blinks", "r38", 60.0, what="divider for B+4 opens for moments"
    ),
    "divider_high": _step("B+4", "r38", 1.3, "upper resistor of the divider for B+4 high", factor=True),
    "divider_foot_open": _step("B+4", "r39", OPEN, "lower resistor of the divider for B+4 open"),
    "rectifier_open": _gone("B+1", "halves", 0.0, "rectifier open"),
    "rectifier_half": _step("B+1", "halves", 0.5, "one anode of the rectifier open: half wave"),
    "rectifier_tired": _drift(
        "B+1", "emission_rectifier", 0.04, "rectifier loses emission", 300.0, factor=True
    ),
    "rectifier_blinks": Entry(
        "B+1", "dropout", "blinks", "r_source", 60.0, what="rectifier socket makes and breaks"
    ),
}


def make_fault(
    name: str,
    at_s: float = 0.0,
    until_s: float | None = None,
    amount: float | None = None,
    seed: int = 0,
    **more: float | tuple[float, float],
) -> Fault:
    """A fault by its name in FAULTS. Each is good for one run.

    Args:
        name: a key of FAULTS.
        at_s: when it begins.
        until_s: when the part is good again; None: never.
        amount: how bad, in the entry's own measure; None: as in the catalogue.
        seed: of its own moods.
        more: other fields of the fault's class, such as `over_s`, `lasts_s`, `open_ohms`, `tap_holds_s`.

    Raises:
        ValueError: there is no fault of that name; the text lists them.
    """
    entry = FAULTS.get(name)
    if entry is None:
        raise ValueError(f"no fault is named {name!r}; there are: {', '.join(sorted(FAULTS))}")
    kind, or_kinds = entry.kind, entry.or_kinds
    if until_s is not None and kind == "step":
        kind, or_kinds = "dropout", ("step",)
    about = About(name, entry.point, kind, or_kinds, at_s, until_s, seed)
    given = entry.amount if amount is None else amount
    fault = _made(entry, about, given)
    fault.until_s = until_s
    for key, value in more.items():
        if not hasattr(fault, key):
            raise ValueError(f"{name} has no {key!r}")
        setattr(fault, key, value)
    return fault


def _made(entry: Entry, about: About, amount: float) -> Fault:
    if entry.how == "lamp":
        return AgedLamp(about, lets_go_s=amount)
    if entry.how == "joint":
        return DryJoint(about, part=entry.part, opens_at_c=amount)
    if entry.how == "blinks":
        return Intermittent(about, part=entry.part, every_s=amount)
    if entry.how == "restless":
        return Restless(about, part=entry.part, sd=amount)
    to = aged(amount) if entry.part == "pilot_holds" else (To(entry.part, amount, entry.factor),)
    return Change(about, to=to, over_s=entry.over_s)
