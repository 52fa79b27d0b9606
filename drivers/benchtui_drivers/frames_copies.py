"""Blocks that a meter sends several times for each conversion: one reading, not several."""

from __future__ import annotations


class Copies:
    """Tells the first good copy of each conversion from the others. A damaged copy counts as one.

    Two conversions of the same value look alike, so copies are counted; a new value begins a new conversion.
    """

    def __init__(self, times: int, length: int) -> None:
        """`times`: how often each is sent; `length`: bytes of a frame."""
        self._times = times
        self._length = length
        self._done = 0
        """Copies of this conversion so far."""
        self._kept = False
        """Whether one of them was good."""
        self._previous = b""
        self._lost = 0

    def restart(self) -> None:
        """Joins the stream anywhere."""
        self._done = self._lost = 0
        self._kept = False

    def lost(self, count: int) -> None:
        """So many bytes were no frame."""
        self._lost += count

    def is_first(self, frame: bytes) -> bool:
        """Whether this frame, in the place of the next, begins a conversion as far as can be told."""
        damaged, self._lost = round(self._lost / self._length), 0
        if damaged > self._times:
            damaged = self._times + damaged % self._times
        for _ in range(damaged):
            self._step()
        first = not (self._kept and self._done) or frame != self._previous
        if first and self._kept:
            self._done = 0
        self._step()
        self._kept = self._kept or first
        self._previous = frame
        if self._done == 0:
            self._kept = False
        return first

    def _step(self) -> None:
        if self._done == 0:
            self._kept = False
        self._done = (self._done + 1) % self._times
