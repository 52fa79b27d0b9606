"""The levels of a point with what the mains did taken out, as far as the point has followed it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.signals import Grain

from .desk import Desk, Track

LAG = 3
"""How far a point follows is learnt from differences over so many grains: a step is in few of them."""
MOST_SHARE = 2.0
"""A stage with fixed bias follows the mains by more than one to one. Common practice, no source."""
FEWEST = 6
"""With fewer differences a point is taken to follow one to one."""


@dataclass(frozen=True, slots=True)
class MainsOut:
    """How a point follows the mains, and its levels at a steady one."""

    levels: Floats
    """Of the newest grains during which the mains was read too, shape (so many,), in the point's unit."""
    mains: Track | None
    share: float
    """By what part of its level it moves for each part that the mains does."""
    middle: float
    """The mains that the levels stand for, in volts."""

    def level(self, grain: Grain) -> float | None:
        """The level of a later grain at that mains; None where the mains was not read meanwhile."""
        if self.mains is None:
            return grain.level
        then = _mean(self.mains, grain)
        return None if then is None else grain.level / (1.0 + self.share * (then / self.middle - 1.0))

    def readings(self, t_ns: Ints, x: Floats, now_ns: int) -> Floats:
        """Readings of the point at that mains, shape of x, as far as it was read by now."""
        if self.mains is None or not len(t_ns):
            return x
        period_ns = int(self.mains.period_s * 1e9)
        until_ns = min(int(t_ns[-1]) + period_ns, now_ns)
        t, m = self.mains.segment.history.between(int(t_ns[0]) - period_ns, until_ns)
        if not len(t):
            return x
        return np.asarray(x / (1.0 + self.share * (np.interp(t_ns, t, m) / self.middle - 1.0)))


def without_mains(desk: Desk, track: Track, grains: Sequence[Grain], learnt: int) -> MainsOut:
    """Levels with the mains taken out; as they are where the point does not follow it, or no meter reads it.

    The share is the least squares one of the differences of the first `learnt` grains.
    """
    levels = np.array([g.level for g in grains])
    mains = desk.mains()
    if mains is None or mains is track or not track.point.follows_mains:
        return MainsOut(levels, None, 0.0, 0.0)
    means = list(takewhile(lambda mean: mean is not None, (_mean(mains, g) for g in reversed(grains))))
    if not means:
        return MainsOut(levels[:0], mains, 1.0, 1.0)
    volts = np.array(means[::-1], dtype=float)
    middle = float(np.median(volts))
    part, levels = volts / middle, levels[len(levels) - len(volts) :]
    first = max(learnt - len(grains) + len(volts), 0)
    share = _share(part[:first], levels[:first] / float(np.median(levels)))
    return MainsOut(levels / (1.0 + share * (part - 1.0)), mains, share, middle)


def _share(mains: Floats, point: Floats) -> float:
    if len(mains) < LAG + FEWEST:
        return 1.0
    moved, followed = mains[LAG:] - mains[:-LAG], point[LAG:] - point[:-LAG]
    power = float(moved @ moved)
    return min(max(float(moved @ followed) / power, 0.0), MOST_SHARE) if power else 1.0


def _mean(mains: Track, grain: Grain) -> float | None:
    """The mains while a grain was read; None where its meter did not read then."""
    _, x = mains.segment.history.between(grain.first_ns - 1, grain.at_ns)
    if len(x):
        return float(np.add.reduce(x)) / len(x)
    newest = mains.newest(grain.at_ns)
    recent = newest is not None and grain.first_ns - newest[0] <= int(mains.period_s * 1e9)
    return newest[1] if newest is not None and recent else None
