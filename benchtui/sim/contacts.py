"""Contacts that come and go: a dry joint, a part that opens for moments, a resistor that jumps about."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .faults import OPEN, Fault
from .receiver import DT, Receiver


@dataclass(slots=True)
class DryJoint(Fault):
    """A joint that opens as the chassis warms; a tap closes it for a while.

    It pulls apart as it warms: with the chassis, and with the resistor beside it, which warms only while the
    joint carries current. So it opens, cools a little, closes, and opens again, the more often the warmer
    the chassis. A tap sets the contact right, and that relaxes again. Just where it opens it crackles.
    """

    part: str = "joint36"
    opens_at_c: float = 38.0
    """Temperature of the joint, degrees Celsius, at which it opens when left alone."""
    own_heat_c: float = 14.0
    """What the resistor beside it adds, once warm."""
    warms_s: float = 25.0
    """Time constant of that."""
    closes_below_c: float = 2.5
    """How much cooler it must be to close again."""
    tap_holds_s: float = 40.0
    """Time in which the good that a tap did falls to a third."""
    open_ohms: float = OPEN
    crackle_c: float = 0.12
    """How unsure the contact is, in degrees Celsius."""
    _own: float = 0.0
    _tapped: float = 0.0
    _noise: float = 0.0
    _open: bool = False
    _rng: np.random.Generator | None = None

    def tap(self, now_s: float) -> None:
        self._tapped = 8.0

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.about.at_s:
            return
        if self._rng is None:
            self._rng = np.random.default_rng([self.about.seed, 0xD])
        if receiver.steps % 5 == 0:
            self._noise = 0.8 * self._noise + 0.6 * self.crackle_c * float(self._rng.standard_normal())
        self._tapped -= self._tapped * DT / self.tap_holds_s
        carries = 0.0 if self._open else min(receiver.regulator.feed_amps / 13.5e-3, 2.0)
        self._own += (self.own_heat_c * carries * carries - self._own) * DT / self.warms_s
        force = self.opens_at_c - receiver.chassis - self._own + self._tapped + self._noise
        self._open = not self.over(now_s) and (force < 0.0 or (self._open and force < self.closes_below_c))
        setattr(receiver.parts, self.part, self.open_ohms if self._open else 0.0)
        self.record(now_s, self._open)


@dataclass(slots=True)
class Intermittent(Fault):
    """A part that opens for moments, at random times while there is power."""

    part: str = "r33"
    open_ohms: float = OPEN
    """In series with the part."""
    every_s: float = 60.0
    """Mean time from one to the next."""
    lasts_s: tuple[float, float] = (0.1, 1.5)
    """Shortest and longest; even on a logarithmic scale."""
    _good: float = 0.0
    _next: float = 0.0
    _until: float | None = None
    _rng: np.random.Generator | None = None

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.about.at_s:
            return
        if self._rng is None:
            self._rng = np.random.default_rng([self.about.seed, 0xE])
            self._good = float(getattr(receiver.parts, self.part))
            self._next = self.about.at_s
        if self._until is None:
            if now_s >= self._next and receiver.switch and not self.over(now_s):
                low, high = self.lasts_s
                self._until = now_s + low * (high / low) ** float(self._rng.random())
                setattr(receiver.parts, self.part, self._good + self.open_ohms)
                self.record(now_s, True)
        elif now_s >= self._until or self.over(now_s):
            setattr(receiver.parts, self.part, self._good)
            self._until = None
            self._next = now_s + max(2.0, self.every_s * float(self._rng.exponential()))
            self.record(now_s, False)


@dataclass(slots=True)
class Restless(Fault):
    """A resistor whose value jumps about, ten times a second."""

    part: str = "r12"
    sd: float = 0.15
    """Of the value's logarithm."""
    forgets_s: float = 0.4
    _good: float = 0.0
    _level: float = 0.0
    _rng: np.random.Generator | None = None

    def act(self, receiver: Receiver, now_s: float) -> None:
        if now_s < self.about.at_s:
            return
        if self._rng is None:
            self._rng = np.random.default_rng([self.about.seed, 0xF])
            self._good = float(getattr(receiver.parts, self.part))
        if self.over(now_s):
            setattr(receiver.parts, self.part, self._good)
            self.record(now_s, False)
        elif receiver.steps % 5 == 0:
            keep = math.exp(-5 * DT / self.forgets_s)
            fresh = self.sd * math.sqrt(1 - keep * keep) * float(self._rng.standard_normal())
            self._level = keep * self._level + fresh
            setattr(receiver.parts, self.part, self._good * math.exp(self._level))
            self.record(now_s, True)
