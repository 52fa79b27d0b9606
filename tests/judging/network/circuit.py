"""The parts of a set and between which nodes they stand. Ohms, farads, volts, amperes, seconds."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

GROUND = "0"


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistor or a capacitor between two nodes."""

    name: str
    a: str
    b: str
    value: float
    capacitor: bool
    tag: str = ""


@dataclass(frozen=True, slots=True)
class Supply:
    """A rectifier with its winding: pushes current from `neg` to `pos` while `emf` is above their voltage.

    Averaged over the mains cycle; a choke-input filter is two of these in parallel, one of the mean voltage
    through little and one of the peak through much resistance.
    """

    name: str
    neg: str
    pos: str
    emf: float
    ohms: float
    warm: str | None


@dataclass(frozen=True, slots=True)
class Stream:
    """Anode or screen current of a valve: k * (grid + others / mu) ** 1.5, less below the knee."""

    valve: str
    plate: str
    cathode: str
    control: tuple[tuple[str, float], ...]
    k: float
    knee: float
    """Half of the current is left at so many volts."""


@dataclass(frozen=True, slots=True)
class Tube:
    """A neon lamp or gas regulator tube."""

    name: str
    a: str
    b: str
    strikes: float
    holds: float
    ohms: float
    least: float
    """Goes out below so many amperes."""


@dataclass
class Circuit:
    """A set in the making. With `spread`, every part is off its printed value as parts are."""

    spread: np.random.Generator | None = None
    branches: list[Branch] = field(default_factory=list)
    supplies: list[Supply] = field(default_factory=list)
    streams: list[Stream] = field(default_factory=list)
    tubes: list[Tube] = field(default_factory=list)
    valves: dict[str, float] = field(default_factory=dict)
    """Valve -> seconds that its cathode takes to warm."""

    def off(self, value: float, share: float) -> float:
        """The value as made, within twice `share`."""
        if self.spread is None:
            return value
        return value * (1 + share * float(np.clip(self.spread.normal(), -2, 2)))

    def r(self, name: str, a: str, b: str, ohms: float, tag: str = "", share: float = 0.03) -> None:
        self.branches.append(Branch(name, a, b, self.off(ohms, share), False, tag))

    def c(self, name: str, a: str, farads: float, b: str = GROUND) -> None:
        """A capacitor, and beside it the resistance by which it leaks."""
        self.branches.append(Branch(name, a, b, self.off(farads, 0.1), True, "capacitor"))
        self.branches.append(Branch(f"{name} leak", a, b, self.off(30 / farads, 0.2), False, "leak"))

    def coupling(self, name: str, a: str, b: str) -> None:
        """A coupling capacitor, of which only the leak matters here."""
        self.branches.append(Branch(name, a, b, 1e12, False, "coupling"))

    def rectifier(
        self, name: str, pos: str, emf: float, ohms: float, warm: str | None = None, neg: str = GROUND
    ) -> None:
        self.supplies.append(Supply(name, neg, pos, self.off(emf, 0.01), self.off(ohms, 0.05), warm))

    def valve(self, name: str, warms_s: float) -> None:
        self.valves[name] = self.off(warms_s, 0.1)

    def triode(self, valve: str, anode: str, grid: str, cathode: str, k: float, mu: float) -> None:
        mu = self.off(mu, 0.02)
        control = ((grid, 1.0), (anode, 1 / mu), (cathode, -1 - 1 / mu))
        self.streams.append(Stream(valve, anode, cathode, control, self.off(k, 0.05), 4.0))

    def pentode(
        self, valve: str, anode: str, screen: str, grid: str, cathode: str, k: float, mu: float
    ) -> None:
        mu, k = self.off(mu, 0.02), self.off(k, 0.05)
        control = ((grid, 1.0), (screen, 1 / mu), (anode, 1 / (40 * mu)), (cathode, -1 - 1.025 / mu))
        self.streams.append(Stream(valve, anode, cathode, control, k, 12.0))
        self.streams.append(Stream(valve, screen, cathode, control, 0.2 * k, 3.0))

    def tube(
        self, name: str, a: str, b: str, strikes: float, holds: float, ohms: float, least: float
    ) -> None:
        self.tubes.append(
            Tube(name, a, b, self.off(strikes, 0.02), self.off(holds, 0.01), self.off(ohms, 0.1), least)
        )

    def tagged(self, *tags: str) -> list[str]:
        """Names of the resistors and capacitors with one of these tags."""
        return [b.name for b in self.branches if b.tag in tags]

    def branch(self, name: str) -> Branch:
        return next(b for b in self.branches if b.name == name)
