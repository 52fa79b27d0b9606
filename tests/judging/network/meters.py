"""Meters of every sort: what they are, drawn at random."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .blueprint import Spot
from .plan import Plan

Array = NDArray[np.float64]
MANNERS = ("none", "missing", "half", "overload")
"""What a meter does at a change of range: nothing, no reading, a half-settled one, an overload."""


@dataclass(frozen=True, slots=True)
class Meter:
    """One meter on one test point. Seconds and volts."""

    channel: str
    spot: Spot
    period_s: float
    """Between readings."""
    converts_s: float
    """Between conversions: a longer one repeats each value."""
    jitter: float
    window_s: float
    delay_s: float
    digits: int
    ranges: tuple[float, ...]
    """Full scales, rising; one alone is a range set by hand."""
    manner: str
    noise_counts: float
    noise_share: float
    gain: float
    accuracy: float
    """Share of the reading that its data sheet states."""
    sleeps: tuple[float, float] | None = None
    typed: bool = False

    @property
    def slack_s(self) -> float:
        """What its timing leaves open about an instant."""
        return self.window_s + self.delay_s + max(self.period_s, self.converts_s)


def drawn(spots: list[Spot], sizes: dict[str, float], plan: Plan, rng: np.random.Generator) -> list[Meter]:
    """A meter for each spot; together they give at most some 24,000 readings."""
    found = []
    for n, spot in enumerate(spots):
        found.append(_meter(n, spot, sizes[spot.name], plan, rng))
    rate = sum(1 / m.period_s for m in found if m.spot.unit != "state")
    slower = max(1.0, rate * plan.end_s / 24_000)
    return [_slower(m, slower) for m in found]


def _slower(m: Meter, by: float) -> Meter:
    if by == 1.0 or m.typed or m.period_s > 0.9:
        return m
    changed = {f: getattr(m, f) for f in m.__dataclass_fields__}
    changed |= {"period_s": m.period_s * by, "converts_s": max(m.converts_s, m.period_s * by)}
    return Meter(**changed)


def _meter(n: int, spot: Spot, size: float, plan: Plan, rng: np.random.Generator) -> Meter:
    sort = str(rng.choice(["quick", "hand", "fine", "needle"], p=[0.22, 0.5, 0.22, 0.06]))
    if sort == "needle" and (spot.unit != "V" or plan.troubles):
        sort = "hand"
    if plan.slow and sort == "quick":
        sort = "fine"
    channel = f"{'ABCDEFGHIJKL'[n]}"
    if sort == "needle":
        full = float(next(f for f in (1, 2.5, 10, 25, 100, 250, 500, 1000) if f > 1.15 * size))
        return Meter(channel, spot, rng.uniform(6, 14), 0, 0.25, 0.5, rng.uniform(0.5, 1.5), 100, (full,),
                     "none", 0.4, 0.0, 1 + 0.01 * rng.uniform(-1, 1), 0.02, None, True)  # fmt: skip
    period, digits = _pace(sort, plan, rng)
    repeats = rng.random() < 0.12 and sort != "fine"
    converts = period * rng.choice([2.0, 3.0, 4.0]) if repeats and not plan.slow else period
    window = converts * rng.uniform(0.25, 1.0)
    accuracy = {"quick": 0.003, "hand": 0.006, "fine": 0.0005}[sort] * (2 if spot.unit == "Vac" else 1)
    decade = 1.2 if digits == 1_200_000 else float(str(digits)[0])
    ranges = tuple(decade * 10.0**k for k in range(0 if spot.unit == "V" else 1, 4))
    if rng.random() < 0.35 and not plan.ranging:
        ranges = (next((r for r in ranges if r > 1.7 * size), ranges[-1]),)
    flickers = [0.0, 0.3, 0.6, 1.0] if digits < 20_000 else [0.0, 0.5, 1.0, 2.5]
    count_noise = float(rng.choice(flickers)) if digits < 100_000 else rng.uniform(2, 25)
    sleeps = None
    if plan.sleepers and rng.random() < 0.5:
        asleep = rng.uniform(0.25, 0.6) * plan.end_s
        sleeps = (asleep, asleep + rng.uniform(70, 0.35 * plan.end_s))
    return Meter(
        channel, spot, period, converts, rng.uniform(0.005, 0.12), window,
        rng.uniform(0.02, 0.4) if rng.random() < 0.8 else rng.uniform(0.4, 1.2), digits, ranges,
        str(rng.choice(MANNERS)), count_noise, float(rng.choice([0.0, 2e-5, 1e-4, 3e-4])),
        1 + 0.6 * accuracy * rng.uniform(-1, 1), accuracy, sleeps,
    )  # fmt: skip


def _pace(sort: str, plan: Plan, rng: np.random.Generator) -> tuple[float, int]:
    if sort == "quick":
        return 1 / rng.uniform(6, 20), int(rng.choice([4000, 6000, 20_000, 60_000]))
    if sort == "fine":
        slowest = 2.0 if not plan.slow else 4.0
        return rng.uniform(0.2, slowest), int(rng.choice([200_000, 200_000, 1_200_000]))
    period = rng.uniform(0.25, 1.2) if not plan.slow else rng.uniform(0.8, 2.0)
    return period, int(rng.choice([2000, 2000, 4000, 6000, 20_000, 60_000]))
