"""The eye on leads that are turned: as many volts as there should be, with the other sign."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.watch.signals import Signal

from .manners import Repeated

LEAST, MOST = 0.2, 2.5
"""Leads are turned where the other sign is read with a magnitude between these parts of the nominal: a point
that is far beyond is itself at fault, or another. Common practice, no source."""
MIRRORED, AS_FAST, SOON = 0.1, 3.0, 3
"""Where the right sign has been read, turned leads show what was read last, but for this part and for so many
times what it had just moved by, within so many readings: a meter that changes its range is half settled at
first. What goes there slowly is the point."""
LIFTED = 0.1
"""A lead that is lifted leaves no more than this part; put back turned, it shows what was read before,
however long that took."""
SMALL, SMALL_NS = 3.0, 20_000_000_000
"""A grid, a tail or a cathode of so few volts passes through zero as its valve warms: it must read the other
sign for so long. Common practice, no source."""


class Turned:
    """Of one segment. A point that has read the right sign and then another value of the other one has itself
    turned, not its leads."""

    def __init__(self, nominal: float) -> None:
        self._sign = 1.0 if nominal > 0 else -1.0
        self._size = abs(nominal)
        self._three = Repeated("reversed", 3)
        self._right = 0.0
        """How much was last read with the right sign; 0 before any."""
        self._gone = 0
        """So many readings ago."""
        self._lifted = False
        """Whether it went from there to nothing at once, as a lead that is lifted does."""
        self._moved = 0.0
        """By how much it had changed from the reading before."""
        self._run = 0
        self._since = 0
        self._believed = False

    def take(self, t: Ints, x: Floats) -> list[Signal]:
        """Looks at the readings in order."""
        other = -self._sign * x
        turned = (other > LEAST * self._size) & (other < MOST * self._size)
        if not self._run and not np.count_nonzero(turned):
            right = np.count_nonzero(other < -LEAST * self._size)
            if right == len(x) > 1:
                self._right, self._gone = -float(other[-1]), 0
                self._moved = abs(float(other[-1] - other[-2]))
                return self._three.take(t, turned)
            if not right and self._gone:
                self._gone += len(x)
                return self._three.take(t, turned)
        rows = zip(t.tolist(), other.tolist(), turned.tolist(), strict=True)
        return self._three.take(t, np.array([self._one(*row) for row in rows], dtype=np.bool_))

    def _one(self, t: int, other: float, turned: bool) -> bool:
        if not turned and other < -LEAST * self._size:
            self._moved, self._right, self._gone = abs(-other - self._right), -other, 0
            self._run, self._believed = 0, False
            return False
        if not self._gone:
            self._lifted = not turned and abs(other) <= LIFTED * self._right
        self._gone += 1
        if not turned:
            self._run, self._believed = 0, False
            return False
        if not self._run:
            self._since = t
        self._run += 1
        if self._right:
            fast = AS_FAST * self._moved if self._size >= SMALL else 0.0
            off = abs(other - self._right)
            soon = self._gone <= SOON and off <= MIRRORED * self._right + fast
            tried = soon or (self._lifted and off <= MIRRORED * self._right)
        else:
            tried = self._size >= SMALL or t - self._since >= SMALL_NS
        self._believed = self._believed or tried
        return self._believed
