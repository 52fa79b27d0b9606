"""A recording as a source: its timeline comes again, at any speed, and can be paused."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator

import numpy as np

from benchtui.model.block import Block
from benchtui.model.notes import Note
from benchtui.model.readings import Readings
from benchtui.model.units import Unit

from .recording import Recording

MOST_ROWS = 65_536
"""Readings that one drain gives at most, so that a screen stays alive at the highest speeds."""


class Replaying:
    """Gives the recording's blocks as time goes by; `now_ns` is a clock of the caller, at life's speed.

    Nothing can be added: a session that has been recorded is judged as it was.
    """

    def __init__(self, recording: Recording, now_ns: Callable[[], int], speed: float = 1.0) -> None:
        self.channels = recording.channels
        self.done = False
        """True once the last watermark has been given."""
        self._blocks: Iterator[Block] = recording.play()
        self._now_ns = now_ns
        self._speed = speed
        self._paused = False
        self._base_ns, self._began_ns = 0, now_ns()
        self._left = Block(upto_ns=-1)
        self._given_ns = 0
        self._ended = False

    @property
    def position_ns(self) -> int:
        """Where in the recording time has come to."""
        if self._paused:
            return self._base_ns
        return self._base_ns + int((self._now_ns() - self._began_ns) * self._speed)

    @property
    def speed(self) -> float:
        """How many times faster than life."""
        return self._speed

    @speed.setter
    def speed(self, speed: float) -> None:
        self._rebase()
        self._speed = speed

    def pause(self, paused: bool) -> None:
        """Stops time, or lets it go on from where it stopped."""
        if paused != self._paused:
            self._rebase()
            self._paused = paused

    def drain(self) -> Block:
        """Everything up to the present position that has not been given yet."""
        position = self.position_ns
        parts: list[Readings] = []
        notes: list[Note] = []
        rows = 0
        while rows < MOST_ROWS:
            if self._left.upto_ns <= self._given_ns and not self._next():
                self.done = True
                break
            part = self._taken(position, MOST_ROWS - rows)
            parts.append(part.readings)
            notes += part.notes
            rows += len(part.readings)
            self._given_ns = max(self._given_ns, part.upto_ns)
            if part.upto_ns >= position and self._left.upto_ns > self._given_ns:
                break
        return Block(Readings.joined(parts), tuple(notes), self._given_ns)

    def put_note(self, note: Note) -> Note | None:
        """Nothing is added to a recording."""
        return None

    def put_reading(
        self, channel: int, unit: Unit, value: float, resolution: float = 0.0, flags: int = 0
    ) -> int | None:
        """Nothing is added to a recording."""
        return None

    def close(self) -> Block:
        """An empty block: nothing is waiting. A replay that is left early ends where it was left."""
        self.done = True
        return Block(upto_ns=self._given_ns)

    def _next(self) -> bool:
        """Takes the next block of the recording; False at its end."""
        following = None if self._ended else next(self._blocks, None)
        if following is None:
            self._ended = True
            return False
        self._left = following
        return True

    def _taken(self, upto_ns: int, most: int) -> Block:
        """What of the block at hand is due, at most so many readings; the rest stays at hand."""
        left = self._left
        times = left.readings.t_ns
        end = int(np.searchsorted(times, upto_ns, side="right"))
        if end > most:
            upto_ns = int(times[most - 1])
            end = int(np.searchsorted(times, upto_ns, side="right"))
        upto_ns = min(upto_ns, left.upto_ns)
        known = bisect_right([note.t_ns for note in left.notes], upto_ns)
        self._left = Block(left.readings.take(slice(end, None)), left.notes[known:], left.upto_ns)
        return Block(left.readings.take(slice(0, end)), left.notes[:known], upto_ns)

    def _rebase(self) -> None:
        self._base_ns, self._began_ns = self.position_ns, self._now_ns()
