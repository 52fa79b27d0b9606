"""What is to happen in one case: to the set, to its mains, and to its meters."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchtui.sim.catalogue import make_fault
from benchtui.sim.faults import Fault
from benchtui.sim.mains import MainsCharacter
from benchtui.sim.receiver import POINTS
from benchtui.sim.script import Act

WARM_S = 75.0
"""So long after power-on every healthy point has settled."""


@dataclass(slots=True)
class Plot:
    """A case being thought out."""

    rng: np.random.Generator
    seed: int
    rectifier: str = "direct"
    on_s: float = 5.0
    seconds: float = 420.0
    faults: list[Fault] = field(default_factory=list)
    acts: list[Act] = field(default_factory=list)
    mains: dict[str, Any] = field(default_factory=dict)
    """Fields of MainsCharacter."""
    meters: dict[str, dict[str, Any]] = field(default_factory=dict)
    """By point: fields of MeterModel that must be as given."""
    needs: set[str] = field(default_factory=set)
    """Points that must have a meter."""
    slow: bool = False
    """True for long cases: the meters read less often."""

    @staticmethod
    def begun(seed: int) -> Plot:
        """A set that comes on after some seconds, on an ordinary mains."""
        rng = np.random.default_rng([1957, 6, seed])
        plot = Plot(rng, seed)
        plot.rectifier = str(rng.choice(["direct", "solid", "indirect"]))
        plot.on_s = float(rng.uniform(5, 12))
        plot.mains = {
            "volts": float(rng.uniform(226, 234)),
            "wander": float(rng.choice([0.001, 0.003, 0.006])),
            "flutter": float(rng.choice([0.0003, 0.0008, 0.0015])),
        }
        return plot

    def uniform(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def even(self, low: float, high: float) -> float:
        """Evenly on a logarithmic scale."""
        return low * float((high / low) ** self.rng.random())

    def when(self, warm_up: bool = False) -> float:
        """A moment for something to happen: settled, or in warm-up once the valves conduct."""
        if warm_up:
            return self.on_s + self.uniform(26, 45)
        return self.on_s + WARM_S + self.uniform(15, 90)

    def bad(self, name: str, at_s: float, **how: Any) -> Fault:
        """A fault from this moment on."""
        fault = make_fault(name, at_s, seed=self.seed, **how)
        self.faults.append(fault)
        self.needs.add(fault.about.point)
        return fault

    def sag(self, at_s: float, lasts_s: float, depth: float) -> None:
        """The mains falls by this part of itself."""
        self.mains["sags"] = (*self.mains.get("sags", ()), (at_s, lasts_s, depth))

    def befalls(self, point: str, **how: Any) -> None:
        """Something about the meter on a point."""
        self.meters.setdefault(point, {}).update(how)
        self.needs.add(point)

    def some_point(self, *but: str) -> str:
        """A DC point."""
        dc = [p for p in POINTS if p not in ("pilot", "mains", "heater", "regulator", *but)]
        return str(self.rng.choice(dc))

    def script(self) -> tuple[Act, ...]:
        return (Act(self.on_s, "on"), *self.acts)

    def character(self) -> MainsCharacter:
        return MainsCharacter(**self.mains)
