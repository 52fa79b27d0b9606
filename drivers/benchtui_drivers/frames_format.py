"""A described frame, ready to be decoded: many frames at once into columns, or one frame in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import NO_VALUE, Bools, Floats, Ints

from .checksum import Rows
from .frames_digits import Display, More, Text, Whole
from .frames_status import Status, Verdict, columns_of
from .frames_sync import Template

_POWERS = np.array([float(f"1e{n}") for n in range(23)])
"""Exact in a double: a whole number below 2**53 times or over one of them is rounded once, so correctly
(Clinger 1990, "How to read floating point numbers accurately")."""

_NONE = np.uint8(NO_VALUE)


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """What frames say, in columns."""

    value: Floats
    resolution: Floats
    unit: NDArray[np.uint8]
    flags: NDArray[np.uint8]
    good: Bools
    """Whether it is a reading at all; the other columns mean nothing where it is not."""

    def take(self, rows: Ints) -> Decoded:
        """Some of the rows."""
        return Decoded(
            self.value[rows], self.resolution[rows], self.unit[rows], self.flags[rows], self.good[rows]
        )


@dataclass(frozen=True, slots=True)
class Format:
    """One described frame."""

    template: Template
    display: Display | Whole
    status: Status
    words: Mapping[bytes, int]
    """What the display shows when it shows no number -> flags; without blanks around it, without points."""

    @property
    def length(self) -> int:
        """Bytes of a frame."""
        return self.template.length

    def decode(self, rows: Rows) -> Decoded:
        """What these frames say; each fits the template already."""
        columns = np.ascontiguousarray(rows.T)
        beside = self.status.read(columns)
        numbers, text = self.display.numbers(columns)
        if numbers.more is None and isinstance(beside, Verdict) and abs(beside.power) <= 22:
            return _plain(numbers.mantissa, beside)
        n = len(rows)
        if isinstance(beside, Verdict):
            beside = columns_of([beside], np.zeros(n, np.int64))
        more = numbers.more or More(np.zeros(n, np.int64), np.zeros(n, bool), np.ones(n, bool))
        flags, good = beside.flags, more.good
        if not good.all():
            flags = flags | self._by_words(text, good)
        value, resolution = _values(numbers.mantissa, beside.power - more.behind, more.minus != beside.minus)
        none = (flags & _NONE) != 0
        if none.any():
            value[none], resolution[none] = np.nan, 0.0
        return Decoded(value, resolution, beside.unit, flags, beside.good & (good | none))

    def _by_words(self, text: Text, good: Bools) -> NDArray[np.uint8]:
        flags = np.zeros(len(good), np.uint8)
        others = np.flatnonzero(~good)
        shown, length = np.ascontiguousarray(text[:, others].T).tobytes(), len(text)
        words = [shown[n * length : (n + 1) * length] for n in range(len(others))]
        meant = {word: self.words.get(_bare(word), 0) for word in set(words)}
        flags[others] = [meant[word] for word in words]
        return flags

    def why(self, frame: bytes) -> str:
        """Why this frame, whose fixed bits fit, is no reading; for a person."""
        if wrong := self.template.why(frame):
            return wrong
        verdict = self.status.verdict(frame)
        if verdict.problem:
            return verdict.problem
        try:
            shown = self.display.shown(frame)
        except ValueError as error:
            return str(error)
        return f"its digits “{shown}” are no number and no word that is described"


def _bare(shown: bytes) -> bytes:
    return shown.replace(b".", b"").strip(b" ")


def _plain(mantissa: Floats, beside: Verdict) -> Decoded:
    """Nothing but digits, and everything beside them the same in all frames."""
    n = len(mantissa)
    scale = _POWERS[abs(beside.power)]
    value = mantissa / scale if beside.power < 0 else mantissa * scale
    count = 1 / scale if beside.power < 0 else scale
    if beside.minus:
        value = -value
    if beside.flags & NO_VALUE:
        value.fill(np.nan)
        count = 0.0
    return Decoded(
        value,
        _filled(n, count, np.float64),
        _filled(n, int(beside.unit), np.uint8),
        _filled(n, int(beside.flags), np.uint8),
        _filled(n, not beside.problem, np.bool_),
    )


def _filled(n: int, value: float, kind: type[np.generic]) -> NDArray[Any]:
    """`numpy.full`, at a third of its cost."""
    column: NDArray[Any] = np.empty(n, kind)
    column.fill(value)
    return column


def _values(mantissa: Floats, exponent: Ints, minus: Bools) -> tuple[Floats, Floats]:
    """Values and resolutions, each the double nearest to the decimal number that is shown."""
    size = np.minimum(np.abs(exponent), 22)
    scale, below = _POWERS[size], exponent < 0
    value = np.where(below, mantissa / scale, mantissa * scale)
    resolution = np.where(below, 1 / scale, scale)
    for n in np.flatnonzero(np.abs(exponent) > 22).tolist():
        value[n] = float(f"{int(mantissa[n])}e{exponent[n]}")
        resolution[n] = float(f"1e{exponent[n]}")
    return np.where(minus, -value, value), resolution
