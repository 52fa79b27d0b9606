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
        self._previous: bytes | None = None
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
        n, flat = len(frames), frames.reshape(-1)
        firsts = np.zeros(n, bool)
        firsts[np.flatnonzero(flat[self._length :] != flat[: -self._length]) // self._length + 1] = True
        firsts[0] = True
        begins = np.flatnonzero(firsts)  # of frames that are all the same
        last = int(begins[-1])
        if n - last > self._times or (begins[1:] - begins[:-1] > self._times).any():
            place = np.arange(n) - np.maximum.accumulate(np.where(firsts, np.arange(n), 0))
            firsts = place % self._times == 0
        place_of_last = n - 1 - last
        damaged, self._lost = round(self._lost / self._length), 0
        if frames[0].tobytes() == self._previous:
            places = np.arange(int(begins[1]) if len(begins) > 1 else n) + self._place + 1 + damaged
            conversions = places // self._times
            firsts[: len(places)] = np.diff(conversions, prepend=self._place // self._times) != 0
            if len(begins) == 1:
                place_of_last = int(places[-1])
        self._previous, self._place = frames[-1].tobytes(), place_of_last
        return firsts
