"""Sums, exclusive-ors and cyclic redundancy checks over bytes, and over many frames at once.

A CRC is given by the parameters that the public CRC catalogues use (the model of R. N. Williams, "A painless
guide to CRC error detection algorithms", 1993): width, poly, init, refin, refout, xorout.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.uint8]
"""Frames, one a row."""
Words = NDArray[np.uint64]


@dataclass(frozen=True, slots=True)
class Crc:
    """One cyclic redundancy check, of 3 to 64 bits."""

    width: int
    poly: int
    init: int = 0
    refin: bool = False
    """Whether each byte goes in with its lowest bit first."""
    refout: bool = False
    xorout: int = 0

    def of(self, data: bytes) -> int:
        """The check of these bytes."""
        table, register = _table(self), self._start
        top = max(self._register_width - 8, 0)
        for byte in data:
            if self.refin:
                register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
            else:
                register = ((register << 8) & self._mask) ^ table[(register >> top) ^ byte]
        return self._finish(register)

    def of_rows(self, rows: Rows) -> Words:
        """The check of each row."""
        table = np.array(_table(self), np.uint64)
        register = np.full(len(rows), self._start, np.uint64)
        top, eight = np.uint64(max(self._register_width - 8, 0)), np.uint64(8)
        mask = np.uint64(self._mask)
        for column in rows.T:
            if self.refin:
                register = (register >> eight) ^ table[(register ^ column) & np.uint64(0xFF)]
            else:
                register = ((register << eight) & mask) ^ table[(register >> top) ^ column]
        if self.refin == self.refout and self._register_width == self.width:
            return register ^ np.uint64(self.xorout)
        return np.array([self._finish(r) for r in register.tolist()], np.uint64)

    @property
    def _register_width(self) -> int:
        """A check of fewer than 8 bits, highest bit first, is worked out in the upper bits of a byte."""
        return self.width if self.refin else max(self.width, 8)

    @property
    def _mask(self) -> int:
        return (1 << self._register_width) - 1

    @property
    def _start(self) -> int:
        if self.refin:
            return _reflected(self.init, self.width)
        return self.init << (self._register_width - self.width)

    def _finish(self, register: int) -> int:
        if not self.refin:
            register >>= self._register_width - self.width
        if self.refin != self.refout:
            register = _reflected(register, self.width)
        return register ^ self.xorout


MODBUS = Crc(16, 0x8005, 0xFFFF, refin=True, refout=True)
"""CRC-16/MODBUS; sent with its low byte first (Modbus over Serial Line V1.02, 2.5.1.2; from memory)."""


@cache
def _table(crc: Crc) -> tuple[int, ...]:
    """What one byte does to the register."""
    width, mask = crc._register_width, crc._mask
    poly = _reflected(crc.poly, crc.width) if crc.refin else crc.poly << (width - crc.width)
    table = []
    for byte in range(256):
        register = byte if crc.refin else byte << (width - 8)
        for _ in range(8):
            if crc.refin:
                register = (register >> 1) ^ (poly if register & 1 else 0)
            else:
                register = ((register << 1) ^ (poly if register >> (width - 1) else 0)) & mask
        table.append(register)
    return tuple(table)


def _reflected(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)


@dataclass(frozen=True, slots=True)
class Check:
    """Where a frame's checksum stands, what it covers and how it is made. Offsets count from 0."""

    kind: str
    """sum, xor or crc."""
    over: tuple[int, int]
    """First and one past the last byte that it covers."""
    at: tuple[int, int]
    """First and one past the last byte that it stands in."""
    low_first: bool = False
    """Whether its low byte comes first."""
    start: int = 0
    """What a sum or an exclusive-or begins from."""
    complement: str = "none"
    """ones: all bits turned over; twos: what brings the sum to 0."""
    crc: Crc | None = None

    @property
    def bits(self) -> int:
        """How many bits of the frame it fixes."""
        return self.crc.width if self.crc is not None else 8 * (self.at[1] - self.at[0])

    def holds(self, rows: Rows) -> NDArray[np.bool_]:
        """Whether it is right, for each frame."""
        stands = np.zeros(len(rows), np.uint64)
        columns = range(*self.at)
        for column in reversed(columns) if self.low_first else columns:
            stands = (stands << np.uint64(8)) | rows[:, column]
        return np.asarray(stands == self.of_rows(rows[:, slice(*self.over)]))

    def why(self, frame: bytes) -> str:
        """Why it is wrong, for a person; empty if it is right."""
        rows = np.frombuffer(frame, np.uint8)[None]
        if self.holds(rows)[0]:
            return ""
        width = self.at[1] - self.at[0]
        made = int(self.of_rows(rows[:, slice(*self.over)])[0]).to_bytes(
            width, "little" if self.low_first else "big"
        )
        over, at = (f"{a + 1}-{b}" if b > a + 1 else f"{b}" for a, b in (self.over, self.at))
        stands = frame[slice(*self.at)].hex(" ").upper()
        shown = made.hex(" ").upper()
        return f"its {self.kind} does not hold: bytes {over} make {shown}, at {at} stands {stands}"

    def of_rows(self, covered: Rows) -> Words:
        """What it must be, for each row of the bytes that it covers."""
        if self.crc is not None:
            return self.crc.of_rows(covered)
        mask = np.uint64((1 << 8 * (self.at[1] - self.at[0])) - 1)
        if self.kind == "xor":
            made = np.bitwise_xor.reduce(covered, axis=1).astype(np.uint64) ^ np.uint64(self.start)
        else:
            made = covered.sum(axis=1, dtype=np.uint64) + np.uint64(self.start)
        if self.complement == "ones":
            made = ~made
        elif self.complement == "twos":
            made = ~made + np.uint64(1)
        check: Words = made & mask
        return check
