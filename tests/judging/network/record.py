"""A case solved: its courses, its readings, its chart, for those who label it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .blueprint import HEATERS, MAINS, Blueprint, Spot
from .charting import Sheet
from .plan import Plan
from .reading import Taken

Array = NDArray[np.float64]


@dataclass(slots=True)
class Record:
    """All that is known of a case. Variants of a course: as it was; without the fault; also without
    disturbances; also without wander."""

    plan: Plan
    blueprint: Blueprint
    sheet: Sheet
    taken: list[Taken]
    grid: Array
    mains: Array
    """(time, variant)."""
    courses: dict[str, Array]

    def has(self, node: str) -> bool:
        """Whether a meter is on the mains, or on the heaters."""
        return any(k.meter.spot.node == node for k in self.taken)

    @property
    def has_ac(self) -> bool:
        return self.has(MAINS) or self.has(HEATERS)

    def at(self, t: Array, variant: int = 0) -> Array:
        """The mains at these times, 1 at the chart's."""
        found: Array = np.interp(t, self.grid, self.mains[:, variant])
        return found

    def on_since(self, t: Array) -> Array:
        """Seconds since the set was switched on; negative while it is off."""
        since = np.full(len(t), -1.0)
        for a, b in self.plan.on:
            inside = (t >= a) & (t < b)
            since[inside] = t[inside] - a
        return since

    def dark(self) -> bool:
        """Whether a fault has in the end put out all that is measured."""
        ends = [k.clean[-1] for k in self.taken if k.meter.spot.unit != "state" and len(k.t)]
        lasting = [e for e in ends if abs(e[1]) > 0.05]
        return all(abs(e[0]) < 0.2 * abs(e[1]) for e in lasting)

    def above(self, name: str) -> list[str]:
        """The points that feed this one by the chart, nearest first."""
        found: list[str] = []
        while (feed := self.sheet.feeds.get(name)) is not None:
            found.append(feed)
            name = feed
        return found


@dataclass(frozen=True, slots=True)
class Shown:
    """How an act of a fault showed on one meter."""

    spot: Spot
    share: float
    """Signed, of the level that it would have had."""
    count: int
    """Readings that show it clearly."""
    first: float
    """Time of the first of these."""
    most: float
    """The greatest move against what a person could make out."""
    slack_s: float
    slow_s: float
    """From the first sign to nine tenths."""


def shown(record: Record, taken: Taken, start: float, end: float, pair: tuple[int, int] = (0, 1)) -> Shown:
    """How one meter showed what lies between two variants from `start` to `end` (endless: to the next)."""
    m, t = taken.meter, taken.t
    until = end if math.isfinite(end) else record.plan.end_s
    inside = (t > start) & (t < until + m.slack_s + 1.0)
    move = taken.clean[:, pair[0]] - taken.clean[:, pair[1]]
    if m.spot.unit == "state":
        out = inside & (taken.shown < 0.5) & (taken.clean[:, pair[1]] > 0.5)
        n = int(out.sum())
        first = float(t[out][0]) if n else start
        return Shown(m.spot, -1.0 if n else 0.0, n, first, 9.0 if n else 0.0, 1.5, 0.0)
    course = record.courses[m.spot.name]
    grid = record.grid
    here = (grid >= start - 0.5) & (grid <= until)
    level = max(float(np.median(np.abs(course[here, pair[1]]))), 1e-3) if here.any() else 1.0
    before = np.flatnonzero(t <= start)
    move = move - (move[before[-1]] if len(before) else 0.0)
    p = record.plan
    width = max(2.0, m.slack_s)
    pace = np.abs(np.interp(t + width, grid, course[:, 1]) - np.interp(t - width, grid, course[:, 1]))
    res = float(np.median(taken.resolution)) if len(t) else 1.0
    still = max(6 * taken.sigma, 3 * res, (0.012 + 5 * p.flutter + 1.5 * p.wander) * level)
    bound = np.maximum(still, 1.5 * pace * (pair == (0, 1)))
    size = np.where(inside, np.abs(move) / bound, 0.0) if len(t) else np.zeros(0)
    clear = np.flatnonzero(size > 1)
    peak = int(np.argmax(np.where(inside, np.abs(move), 0))) if len(t) else 0
    share = float(move[peak] / level) if len(t) and inside.any() else 0.0
    first = float(t[clear[0]]) if len(clear) else start
    full = np.flatnonzero(inside & (np.abs(move) > 0.9 * abs(share) * level))
    slow = float(t[full[0]] - first) if len(full) and len(clear) else 0.0
    most = float(size.max()) if len(size) else 0.0
    return Shown(m.spot, share, len(clear), first, most, 1.0 + m.slack_s, max(slow, 0.0))
