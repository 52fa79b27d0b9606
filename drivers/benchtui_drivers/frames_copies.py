"""Blocks that a meter sends several times for each conversion: one reading, not several."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Bools

from .checksum import Rows


class Copies:
    """Tells the first good copy of each conversion from the others. A damaged copy counts as one.

    Two conversions of the same value look alike, so copies are counted; a new value begins a new conversion.
    """

    def __init__(self, times: int, length: int) -> None:
        """`times`: how often each is sent; `length`: bytes of a frame."""
        self._times = times
        self._length = length
        self._previous: Rows | None = None
        """The last good frame; None at the start."""
        self._place = 0
        """Where it stands among the blocks, good or damaged, since the first with its value."""
        self._lost = 0

    def restart(self) -> None:
        """Joins the stream anywhere."""
        self._previous, self._lost = None, 0

    def lost(self, count: int) -> None:
        """So many bytes were no frame, behind the last one."""
        self._lost += count

    def firsts(self, frames: Rows) -> Bools:
        """For frames one behind the other: whether each begins a conversion, as far as can be told."""
        n = len(frames)
        fresh = np.ones(n, bool)
        fresh[1:] = (frames[1:] != frames[:-1]).any(axis=1)
        damaged, self._lost = round(self._lost / self._length), 0
        begins = np.maximum.accumulate(np.where(fresh, np.arange(n), 0))
        place = np.arange(n) - begins
        firsts: Bools = place % self._times == 0
        if self._previous is not None and (frames[0] == self._previous).all():
            went_on = begins == 0
            place[went_on] += self._place + 1 + damaged
            conversion = place // self._times
            before = np.concatenate([[self._place // self._times], conversion[:-1]])
            firsts = np.where(went_on, conversion != before, firsts)
        self._previous, self._place = frames[-1].copy(), int(place[-1])
        return firsts
