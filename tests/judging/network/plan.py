"""What happens in a case: power, mains, faults of the set, troubles of the meters. Times in seconds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Course = Callable[[Array], Array]
BEFORE_S = -500.0
"""A set that is warm when the record begins was switched on then."""


@dataclass(frozen=True, slots=True)
class Disturbance:
    """The mains lower by a share (or higher, where negative) from `start` to `end`."""

    start: float
    end: float
    share: float
    edge_s: float = 0.06


@dataclass(frozen=True, slots=True)
class Episode:
    """One visible act of a fault: dropout, step, chatter, drift."""

    kind: str
    start: float
    end: float = math.inf
    tapped: float | None = None
    """Time of the tap that it followed."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A meter's fault: gap, overload, frozen, function or reversed."""

    kind: str
    spot: str
    start: float
    end: float


@dataclass(slots=True)
class Plan:
    """All of it, before it is solved."""

    end_s: float
    on: list[tuple[float, float]]
    level: list[tuple[float, float]] = field(default_factory=list)
    """A variable transformer's course: (time, share of the mains)."""
    base: float = 1.0
    wander: float = 0.003
    flutter: float = 0.0007
    disturbances: list[Disturbance] = field(default_factory=list)
    factors: dict[str, Course] = field(default_factory=dict)
    heaters: dict[int, Course] = field(default_factory=dict)
    """Valve by place, -1 for all -> what passes its heater."""
    fading: Course | None = None
    episodes: list[Episode] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    taps: list[float] = field(default_factory=list)
    sleepers: bool = False
    ranging: bool = False
    slow: bool = False
    """A long record: no quick meters."""
    marked: bool = True
    """The switch is marked."""
    bleeds: bool = False


def held(at: float, factor: float) -> Course:
    """1 before `at`, the factor from then on."""
    return lambda t: np.where(t >= at, factor, 1.0)


def pulses(spans: list[tuple[float, float]], factor: float) -> Course:
    """The factor within the spans, 1 elsewhere."""

    def course(t: Array) -> Array:
        inside = np.zeros(len(t), dtype=np.bool_)
        for a, b in spans:
            inside |= (t >= a) & (t < b)
        found: Array = np.where(inside, factor, 1.0)
        return found

    return course


def sliding(start: float, end: float, factor: float) -> Course:
    """From 1 to the factor, evenly in its logarithm, and then held."""

    def course(t: Array) -> Array:
        done = np.clip((t - start) / (end - start), 0, 1)
        found: Array = np.exp(done * math.log(factor))
        return found

    return course


def edges(plan: Plan) -> list[float]:
    """Instants at which something changes at once."""
    found = [x for span in plan.on for x in span] + [t for t, _ in plan.level]
    for d in plan.disturbances:
        found += [d.start, d.end] if d.edge_s < 5 else []
    for e in plan.episodes:
        if e.kind != "drift":
            found += [e.start, e.end]
    return [e for e in found if math.isfinite(e)]


def grid(plan: Plan, marks: list[float]) -> Array:
    """Steps of time: 50 ms where something happens at once, up to 0.25 s (1 s in a long record) elsewhere."""
    calm = 1.0 if plan.slow else 0.25
    start = min(a for a, _ in plan.on)
    parts = [np.arange(0.0, plan.end_s + 3, calm)]
    if start < 0:
        parts += [np.arange(start, start + 60, 0.5), np.arange(start + 60, 0, 2.0)]
    else:
        parts += [np.array([-1.0])]
    for e in marks:
        parts += [np.array([e - 1e-3]), e + np.arange(0, 1.5, 0.05), e + np.arange(1.5, 6, 0.1)]
    t: Array = np.unique(np.round(np.concatenate(parts), 4))
    return t[(t >= min(start, -1.0)) & (t <= plan.end_s + 3)]


def supplied(plan: Plan, t: Array, rng: np.random.Generator) -> tuple[Array, Array]:
    """(mains of the four variants, 1 at the chart's; the wander alone).

    Variants: as it was; without the set's fault; also without disturbances; also without any wander.
    """
    even = np.arange(t[0], t[-1] + 1, 0.5)
    slow, quick = _wander(even, 90.0, rng), _wander(even, 2.5, rng)
    wander = np.interp(t, even, 1 + plan.wander * slow + plan.flutter * quick)
    moved = np.ones(len(t))
    for d in plan.disturbances:
        inside = np.clip((t - d.start) / d.edge_s, 0, 1) - np.clip((t - d.end) / d.edge_s, 0, 1)
        moved -= d.share * inside
    power = np.zeros(len(t))
    for a, b in plan.on:
        power[(t >= a) & (t < b)] = plan.base
    if plan.level:
        at, share = zip(*plan.level, strict=True)
        power = power * np.interp(t, at, share)
    whole = power * wander * moved
    return np.stack([whole, whole, power * wander, power], axis=1), wander


def _wander(t: Array, over_s: float, rng: np.random.Generator) -> Array:
    """A wandering of deviation 1 whose memory fades in `over_s`, at most 2.2 away."""
    keep = math.exp(-(t[1] - t[0]) / over_s)
    kicks = rng.normal(size=len(t)) * math.sqrt(1 - keep * keep)
    found = np.empty(len(t))
    x = float(rng.normal())
    for i, kick in enumerate(kicks.tolist()):
        x = keep * x + kick
        found[i] = x
    clipped: Array = np.clip(found, -2.2, 2.2)
    return clipped
