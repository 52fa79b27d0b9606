"""Places in a frame, as a description writes them: `4` a byte, `4.7` a bit, `4.7-4` some bits of a byte.

Bytes count from 1, bits from 0: 4.0 is the lowest bit of the fourth byte. Several parts, separated by blanks,
are read one after the other as one number, the highest bit first: `2.2-0 3.3-0` has seven bits. `3-6` is
four bytes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Ints

Columns = NDArray[np.uint8]
"""Frames, one a column: row n holds the bytes number n of all of them."""

_PART = re.compile(r"(\d{1,3})(?:\.([0-7])(?:-([0-7]))?|-(\d{1,3}))?", re.ASCII)
MOST_BITS = 48
"""Of one field."""


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring bits of one byte."""

    byte: int
    """From 0."""
    low: int
    width: int


@dataclass(frozen=True, slots=True)
class Bits:
    """Some bits of a frame that make one number, the highest first."""

    text: str
    """As the description writes it."""
    runs: tuple[Run, ...]

    @property
    def width(self) -> int:
        """How many bits."""
        return sum(run.width for run in self.runs)

    @property
    def places(self) -> tuple[tuple[int, int], ...]:
        """(byte, bit), both from 0, of each bit."""
        return tuple((r.byte, b) for r in self.runs for b in range(r.low, r.low + r.width))

    @property
    def whole_bytes(self) -> int:
        """How many whole bytes it is; 0 if it is anything else."""
        return len(self.runs) if all(r.width == 8 for r in self.runs) else 0

    def values(self, columns: Columns) -> Ints:
        """The numbers that stand there, for each frame."""
        value = np.zeros(columns.shape[1], np.int64)
        for run in self.runs:
            part = columns[run.byte]
            if run.width < 8:
                part = (part >> np.uint8(run.low)) & np.uint8((1 << run.width) - 1)
            value <<= run.width
            value |= part
        return value

    def small(self, columns: Columns) -> Columns:
        """The same, for a field of at most 8 bits: as bytes, which is faster."""
        value: Columns | None = None
        for run in self.runs:
            part = columns[run.byte]
            if run.width < 8:
                part = (part >> np.uint8(run.low)) & np.uint8((1 << run.width) - 1)
            value = part if value is None else (value << np.uint8(run.width)) | part
        assert value is not None, "a field has at least one run"
        return value

    def value(self, frame: bytes) -> int:
        """The number that stands there in one frame."""
        value = 0
        for run in self.runs:
            value = value << run.width | (frame[run.byte] >> run.low & (1 << run.width) - 1)
        return value

    def frame(self, value: int) -> bytes:
        """The shortest frame in which this number stands there, all other bits 0."""
        frame = bytearray(1 + max((run.byte for run in self.runs), default=0))
        for run in reversed(self.runs):
            frame[run.byte] |= (value & (1 << run.width) - 1) << run.low
            value >>= run.width
        return bytes(frame)


def together(fields: Iterable[Bits]) -> Bits:
    """All bits of all fields, each once, in the order in which they stand in the frame."""
    places = sorted({place for bits in fields for place in bits.places})
    runs: list[Run] = []
    for byte, bit in places:
        last = runs[-1] if runs else None
        if last is not None and last.byte == byte and last.low + last.width == bit:
            runs[-1] = Run(byte, last.low, last.width + 1)
        else:
            runs.append(Run(byte, bit, 1))
    return Bits("", tuple(runs))


def parse_bits(text: str, length: int, most: int = MOST_BITS) -> Bits:
    """The place that this text names in a frame of so many bytes.

    Raises:
        ValueError: it is none; the text says why.
    """
    runs: list[Run] = []
    for part in text.split():
        found = _PART.fullmatch(part)
        if found is None:
            raise ValueError(f"“{part}” is no place; write 4 for a byte, 4.7 for a bit, 4.7-4 for some bits")
        runs += _runs(part, found)
    if not runs:
        raise ValueError("names no place; write 4 for a byte, 4.7 for a bit, 4.7-4 for some bits")
    for run in runs:
        if not 0 <= run.byte < length:
            raise ValueError(f"byte {run.byte + 1} is outside the frame, whose bytes are 1 to {length}")
    bits = Bits(text, tuple(runs))
    if bits.width > most:
        raise ValueError(f"has {bits.width} bits; at most {most} can be read as one number")
    if len(set(bits.places)) < bits.width:
        raise ValueError(f"“{text}” names a bit twice")
    return bits


def _runs(part: str, found: re.Match[str]) -> list[Run]:
    first, high, low, last = found.groups()
    byte = int(first) - 1
    if last is not None:
        if int(last) <= int(first):
            raise ValueError(f"“{part}” must name the lower byte first; for bits write 4.7-4")
        return [Run(n, 0, 8) for n in range(byte, int(last))]
    if high is None:
        return [Run(byte, 0, 8)]
    if low is None:
        return [Run(byte, int(high), 1)]
    if int(low) > int(high):
        raise ValueError(f"“{part}” must name the higher bit first")
    return [Run(byte, int(low), int(high) - int(low) + 1)]
