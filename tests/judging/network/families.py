"""The families of sets, and one set of them solved as its chart prints it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .amplifiers import preamplifier, push_pull
from .blueprint import HEATERS, MAINS, Blueprint, Draw, Spot
from .circuit import Circuit
from .heating import heated
from .receivers import field_coil, live_chassis
from .solving import Network, compiled, solve
from .supplies import bench_supply

Array = NDArray[np.float64]
FAMILIES: tuple[Callable[[Circuit, Draw], Blueprint], ...] = (
    push_pull, preamplifier, live_chassis, field_coil, bench_supply,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Printed:
    """What the chart's set reads at the chart's mains."""

    settled: dict[str, float]
    peak: dict[str, float]
    """Greatest size after a cold start, at 8 % more mains."""
    bench: dict[str, float] = field(default_factory=dict)
    """What the sound set on the bench reads at the chart's mains: the chart's bands allow for it."""


def built(family: int, seed: int, bench: bool) -> Blueprint:
    """A set of a family: as printed, or as it stands on the bench with its parts' spread."""
    spread = np.random.default_rng([seed, 7]) if bench else None
    return FAMILIES[family](Circuit(spread), Draw([seed, 3]))


def warms(blueprint: Blueprint) -> Array:
    return np.array(list(blueprint.circuit.valves.values()))


def course(spot: Spot, net: Network, volts: Array, lit: NDArray[np.bool_], mains: Array, tap: Array) -> Array:
    """What stands at a test point: (time, variant)."""
    if spot.node == MAINS:
        return mains * 230.0
    if spot.node == HEATERS:
        return tap
    if spot.unit == "state":
        place = net.names[spot.tube or ""][0] - sum(net.counts[:3])
        found: Array = lit[:, :, place].astype(float)
        return found
    return volts[:, :, net.nodes[spot.node]]


def printed(blueprint: Blueprint) -> Printed:
    """The printed set, cold started and left until it has settled."""
    t = np.unique(np.concatenate([np.arange(0, 60, 0.2), np.arange(60, 1000, 10.0)]))
    mains = np.ones((len(t), 2))
    mains[:, 1] = 1.08
    warm, tap = heated(blueprint.heating, warms(blueprint), t, mains, {}, blueprint.tail_s)
    net = compiled(blueprint.circuit)
    volts, lit = solve(net, t, mains, warm, {})
    courses = {s.name: course(s, net, volts, lit, mains, tap) for s in blueprint.spots}
    return Printed(
        {name: float(c[-1, 0]) for name, c in courses.items()},
        {name: float(np.abs(c[:, 1]).max()) for name, c in courses.items()},
    )
