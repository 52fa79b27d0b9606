"""A stretch of the timeline, as it is handed from the sources to the record and the watchers."""

from __future__ import annotations

from dataclasses import dataclass, field

from .notes import Note
from .readings import Readings


@dataclass(frozen=True, slots=True)
class Block:
    """All readings and notes after the block before it, up to and including `upto_ns`.

    Readings are sorted by (time, channel), notes by time; at equal times notes come first. Nothing at or
    before `upto_ns` will come later: it is the watermark.
    """

    readings: Readings = field(default_factory=Readings.empty)
    notes: tuple[Note, ...] = ()
    upto_ns: int = 0
