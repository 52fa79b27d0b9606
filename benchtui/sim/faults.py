"""Faults of the Saltmarsh Six: each is a change of a component, and the set does the rest.

A fault says what it did to the component and when, in `spells`; what follows on the test points is worked out
by the model, not written here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .mains import STEPS_PER_S
from .parts import INFINITE
from .receiver import DT, Receiver

OPEN = 50e6
"""Ohms of a joint or a resistor that is open: dirt and damp still carry a little."""


@dataclass(slots=True)
class Fault:
    """A change of one component that begins at `at_s` and lasts until `until_s` (None: for good)."""

    name: str
    point: str
    """The test point nearest to the component: where a skilled person would say the fault is."""
    kind: str
    """What the change does there: step, dropout, drift, chatter or glow."""
    at_s: float = 0.0
    until_s: float | None = None
    spells: list[list[float | None]] = field(default_factory=list)
    """[start, end] of each time the component was bad, seconds; end None while it lasts."""

    def act(self, receiver: Receiver, now_s: float) -> None:
        """Called before each step."""

    def tap(self, now_s: float) -> None:
        """The technician tapped the chassis."""

    def _bad(self, now_s: float, bad: bool) -> None:
        """Keeps the record of spells."""
        lasting = bool(self.spells) and self.spells[-1][1] is None
        if bad and not lasting:
            self.spells.append([now_s, None])
        elif lasting and not bad:
            self.spells[-1][1] = now_s


@dataclass(slots=True)
class Change(Fault):
    """A value that moves from what it was to another: at once, or evenly on a logarithmic scale over `over_s`."""

    part: str = ""
    to: float = 0.0
    factor: bool = False
    """True: `to` is a factor on the value; False: the value itself."""
    over_s: float = 0.0
    _from: float | None = None
    _stage: int = 0

    def act(self, receiver: Receiver, now_s: float) -> None:
        if self._stage == 2 or now_s < self.at_s:
            return
        parts = receiver.parts
        if self._from is None:
            self._from = float(getattr(parts, self.part))
        target = self._from * self.to if self.factor else self.to
        if self.until_s is not None and now_s >= self.until_s:
            setattr(parts, self.part, self._from)
            self._stage = 2
            self._bad(now_s, False)
            return
        if self._stage == 0:
            self._bad(now_s, True)
        elif now_s > self.at_s + self.over_s + 1.0:
            return
        self._stage = 1
        share = min(1.0, (now_s - self.at_s) / self.over_s) if self.over_s > 0 else 1.0
        setattr(parts, self.part, _between(self._from, target, share))


def _between(start: float, end: float, share: float) -> float:
    if share >= 1.0:
        return end
    if start > 0 and end > 0:
        return start * math.exp(share * math.log(end / start))
    return start + share * (end - start)


@dataclass(slots=True)
class DryJoint(Fault):
    """A joint that opens as the chassis warms; a tap closes it for a while.

    What holds it closed is a contact force: it falls as the chassis warms and pulls the joint apart, a tap sets
    it right again and that relaxes. Just where it opens it crackles.
    """

    part: str = "joint36"
    opens_at_c: float = 30.0
    """Chassis temperature, degrees Celsius, at which it opens when left alone."""
    tap_holds_s: float = 40.0
    """Time in which the good a tap did falls to a third."""
    open_ohms: float = OPEN
    crackle: float = 0.15
    seed: int = 0
    _force: float = 0.0
    _noise: float = 0.0
    _rng: np.random.Generator | None = None
    _is_open: bool = False

    def tap(self, now_s: float) -> None:
        if now_s >= self.at_s:
            self._force = 6.0

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.at_s:
            return
        if self._rng is None:
            self._rng = np.random.default_rng([self.seed, 0xD])
        if receiver.steps % 5 == 0:
            self._noise = 0.8 * self._noise + 0.6 * self.crackle * float(self._rng.standard_normal())
        self._force -= self._force * DT / self.tap_holds_s
        held = self.opens_at_c - receiver.chassis + self._force + self._noise
        if self._is_open and held > 0.4:
            self._is_open = False
        elif not self._is_open and held < 0.0:
            self._is_open = True
        if self.until_s is not None and now_s >= self.until_s:
            self._is_open = False
        setattr(receiver.parts, self.part, self.open_ohms if self._is_open else 0.0)
        self._bad(now_s, self._is_open)


@dataclass(slots=True)
class Intermittent(Fault):
    """A part that opens for moments, at random: a telegraph between good and bad."""

    part: str = "r33"
    open_ohms: float = OPEN
    added: bool = True
    """True: in series with the part; False: instead of its value."""
    every_s: float = 60.0
    """Mean time from one to the next."""
    lasts_s: tuple[float, float] = (0.1, 1.5)
    seed: int = 0
    _good: float | None = None
    _next: float = -1.0
    _until: float = -1.0
    _rng: np.random.Generator | None = None

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.at_s:
            return
        if self._rng is None:
            self._rng = np.random.default_rng([self.seed, 0xE])
            self._good = float(getattr(receiver.parts, self.part))
            self._next = self.at_s + (0.0 if self.every_s >= 1e6 else self._draw())
        good = self._good or 0.0
        ended = self.until_s is not None and now_s >= self.until_s
        if self._until < 0 and now_s >= self._next and not ended and receiver.switch:
            low, high = self.lasts_s
            self._until = now_s + low * (high / low) ** float(self._rng.random())
            setattr(receiver.parts, self.part, good + self.open_ohms if self.added else self.open_ohms)
            self._bad(now_s, True)
        elif self._until >= 0 and (now_s >= self._until or ended):
            setattr(receiver.parts, self.part, good)
            self._until = -1.0
            self._next = now_s + self._draw()
            self._bad(now_s, False)

    def _draw(self) -> float:
        assert self._rng is not None
        return max(2.0, self.every_s * float(self._rng.exponential()))


@dataclass(slots=True)
class Restless(Fault):
    """A resistor whose value jumps about: many small moves a second."""

    part: str = "r12"
    sd: float = 0.15
    """Of the value's logarithm."""
    turns_s: float = 0.4
    """Time in which it forgets."""
    seed: int = 0
    _good: float | None = None
    _level: float = 0.0
    _rng: np.random.Generator | None = None

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.at_s:
            return
        if self._rng is None:
            self._rng = np.random.default_rng([self.seed, 0xF])
            self._good = float(getattr(receiver.parts, self.part))
        if self.until_s is not None and now_s >= self.until_s:
            setattr(receiver.parts, self.part, self._good)
            self._bad(now_s, False)
            return
        if receiver.steps % 5 == 0:
            keep = math.exp(-5 * DT / self.turns_s)
            self._level = keep * self._level + self.sd * math.sqrt(1 - keep**2) * float(
                self._rng.standard_normal()
            )
            setattr(receiver.parts, self.part, (self._good or 0.0) * math.exp(self._level))
            self._bad(now_s, True)


Maker = Callable[..., Fault]


def _change(point: str, kind: str, part: str, to: float, factor: bool = False, over_s: float = 0.0) -> Maker:
    def make(name: str, at_s: float, until_s: float | None, amount: float | None, seed: int) -> Fault:
        given = to if amount is None else amount
        return Change(name, point, kind, at_s, until_s, part=part, to=given, factor=factor, over_s=over_s)

    return make


def _joint(point: str, part: str) -> Maker:
    def make(name: str, at_s: float, until_s: float | None, amount: float | None, seed: int) -> Fault:
        return DryJoint(
            name, point, "dropout", at_s, until_s, part=part, opens_at_c=amount or 30.0, seed=seed
        )

    return make


def _blinks(point: str, part: str) -> Maker:
    def make(name: str, at_s: float, until_s: float | None, amount: float | None, seed: int) -> Fault:
        return Intermittent(
            name, point, "dropout", at_s, until_s, part=part, every_s=amount or 60.0, seed=seed
        )

    return make


def _restless(point: str, part: str) -> Maker:
    def make(name: str, at_s: float, until_s: float | None, amount: float | None, seed: int) -> Fault:
        return Restless(name, point, "chatter", at_s, until_s, part=part, sd=amount or 0.15, seed=seed)

    return make


FAULTS: dict[str, Maker] = {
    "pilot_aged": _change("pilot", "glow", "pilot_holds", 96.5),
    "regulator_joint": _joint("regulator", "joint36"),
    "regulator_lead_joint": _joint("regulator", "joint_v8"),
    "coupling_leak": _change("V6 cathode", "drift", "leak25", 20e6, over_s=120.0),
    "coupling_leak_sudden": _change("V6 cathode", "step", "leak25", 20e6),
    "screen_dropper_open": _change("screen", "step", "r12", OPEN),
    "screen_dropper_high": _change("screen", "drift", "r12", 1.8, factor=True, over_s=240.0),
    "screen_dropper_step": _change("screen", "step", "r12", 1.5, factor=True),
    "screen_blinks": _blinks("screen", "r12"),
    "screen_restless": _restless("screen", "r12"),
    "screen_capacitor_short": _change("screen", "step", "leak22", 40.0),
    "screen_capacitor_leak": _change("screen", "drift", "leak22", 60e3, over_s=240.0),
    "v6_low_emission": _change("V6 cathode", "step", "emission6", 0.05, factor=True),
    "v6_emission_falls": _change("V6 cathode", "drift", "emission6", 0.06, factor=True, over_s=400.0),
    "v6_gas": _change("V6 cathode", "drift", "gas6", 1.5e-4, over_s=180.0),
    "v6_heater_joint": _change("V6 cathode", "dropout", "heater6_joint", OPEN),
    "heater_joint": _change("heater", "step", "heater_joint", 0.45),
    "bias_resistor_high": _change("V6 cathode", "drift", "r27", 1.5, factor=True, over_s=300.0),
    "bias_resistor_step": _change("V6 cathode", "step", "r27", 1.25, factor=True),
    "reservoir_loss": _change("B+1", "step", "c31", 0.08, factor=True),
    "reservoir_leak": _change("B+1", "drift", "leak31", 8e3, over_s=300.0),
    "reservoir_short": _change("B+1", "step", "leak31", 30.0),
    "second_reservoir_leak": _change("B+2", "drift", "leak32", 12e3, over_s=300.0),
    "second_reservoir_short": _change("B+2", "step", "leak32", 30.0),
    "dropper_blinks": _blinks("B+2", "r33"),
    "dropper_high": _change("B+2", "step", "r33", 1.6, factor=True),
    "dropper_restless": _restless("B+2", "r33"),
    "divider_blinks": _blinks("B+4", "r38"),
    "divider_high": _change("B+4", "step", "r38", 1.3, factor=True),
    "rectifier_open": _change("B+1", "step", "halves", 0.0),
    "rectifier_half": _change("B+1", "step", "halves", 0.5),
    "rectifier_blinks": _blinks("B+1", "r_source"),
}
"""Name -> maker. Each takes its own meaning of `amount`: ohms, volts, a factor, degrees or seconds."""
FAULTS["pilot_ages"] = _change("pilot", "glow", "pilot_holds", 100.0, over_s=600.0)


def make_fault(
    name: str, at_s: float = 0.0, until_s: float | None = None, amount: float | None = None, seed: int = 0
) -> Fault:
    """A fault by its name in FAULTS.

    Raises:
        ValueError: there is no fault of that name; the text lists them.
    """
    if name not in FAULTS:
        raise ValueError(f"no fault is named {name!r}; there are: {', '.join(sorted(FAULTS))}")
    return FAULTS[name](name, at_s, until_s, amount, seed)


__all__ = [
    "FAULTS",
    "INFINITE",
    "OPEN",
    "STEPS_PER_S",
    "Change",
    "DryJoint",
    "Fault",
    "Intermittent",
    "Restless",
    "make_fault",
]
