"""The line that a steady point is held against, and how it is learnt from whole grains."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Collection
from dataclasses import dataclass
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Floats, Ints

from .grains import GrainStats, few_samples

REMEMBERED = 12
"""Clean grains whose noise and surprises are remembered."""
MOVES, DRIFTS = 2.0, 0.3
"""A level that moves by so many counts during a grain, and from reading to reading by this part of the noise,
repeats fewer readings than it would standing."""
OWN_COUNTS = 3.0
"""Noise of so many counts may be the meter's own, on whatever range. Common practice, no source."""
SAME_READINGS, WIDE, FEW = 24, 3.0, 4
"""What part repeats is told by at least so many readings where so many newest grains span so many counts on
average: what goes to and fro between two of them repeats itself as its level happens to lie."""


@dataclass(slots=True)
class Line:
    """What is expected: a level and a slope, and how far readings scatter about it."""

    level: float
    slope: float
    at_s: float
    until_s: float
    """The slope is not carried on beyond this."""
    noise: float
    wander: float
    """Standard deviation of a whole grain about its forecast."""
    jump: float = 0.0
    """Standard deviation of the mean of four readings about that of the four before."""
    same: float = 1.0
    """The greatest part of repeated readings in any stretch remembered; 1 where unknown."""
    step: float = 0.0
    """One count of the last digit then; 0 where unknown."""

    def at(self, t_s: NDArray[np.floating[Any]]) -> Floats:
        return np.asarray(self.level + self.slope * (np.minimum(t_s, self.until_s) - self.at_s))

    def off(self, t_ns: Ints, x: Floats) -> Floats:
        """How far readings are off it."""
        return x - self.at(t_ns * 1e-9) if self.slope else x - self.level

    def at_one(self, t_s: float) -> float:
        return self.level + self.slope * (min(t_s, self.until_s) - self.at_s)

    def is_near(self, g: GrainStats, most: float) -> bool:
        """Whether surely no reading of a grain is farther off than this; False: look closer."""
        if not self.slope:
            return g.greatest - self.level <= most and self.level - g.least <= most
        first, last = self.at_one(g.first_ns * 1e-9), self.at_one(g.end_ns * 1e-9)
        return g.greatest - min(first, last) <= most and max(first, last) - g.least <= most


class Learner:
    """What the newest grains have taught: how noisy readings are, how whole grains wander, how they leap."""

    def __init__(self) -> None:
        self.grains: deque[GrainStats] = deque(maxlen=REMEMBERED)
        """The newest, clean or not."""
        self._sames: deque[float] = deque(maxlen=REMEMBERED)
        self._noises: deque[float] = deque(maxlen=REMEMBERED)
        self._surprises: deque[float] = deque(maxlen=REMEMBERED)
        self._leaps: deque[float] = deque(maxlen=REMEMBERED)
        """Squares, as those before."""
        self._step = 0.0
        """One count of the last digit as this was learnt; 0 while unknown."""
        self._finer: tuple[float, list[float], list[float]] | None = None
        """Such a count, and what was learnt with it, before the meter went to a coarser range."""

    @property
    def wander(self) -> float:
        """Standard deviation of a whole grain about its forecast; 0 while unknown."""
        return _root_mean(self._surprises)

    def greatest_leap(self, unknown: float) -> float:
        return math.sqrt(max(self._leaps)) if self._leaps else unknown

    def jump_threshold(self, k: float, size: int) -> float:
        """How many deviations a jump is, where k are for one reading; `size`: readings in a grain."""
        leaps = len(self._leaps) * max(1.0, (size - 7) / 4.0)
        return 0.75 * k * few_samples(0.75 * k, leaps)

    def forget(self) -> None:
        """What was learnt was not of a steady point."""
        self._finer = None
        self._surprises.clear()
        self._noises.clear()
        self._leaps.clear()

    def forget_surprises(self) -> None:
        self._surprises.clear()

    def on_range(self, step: float, noise: float = 0.0) -> float:
        """A meter reads with such counts from now on; gives a noise that was known as it shows in them.

        On a coarser range what was learnt in fine counts would say that it hardly scatters.
        """
        before, self._step = self._step, step
        if self._finer is not None and step <= self._finer[0]:
            _, noises, leaps = self._finer
            self._finer = None
            self._noises, self._leaps = deque(noises, REMEMBERED), deque(leaps, REMEMBERED)
        if not 0.0 < before < step:
            return noise
        if self._finer is None:
            self._finer = before, list(self._noises), list(self._leaps)
        self._noises = deque((_coarser(n, before, step) for n in self._noises), maxlen=REMEMBERED)
        squares = (_coarser(n**0.5, before, step) ** 2 for n in self._leaps)
        self._leaps = deque(squares, maxlen=REMEMBERED)
        return _coarser(noise, before, step)

    def surprised(self, line: Line, off: float) -> None:
        """A grain, or a slow move, was off the line. One great surprise must not make the eye blind: it
        counts as so much at most each time."""
        scale: float = 3.0 * (line.noise**2 + line.wander**2) ** 0.5
        size = min(scale, abs(off))
        self._surprises.append(size * size)

    def take(self, g: GrainStats) -> None:
        """A clean grain of a steady point."""
        if g.same < 1.0 or not self._noises:
            self._noises.append(g.noise)
            self._leaps.append(g.jump * g.jump)

    def calm(self, g: GrainStats, surprise: float) -> None:
        """A calm grain of a point that may have become steady."""
        self._surprises.append(surprise * surprise)
        self._noises.append(g.noise)
        self._leaps.append(g.jump * g.jump)

    def line(self, g: GrainStats, old: Line | None, size: int, fresh_ns: int) -> Line:
        """The line after a grain of so many readings; grains that began before `fresh_ns` tell no slope."""
        self.on_range(g.resolution)
        noise, wander = sorted(self._noises)[len(self._noises) // 2], self.wander
        gain = 0.5 if wander < 0.6 * noise and old is not None else 1.0
        before = old.at_one(g.centre_s) if old is not None else g.level
        level = before + gain * (g.level - before)
        reach = g.centre_s + 2.0 * (g.end_ns - g.first_ns) * 1e-9
        same = self._repeated(size)
        slope = self._trend(g, 5.0 * noise / size**0.5, fresh_ns)
        jump = _root_mean(self._leaps)
        noise = max(noise, g.resolution * 0.29)
        return Line(level, slope, g.centre_s, reach, noise, wander, jump, same, g.resolution)

    def _repeated(self, size: int) -> float:
        """The greatest part of repeated readings; 1 where too few tell it. A grain has so many readings."""
        if len(self.grains) < REMEMBERED or len(self._sames) < REMEMBERED // 4:
            return 1.0
        spread = counts = 0.0
        for k in range(-FEW, 0):
            g = self.grains[k]
            spread += g.greatest - g.least
            counts += g.resolution
        return _greatest_mean(self._sames, -(-SAME_READINGS // size) if spread >= WIDE * counts else 1)

    def _trend(self, g: GrainStats, least: float, fresh_ns: int) -> float:
        """The slope over three grains, where they are of one level and it stands out of the noise."""
        if len(self.grains) < 2 or not g.clean:
            return 0.0
        a, b = self.grains[-2], self.grains[-1]
        if not (a.clean and b.clean and min(a.first_ns, b.first_ns) >= fresh_ns):
            return 0.0
        span = g.centre_s - a.centre_s
        slope = (g.level - a.level) / max(span, 1e-9)
        return slope if abs(slope) * span >= least else 0.0

    def add(self, g: GrainStats, size: int) -> float:
        """A grain of so many readings is full; gives the slope over it and the two before, 0 without them.

        A level that moves repeats no reading, however quiet it is: that is not remembered of it.
        """
        self.grains.append(g)
        if len(self.grains) < 3:
            return 0.0
        earlier = self.grains[-3]
        slope = (g.level - earlier.level) / max(g.centre_s - earlier.centre_s, 1e-9)
        moved = abs(slope) * (g.end_ns - g.first_ns) * 1e-9
        if moved <= max(MOVES * g.resolution, DRIFTS * size * g.noise):
            self._sames.append(g.same)
        return slope


def _greatest_mean(parts: Collection[float], width: int) -> float:
    """Of so many neighbours, or of all where there are fewer: few readings repeat each other by chance."""
    if width == 1:
        return max(parts)
    sums = [0.0, *accumulate(parts)]
    width = min(width, len(parts))
    return max(b - a for a, b in zip(sums, sums[width:], strict=False)) / width


def _coarser(noise: float, before: float, step: float) -> float:
    """Noise of a few counts is the meter's own: on a coarser range it is as many of the greater counts."""
    counts = noise / before
    return max(noise, counts * step) if counts <= OWN_COUNTS else noise


def _root_mean(squares: Collection[float]) -> float:
    """Of a few; 0 of none."""
    return float((sum(squares) / max(len(squares), 1)) ** 0.5)
