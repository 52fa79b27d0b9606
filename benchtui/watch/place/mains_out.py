"""The levels of a point with what the mains did taken out, as far as the point has followed it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.signals import Grain

from .desk import Desk
from .track import Track

LAG = 3
"""How far a point follows is learnt from differences over so many grains: a step is in few of them."""
MOST_SHARE = 2.0
"""A stage with fixed bias follows the mains by more than one to one. Common practice, no source."""
NOISY = 10.0
"""Only where the differences of the mains are well above so many times their noise (in squares) is the share
what they say; the nearer to that, the nearer it is taken to one to one."""
FAR = 0.3
"""A mains that reads this part off its usual value is not taken out: its lead may have come off."""
LEFT_AT_LEAST, LEFT_AT_MOST = 0.3, 1.2
"""This part of what the mains ranged over may be left of it: where the share is well known, and where not."""


@dataclass(frozen=True, slots=True)
class MainsOut:
    """How a point follows the mains, and its levels at a steady one."""

    levels: Floats
    """Of the newest grains during which the mains was read too, shape (so many,), in the point's unit."""
    share: float = 0.0
    """By what part of its level it moves for each part that the mains does."""
    middle: float = 0.0
    """The mains that the levels stand for, in volts; 0 where nothing is taken out."""
    doubt: float = 0.0
    """What may be left of the mains in the levels compared, in parts of the level."""

    def level(self, mains: Track | None, grain: Grain) -> float:
        """The level of a later grain at that mains; as it is where the mains reads nothing like it."""
        then = _mean(mains, grain) if mains is not None and self.middle else None
        if then is None or abs(then / self.middle - 1.0) > FAR:
            return grain.level
        return grain.level / (1.0 + self.share * (then / self.middle - 1.0))

    def readings(self, mains: Track | None, t_ns: Ints, x: Floats, now_ns: int) -> Floats:
        """Readings of the point at that mains, shape of x, as far as it was read by now."""
        if mains is None or not self.middle or not len(t_ns):
            return x
        period_ns = int(mains.period_s * 1e9)
        until_ns = min(int(t_ns[-1]) + period_ns, now_ns)
        t, m = mains.segment.history.between(int(t_ns[0]) - period_ns, until_ns)
        if not len(t):
            return x
        part = np.clip(np.interp(t_ns, t, m) / self.middle - 1.0, -FAR, FAR)
        return np.asarray(x / (1.0 + self.share * part))


def without_mains(desk: Desk, track: Track, grains: Sequence[Grain], compared: int, learnt: int) -> MainsOut:
    """Levels with the mains taken out; as they are where the point does not follow it, or no meter reads it.

    They stand for the mains of the newest grains, as many as are `compared`. The share is the least squares
    one of the differences of the first `learnt`.
    """
    levels = np.array([g.level for g in grains])
    mains = desk.mains()
    if mains is None or mains is track or not track.point.follows_mains:
        return MainsOut(levels)
    means = list(takewhile(lambda mean: mean is not None, (_mean(mains, g) for g in reversed(grains))))
    volts = np.array(means[::-1], dtype=float)
    middle = float(np.median(volts[-compared:])) if len(volts) else 0.0
    if not middle:
        return MainsOut(levels[:0])
    off = np.flatnonzero(np.abs(volts / middle - 1.0) > FAR)
    part = volts[off[-1] + 1 if len(off) else 0 :] / middle
    if not len(part):
        return MainsOut(levels[:0])
    levels = levels[len(levels) - len(part) :]
    first = max(learnt - len(grains) + len(part), 0)
    noise = _noise(mains, grains[-1]) / middle
    share, known = _share(part[:first], levels[:first] / float(np.median(levels)), noise)
    left = LEFT_AT_LEAST + (LEFT_AT_MOST - LEFT_AT_LEAST) * (1.0 - known)
    doubt = left * max(float(np.ptp(part[-compared:])) - 4.0 * noise, 0.0)
    return MainsOut(levels / (1.0 + share * (part - 1.0)), share, middle, doubt)


def _share(mains: Floats, point: Floats, noise: float) -> tuple[float, float]:
    """By how much the point follows, and how well that is known: 0, not at all, to 1."""
    moved, followed = mains[LAG:] - mains[:-LAG], point[LAG:] - point[:-LAG]
    power, unknown = float(moved @ moved), NOISY * 2.0 * max(len(moved), 1) * noise * noise
    if not power + unknown:
        return 1.0, 0.0
    share = (float(moved @ followed) + unknown) / (power + unknown)
    return min(max(share, 0.0), MOST_SHARE), power / (power + unknown)


def _noise(mains: Track, grain: Grain) -> float:
    """The standard deviation of the mean of the mains' readings during a grain, in volts."""
    readings = max((grain.at_ns - grain.first_ns) * 1e-9 / mains.period_s, 1.0)
    one = max(mains.grains[-1].flutter if mains.grains else 0.0, 0.29 * mains.step)
    return float(one / readings**0.5)


def _mean(mains: Track, grain: Grain) -> float | None:
    """The mains while a grain was read; None where its meter did not read then."""
    _, x = mains.segment.history.between(grain.first_ns - 1, grain.at_ns)
    if len(x):
        return float(np.add.reduce(x)) / len(x)
    newest = mains.newest(grain.at_ns)
    recent = newest is not None and grain.first_ns - newest[0] <= int(mains.period_s * 1e9)
    return newest[1] if newest is not None and recent else None
