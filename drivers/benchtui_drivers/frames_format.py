"""A described frame, ready to be decoded: many frames at once into columns, or one frame in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import NO_VALUE, Bools, Floats, Ints

from .checksum import Rows
from .frames_digits import Display, Numbers, Text, Whole
from .frames_status import Status
from .frames_sync import Template

_POWERS = np.array([float(f"1e{n}") for n in range(23)])
"""Exact in a double: a whole number below 2**53 times or over one of them is rounded once, so correctly
(Clinger 1990, "How to read floating point numbers accurately")."""


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
        flags, good = beside.flags, numbers.good
        if not good.all():
            flags = flags | self._by_words(text, good)
        none = (flags & np.uint8(NO_VALUE)) != 0
        value, resolution = _values(numbers, beside.power, beside.minus)
        if none.any():
            value[none], resolution[none] = np.nan, 0.0
        return Decoded(value, resolution, beside.unit, flags, beside.good & (good | none))

    def _by_words(self, text: Text, good: Bools) -> NDArray[np.uint8]:
        flags = np.zeros(len(good), np.uint8)
        others = np.flatnonzero(~good)
        shown, length = np.ascontiguousarray(text[:, others].T).tobytes(), len(text)
        words = (shown[n * length : (n + 1) * length] for n in range(len(others)))
        flags[others] = [self.words.get(_bare(word), 0) for word in words]
        return flags

    def why(self, frame: bytes) -> str:
        """Why this frame, which fits the template, is no reading; for a person."""
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


def _values(numbers: Numbers, power: Ints, minus: Bools) -> tuple[Floats, Floats]:
    """Values and resolutions, each the double nearest to the decimal number that is shown."""
    exponent = power - numbers.behind
    first = int(exponent[0]) if len(exponent) else 0
    if abs(first) <= 22 and (exponent == first).all():
        scale_of_all = _POWERS[abs(first)]
        value = numbers.mantissa / scale_of_all if first < 0 else numbers.mantissa * scale_of_all
        resolution = np.full(len(value), 1 / scale_of_all if first < 0 else scale_of_all)
        return np.where(numbers.minus != minus, -value, value), resolution
    size = np.minimum(np.abs(exponent), 22)
    scale, below = _POWERS[size], exponent < 0
    value = np.where(below, numbers.mantissa / scale, numbers.mantissa * scale)
    resolution = np.where(below, 1 / scale, scale)
    for n in np.flatnonzero(np.abs(exponent) > 22).tolist():
        value[n] = float(f"{numbers.mantissa[n]}e{exponent[n]}")
        resolution[n] = float(f"1e{exponent[n]}")
    return np.where(numbers.minus != minus, -value, value), resolution
