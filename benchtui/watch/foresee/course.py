"""One point's readings since power-on, with what was known of it beforehand; parts of a scale near 1."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

FALLEN, REGAINS, RISES = 0.05, 0.02, 0.12
"""Parts of the scale: a fall that is the load's, what a point may regain after it, and what one may still
rise whose rise is over and whose fall has not been seen."""

NONE: Floats = np.zeros(0)


@dataclass(frozen=True, slots=True)
class Level:
    """One thing known beforehand of the levels: how sure, and what."""

    weight: float
    settled: float
    settled_sd: float
    top: float
    top_sd: float
    """Of the level without load."""


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What was read; ages in seconds since power-on."""

    t: Floats
    y: Floats
    variance: Floats
    """Of each row, from noise and rounding alone."""
    now_s: float
    near: float
    """Three counts of the meter."""
    way: float
    """From the settled level to the one without load, as far as that is known."""
    mains_sd: float = 0.0
    """How much an unmeasured mains may wander meanwhile."""
    before: tuple[Floats, Floats] = (NONE, NONE)
    """Ages and values of rows before these, which tell nothing of the load."""

    @property
    def no_higher(self) -> float | None:
        """A point that its load takes down sooner or later rises but a little meanwhile; None: not known."""
        if len(self.y) < 2:
            return None
        top, newest = float(self.y.max()), float(self.y[-1])
        return newest + REGAINS if top - newest >= FALLEN else top + RISES

    def rough(self, most: int) -> Seen:
        """The same in at most so many rows, neighbours put together."""
        n = len(self.t)
        if n <= most:
            return self
        starts = np.linspace(0, n, most + 1).astype(np.int64)[:-1]
        many = np.diff(np.append(starts, n))
        t, y, v = (np.add.reduceat(a, starts) / many for a in (self.t, self.y, self.variance))
        return Seen(t, y, v / many, self.now_s, self.near, self.way, self.mains_sd, self.before)


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A point's readings with what was known of it beforehand."""

    seen: Seen
    levels: Sequence[Level]
    rises: bool
    """Without load it reads nothing; else it leads and sags."""
    beyond: float = 0.0
    """How far it may rise beyond its settled level, or stay short of it, before it goes there."""
