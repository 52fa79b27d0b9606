"""What a frame says beside its digits: unit, prefix, sign, decimal point, flags, by bits and by codes.

A meter shows few different combinations: each is worked out once, in plain Python, and looked up after that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import NO_VALUE, Ints
from benchtui.model.units import Unit

from .frames_bits import Bits, Columns, together
from .frames_words import NOTHING, Meaning, Vocabulary

MOST_BITS = 62
"""Of all places that carry meaning together."""
_MOST_KEPT = 256
_PACKED = 8
"""So many bytes are compared as one number, which numpy sorts faster."""


@dataclass(frozen=True, slots=True)
class Said:
    """What one part of a frame says."""

    meaning: Meaning = NOTHING
    power: int = 0
    """The power of ten of one count."""


class Part(Protocol):
    """One part of a frame that says something."""

    @property
    def places(self) -> tuple[Bits, ...]:
        """What it is read from."""
        ...

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        """All that it can say."""
        ...

    def say(self, values: Sequence[int]) -> Said:
        """What it says, with these values at its places.

        Raises:
            ValueError: nobody described this.
        """
        ...


@dataclass(frozen=True, slots=True)
class Lit:
    """A sign that is lit or not: one bit."""

    bit: Bits
    meaning: Meaning

    @property
    def places(self) -> tuple[Bits, ...]:
        return (self.bit,)

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        return (self.meaning,)

    def say(self, values: Sequence[int]) -> Said:
        return Said(self.meaning) if values[0] else Said()


@dataclass(frozen=True, slots=True)
class Codes:
    """A code, and with it perhaps the number of a range: what one count of the last digit is."""

    at: Bits
    codes: Mapping[int, tuple[Said | None, ...]]
    """Code -> what it says on each range, from 0; None for a range that there is not."""
    range: Bits | None = None

    @property
    def places(self) -> tuple[Bits, ...]:
        return (self.at,) if self.range is None else (self.at, self.range)

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        return tuple(said.meaning for by_range in self.codes.values() for said in by_range if said)

    def say(self, values: Sequence[int]) -> Said:
        by_range = self.codes.get(values[0])
        if by_range is None:
            raise ValueError(f"the code {_shown(self.at, values[0])} at {self.at.text} is not described")
        number = values[1] if len(values) > 1 and len(by_range) > 1 else 0
        said = by_range[number] if number < len(by_range) else None
        if said is None:
            raise ValueError(
                f"range {number} of the code {_shown(self.at, values[0])} at {self.at.text} is not described"
            )
        return said


@dataclass(frozen=True, slots=True)
class PointBits:
    """Decimal points that are lit or not."""

    bits: tuple[tuple[Bits, int], ...]
    """Each with the digits behind it."""

    @property
    def places(self) -> tuple[Bits, ...]:
        return tuple(bit for bit, _ in self.bits)

    @property
    def meanings(self) -> tuple[Meaning, ...]:
        return ()

    def say(self, values: Sequence[int]) -> Said:
        lit = [behind for (_, behind), value in zip(self.bits, values, strict=True) if value]
        if len(lit) > 1:
            raise ValueError("it shows two decimal points at once")
        return Said(power=-lit[0] if lit else 0)


def _shown(at: Bits, value: int) -> str:
    """As a description writes it."""
    return f"0x{value:0{(at.width + 3) // 4}X}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the whole of a frame says beside its digits."""

    unit: Unit = Unit.UNKNOWN
    power: int = 0
    """The power of ten of one count."""
    flags: int = 0
    minus: bool = False
    problem: str = ""
    """Why it is no reading; empty where it is one."""


@dataclass(frozen=True, slots=True)
class Beside:
    """Many frames' verdicts, in columns."""

    unit: NDArray[np.uint8]
    power: Ints
    flags: NDArray[np.uint8]
    minus: NDArray[np.bool_]
    good: NDArray[np.bool_]


class Status:
    """All parts of a frame that say something beside its digits."""

    def __init__(self, parts: tuple[Part, ...], always: Said, vocabulary: Vocabulary) -> None:
        """`always`: what every frame says."""
        self.parts = parts
        self._always = always
        self._vocabulary = vocabulary
        self._used = together(bits for part in parts for bits in part.places)
        masks = self._used.frame((1 << self._used.width) - 1)
        self._length = len(masks)
        self._bytes = np.flatnonzero(np.frombuffer(masks, np.uint8))
        self._masks = np.frombuffer(masks, np.uint8)[self._bytes, None]
        self._kept: dict[bytes, Verdict] = {}
        """By what the bytes that are used hold."""

    def read(self, columns: Columns) -> Verdict | Beside:
        """What each frame says; mostly all the same."""
        used = columns[self._bytes] & self._masks
        if (used == used[:, :1]).all():
            return self._verdict(used[:, 0].tobytes())
        _, places, which = np.unique(self._numbers(columns, used), return_index=True, return_inverse=True)
        return columns_of([self._verdict(used[:, n].tobytes()) for n in places.tolist()], which)

    def _numbers(self, columns: Columns, used: Columns) -> NDArray[np.generic]:
        """A number for each frame, the same where they say the same."""
        if len(used) > _PACKED:
            return self._used.values(columns)
        packed = np.zeros((used.shape[1], _PACKED), np.uint8)
        packed[:, : len(used)] = used.T
        return packed.view(np.uint64).reshape(-1)

    def verdict(self, frame: bytes) -> Verdict:
        """What one frame says."""
        return self._verdict((np.frombuffer(frame, np.uint8)[self._bytes] & self._masks[:, 0]).tobytes())

    def _verdict(self, used: bytes) -> Verdict:
        """What the parts say together, where the bytes that they use hold this."""
        found = self._kept.get(used)
        if found is None:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            frame = bytearray(self._length)
            for byte, value in zip(self._bytes.tolist(), used, strict=True):
                frame[byte] = value
            found = self._kept[used] = self._judged(bytes(frame))
        return found

    def _judged(self, frame: bytes) -> Verdict:
        total = self._always
        try:
            for part in self.parts:
                said = part.say([bits.value(frame) for bits in part.places])
                total = Said(total.meaning + said.meaning, total.power + said.power)
            unit = self._vocabulary.unit(total.meaning)
        except ValueError as error:
            return Verdict(problem=str(error))
        meaning = total.meaning
        if meaning.flags & NO_VALUE == NO_VALUE:
            return Verdict(problem="it says overload and invalid at once")
        return Verdict(unit, total.power + sum(meaning.powers), meaning.flags, meaning.minus)


def columns_of(verdicts: list[Verdict], which: Ints) -> Beside:
    """In columns: for each frame, which of these verdicts is its."""
    return Beside(
        np.array([v.unit for v in verdicts], np.uint8)[which],
        np.array([v.power for v in verdicts], np.int64)[which],
        np.array([v.flags for v in verdicts], np.uint8)[which],
        np.array([v.minus for v in verdicts], bool)[which],
        np.array([not v.problem for v in verdicts], bool)[which],
    )
