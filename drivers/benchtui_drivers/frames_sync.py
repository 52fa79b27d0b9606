"""Where frames begin and end in a stream of bytes: what is fixed in each, and how surely that tells them.

A frame is taken only where everything fits: fixed bits, checksum, digits, signs. Where random bytes could do
that by chance (a *weak* frame), it is taken only right behind another that fits.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Bools, Ints

from .checksum import Check, Rows

SURE_BITS = 32
"""So many bits of agreement are no chance: at 1,000 bytes a second, one false frame in 50 days of noise."""

_ROW = 8192
"""Bytes; more than a port gives at a time."""


class Template:
    """What is the same in every frame."""

    def __init__(self, mask: bytes, want: bytes, check: Check | None = None) -> None:
        """`mask`: the bits of each byte that are fixed; `want`: what they are."""
        self.mask = np.frombuffer(mask, np.uint8)
        self.want = np.frombuffer(want, np.uint8)
        self.check = check
        self.length = len(mask)
        """Bytes of a frame."""
        self._masks, self._wants = (np.tile(b, _ROW // self.length) for b in (self.mask, self.want))
        """Of many frames in a row: numpy is quicker along one long row than along many short ones."""
        fixed = [n for n in range(len(mask)) if mask[n]]
        self._order = sorted(fixed, key=lambda n: -mask[n].bit_count())

    def starts(self, raw: NDArray[np.uint8]) -> tuple[Ints, Ints]:
        """Every place where a whole frame could begin; and where one could, but for its check."""
        last = len(raw) - self.length + 1
        if last <= 0:
            return np.empty(0, np.int64), np.empty(0, np.int64)
        found: Ints | None = None
        for place in self._order:
            mask, want = self.mask[place], self.want[place]
            if found is None:
                found = np.flatnonzero((raw[place : place + last] & mask) == want)
            else:
                found = found[(raw[found + place] & mask) == want]
        found = np.arange(last) if found is None else found
        if self.check is None or not len(found):
            return found, found[:0]
        holds = self.check.holds(rows_at(raw, found, self.length))
        return found[holds], found[~holds]

    def why(self, frame: bytes) -> str:
        """Why the check of this frame does not hold; empty if it does."""
        if self.check is None:
            return ""
        return self.check.why(frame)

    def fit_all(self, rows: Rows) -> bool:
        """Whether all of these, which stand one behind the other, could be frames."""
        flat = rows.reshape(-1)
        if len(flat) > len(self._masks):
            fit = bool(((rows & self.mask) == self.want).all())
        else:
            fit = bool(((flat & self._masks[: len(flat)]) == self._wants[: len(flat)]).all())
        return fit and (self.check is None or bool(self.check.holds(rows).all()))

    def fits(self, rows: Rows) -> tuple[Bools, Bools]:
        """Whether each of these could be a frame; and whether it could, whatever its check."""
        fixed: Bools = ((rows & self.mask) == self.want).all(axis=1)
        return (fixed if self.check is None else fixed & self.check.holds(rows)), fixed


def rows_at(raw: NDArray[np.uint8], starts: Ints, length: int) -> Rows:
    """The frames that begin at these places, one a row."""
    if len(starts) and (np.diff(starts) == length).all():
        return raw[starts[0] : starts[-1] + length].reshape(-1, length)
    rows = np.empty((len(starts), length), np.uint8)
    for n in range(length):
        rows[:, n] = raw[starts + n]
    return rows


def without_overlap(starts: Ints, length: int) -> Ints:
    """Of frames that overlap, the first."""
    if len(starts) < 2 or (np.diff(starts) >= length).all():
        return starts
    kept, free = [], 0
    for start in starts.tolist():
        if start >= free:
            kept.append(start)
            free = start + length
    return np.array(kept, np.int64)


Allowed = list[Bools]
"""For each byte of a frame, which of its 256 values it can have."""


def allowed(template: Template, tables: Iterable[tuple[int, Bools]]) -> Allowed:
    """What each byte can be: by what is fixed, and by `tables`, (byte, which values make sense)."""
    every = np.arange(256, dtype=np.uint8)
    can = [(every & m) == w for m, w in zip(template.mask, template.want, strict=True)]
    for byte, sense in tables:
        can[byte] = can[byte] & sense
    return can


def sure_bits(can: Allowed, check: Check | None) -> float:
    """How many bits of agreement a frame is: random bytes fit once in two to this power."""
    held = set() if check is None else set(range(*check.at))
    bits = sum(8 - math.log2(max(int(c.sum()), 1)) for n, c in enumerate(can) if n not in held)
    return bits + (0 if check is None else check.bits)


def inner_start(can: Sequence[Bools]) -> int | None:
    """The byte, from 1, at which a stream of frames could be taken to begin just as well; None if at none.

    There, every byte of a frame can be what the byte that many further on can be.
    """
    length = len(can)
    for shift in range(1, length):
        if all((can[n] & can[(n + shift) % length]).any() for n in range(length)):
            return shift + 1
    return None
