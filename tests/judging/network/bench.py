"""The set on the bench while a fault is chosen: which parts, changed so far, would show on the meters."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .blueprint import Blueprint, Spot
from .families import course, warms
from .heating import heated
from .plan import Course, Plan, pulses
from .solving import Network, solve

_COARSE = np.unique(np.concatenate([np.arange(0, 40, 0.5), np.arange(40, 300, 10.0)]))


@dataclass(slots=True)
class Bench:
    """A set, the points that are measured, and a source of chance."""

    blueprint: Blueprint
    net: Network
    spots: list[Spot]
    rng: np.random.Generator

    def moves(
        self, factors: Mapping[str, float], heaters: Mapping[int, float] | None = None
    ) -> dict[str, float]:
        """Share by which each measured point would move, were the parts so from the start."""
        t, ones = _COARSE, np.ones(len(_COARSE))
        mains = np.ones((len(t), 2))
        cut = {k: v * ones for k, v in (heaters or {}).items()}
        bp = self.blueprint
        warm, tap = heated(bp.heating, warms(bp), t, mains, cut, bp.tail_s)
        volts, lit = solve(self.net, t, mains, warm, {k: v * ones for k, v in factors.items()})
        found = {}
        for spot in self.spots:
            faulty, healthy = course(spot, self.net, volts, lit, mains, tap)[-1]
            found[spot.name] = float((faulty - healthy) / max(abs(healthy), 0.3))
        return found

    def most(self, factors: Mapping[str, float], heaters: Mapping[int, float] | None = None) -> float:
        """The greatest of these moves, as a size."""
        return max(abs(m) for m in self.moves(factors, heaters).values())

    def pick(self, names: Sequence[str], factor: float, least: float = 0.05) -> str:
        """A part that shows; one that does not, if none of six tried does."""
        tried = [str(n) for n in self.rng.permutation(list(names))][:6]
        for name in tried:
            if self.most({name: factor}) >= least:
                return name
        return tried[0]

    def between(self, low: float, high: float) -> float:
        """A size drawn evenly in its logarithm."""
        return float(math.exp(self.rng.uniform(math.log(low), math.log(high))))

    def times(self, count: int, first: float, last: float, apart: float) -> list[float]:
        """Instants at least so far apart; fewer, where there is no room."""
        found: list[float] = []
        for _ in range(40 * count):
            at = float(self.rng.uniform(first, last))
            if len(found) < count and all(abs(at - f) >= apart for f in found):
                found.append(at)
        return sorted(found)

    def joint(self, *tags: str) -> tuple[str, float]:
        """A joint that opens, wholly or in part, in series with a resistor that shows it."""
        factor = 1e5 if self.rng.random() < 0.6 else self.between(1.6, 12)
        listed = self.blueprint.circuit.tagged(*(tags or ("feed", "load", "cathode", "bias")))
        return self.pick(listed, factor), factor


def plain_plan(rng: np.random.Generator, cold: bool | None = None, length: float = 0.0) -> Plan:
    """A quiet record: a cold start, or a set that is warm when it begins."""
    cold = rng.random() < 0.5 if cold is None else cold
    end = length or float(rng.uniform(420, 760))
    on = float(rng.uniform(4, 12)) if cold else -500.0
    return Plan(
        end, [(on, math.inf)], base=float(rng.uniform(0.97, 1.03)),
        wander=float(rng.choice([0.001, 0.003, 0.005])),
        flutter=float(rng.choice([0.0003, 0.0007, 0.0012])), marked=bool(rng.random() < 0.6),
    )  # fmt: skip


def warm_at(plan: Plan) -> float:
    """From here on a set that was switched on has settled, but for its slow tail."""
    return max(plan.on[-1][0] + 130.0, 45.0)


def flicker(rng: np.random.Generator, start: float, end: float) -> Course:
    """A joint that opens and closes some times a second."""
    spans, at = [], start
    while at < end:
        shut = float(rng.uniform(0.08, 0.5))
        spans.append((at, min(at + shut, end)))
        at += shut + float(rng.uniform(0.08, 0.5))
    return pulses(spans, 1e4)
