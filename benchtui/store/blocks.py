"""Packed readings: the columns of one commit as one blob, and the cutting of a timeline into blocks."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchtui.model.block import Block
from benchtui.model.notes import Note, plain
from benchtui.model.readings import Readings
from benchtui.model.units import Unit

PLAIN = "columns"
"""The codec of a block as it is committed live: the columns below, one after the other, uncompressed."""

COLUMNS = (
    ("t_ns", "<i8"),
    ("channel", "<i2"),
    ("unit", "|u1"),
    ("value", "<f8"),
    ("resolution", "<f8"),
    ("flags", "|u1"),
)
"""Name and numpy type of each column, in the order in which they stand in the blob."""

ROW_BYTES = sum(np.dtype(kind).itemsize for _, kind in COLUMNS)


def pack(readings: Readings) -> bytes:
    """The readings as a blob of codec PLAIN: every column to the last bit, little-endian."""
    return b"".join(getattr(readings, name).astype(kind).tobytes() for name, kind in COLUMNS)


def unpack(codec: str, rows: int, data: bytes) -> Readings:
    """The readings that `pack` packed.

    Raises:
        ValueError: the codec is unknown, or the blob is not `rows` rows long.
        TypeError: it is no blob.
    """
    if codec != PLAIN:
        raise ValueError(f"blocks of the kind {plain(repr(codec), 40)} are read by a newer BenchTUI only")
    if not isinstance(data, bytes) or type(rows) is not int:
        raise TypeError("a block is no blob")
    if rows < 0 or len(data) != rows * ROW_BYTES:
        raise ValueError(f"a block should hold {rows * ROW_BYTES} bytes, not {len(data)}")
    columns: dict[str, NDArray[Any]] = {}
    at = 0
    for name, kind in COLUMNS:
        packed = np.frombuffer(data, dtype=kind, count=rows, offset=at)
        columns[name] = packed.astype(packed.dtype.newbyteorder("="))
        at += packed.nbytes
    return Readings(**columns)


def check(readings: Readings, channels: int, after_ns: int, upto_ns: int) -> None:
    """A block that came from a file keeps the promises of the timeline.

    Raises:
        ValueError: a time out of order, a channel that is not in the table, an unknown unit.
    """
    if not len(readings):
        return
    times = readings.t_ns
    if times[0] <= after_ns or times[-1] > upto_ns or (times[1:] < times[:-1]).any():
        raise ValueError("readings are not in the order of time")
    if int(readings.channel.min()) < 0 or int(readings.channel.max()) >= channels:
        raise ValueError("a reading names a channel that is not there")
    if int(readings.unit.max()) > max(Unit):
        raise ValueError("a reading has a unit that is not known")


def cut(readings: Readings, notes: tuple[Note, ...], upto_ns: int, rows: int) -> Iterator[Block]:
    """One timeline in blocks of about `rows` readings, in order; readings of one instant stay together.

    `readings` and `notes` are sorted by time and none is later than `upto_ns`. There is always a last
    block with that watermark, empty or not.
    """
    times = readings.t_ns
    note_times = [note.t_ns for note in notes]
    start = first_note = 0
    while len(times) - start > rows:
        end = int(np.searchsorted(times, times[start + rows - 1], side="right"))
        if end >= len(times):
            break
        reached = int(times[end - 1])
        next_note = bisect_right(note_times, reached)
        yield Block(readings.take(slice(start, end)), notes[first_note:next_note], reached)
        start, first_note = end, next_note
    yield Block(readings.take(slice(start, None)), notes[first_note:], upto_ns)


def until(blocks: Iterable[Block], end_ns: int) -> Iterator[Block]:
    """The blocks as if nothing after `end_ns` were known; the last one has the lesser watermark."""
    for block in blocks:
        if block.upto_ns < end_ns:
            yield block
            continue
        known = int(np.searchsorted(block.readings.t_ns, end_ns, side="right"))
        notes = tuple(note for note in block.notes if note.t_ns <= end_ns)
        yield Block(block.readings.take(slice(0, known)), notes, end_ns)
        return


def with_notes(blocks: Iterable[Block], notes: tuple[Note, ...]) -> Iterator[Block]:
    """The blocks with more notes on their timeline; at equal times the blocks' own notes come first.

    Notes later than the last watermark come in a last block that ends with them.
    """
    waiting = sorted(notes, key=lambda note: note.t_ns)
    for block in blocks:
        due = bisect_right([note.t_ns for note in waiting], block.upto_ns)
        if due:
            joined = sorted((*block.notes, *waiting[:due]), key=lambda note: note.t_ns)
            del waiting[:due]
            yield Block(block.readings, tuple(joined), block.upto_ns)
        else:
            yield block
    if waiting:
        yield Block(notes=tuple(waiting), upto_ns=waiting[-1].t_ns)


def gathered(blocks: Iterable[Block], rows: int) -> Iterator[Block]:
    """Small blocks joined into blocks of at least `rows` readings (the last one has what is left)."""
    parts: list[Readings] = []
    notes: list[Note] = []
    held = 0
    upto_ns: int | None = None
    for block in blocks:
        parts.append(block.readings)
        notes += block.notes
        held += len(block.readings)
        upto_ns = block.upto_ns
        if held >= rows:
            yield Block(Readings.joined(parts), tuple(notes), upto_ns)
            parts, notes, held, upto_ns = [], [], 0, None
    if upto_ns is not None:
        yield Block(Readings.joined(parts), tuple(notes), upto_ns)
