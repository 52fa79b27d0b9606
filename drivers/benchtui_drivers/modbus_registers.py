"""What registers hold: whole numbers and floats over one or two of them, in any order of their bytes."""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from benchtui.model.readings import Flag
from benchtui.model.units import Unit

TYPES = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
"""Name -> how its bytes are read, the highest first."""
ORDERS = {2: ("AB", "BA"), 4: ("ABCD", "CDAB", "BADC", "DCBA")}
"""Bytes of a value -> the orders in which they can come; A is the highest."""


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a reply. Value and resolution in SI units."""

    value: float
    """NaN where `flags` say there is none."""
    resolution: float
    flags: int = 0


@dataclass(frozen=True, slots=True)
class Register:
    """One quantity of one station."""

    name: str
    """Of its channel."""
    station: int
    function: int
    address: int
    """From 0."""
    type: str
    order: str
    scale: Decimal = Decimal(1)
    """What one count is, in SI units."""
    unit: Unit = Unit.UNKNOWN
    resolution: float | None = None
    """In SI units; None for what the type says."""
    overload: frozenset[int] = frozenset()
    """What stands there, as a whole number without sign, when there is no value."""

    @property
    def count(self) -> int:
        """How many registers it takes."""
        return len(self.order) // 2

    def read(self, data: bytes) -> Value:
        """The value, from the registers as they came."""
        ordered = bytes(data[self.order.index(c)] for c in sorted(self.order))
        if int.from_bytes(ordered, "big") in self.overload:
            return Value(float("nan"), 0.0, int(Flag.OVERLOAD))
        (number,) = struct.unpack(TYPES[self.type], ordered)
        if self.type != "float32":
            return Value(float(number * self.scale), self.resolution or abs(float(self.scale)))
        single = np.float32(number)
        if not np.isfinite(single):
            over = Flag.OVERLOAD if np.isinf(single) else Flag.INVALID
            return Value(float("nan"), 0.0, int(over))
        # The shortest decimal that means this float: 285.3 is to stay 285.3, not 285.29998779296875.
        resolution = self.resolution or _spacing(number) * abs(float(self.scale))
        return Value(float(Decimal(str(single)) * self.scale), resolution)


def _spacing(number: float) -> float:
    """Between 32-bit floats of this size; 0 for 0, where it says nothing."""
    return 2.0 ** (max(math.frexp(number)[1], -125) - 24) if number else 0.0
