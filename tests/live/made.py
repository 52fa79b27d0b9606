"""Timelines that come to Live in any cuts, as threads and clocks would cut them."""

from __future__ import annotations

import json
import random
from bisect import bisect_right
from collections.abc import Iterable

import numpy as np

from benchtui.model.block import Block
from benchtui.model.findings import Event
from benchtui.model.notes import Note
from benchtui.model.units import Unit


class CutSource:
    """A whole timeline, drained at random watermarks; takes no notes."""

    def __init__(self, whole: Block, seed: int, mean_s: float) -> None:
        self.done = False
        self._left = whole
        self._random = random.Random(seed)
        self._mean_ns = mean_s * 1e9
        self._upto_ns = -1

    def drain(self) -> Block:
        """Everything up to a watermark some random time on, now and then nothing."""
        left = self._left
        self._upto_ns += int(self._random.expovariate(1 / self._mean_ns)) * self._random.choice((0, 1, 1, 1))
        upto_ns = min(max(self._upto_ns, 0), left.upto_ns)
        self.done = upto_ns == left.upto_ns
        rows = int(np.searchsorted(left.readings.t_ns, upto_ns, side="right"))
        known = bisect_right([note.t_ns for note in left.notes], upto_ns)
        self._left = Block(left.readings.take(slice(rows, None)), left.notes[known:], left.upto_ns)
        return Block(left.readings.take(slice(0, rows)), left.notes[:known], upto_ns)

    def put_note(self, note: Note) -> Note | None:
        return None

    def put_reading(
        self, channel: int, unit: Unit, value: float, resolution: float = 0.0, flags: int = 0
    ) -> int | None:
        return None

    def close(self) -> Block:
        return Block(upto_ns=max(self._upto_ns, 0) if not self.done else self._left.upto_ns)


def told(events: Iterable[Event]) -> list[str]:
    """Events to the last digit, one text each."""
    return [f"{e.seq} {e.at_ns} {e.finding} {e.act} {json.dumps(dict(e.patch))}" for e in events]
