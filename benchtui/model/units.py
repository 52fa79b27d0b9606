"""What a reading can be a reading of: a closed list, so that AC never passes for DC."""

from __future__ import annotations

from enum import IntEnum
from functools import cached_property


class Unit(IntEnum):
    """A quantity and how it was measured, with its SI unit. The numbers are stored: never renumber."""

    UNKNOWN = 0
    V = 1
    """DC volts."""
    VAC = 2
    """AC volts, rms as the meter shows it."""
    A = 3
    AAC = 4
    OHM = 5
    FARAD = 6
    HZ = 7
    CELSIUS = 8
    STATE = 9
    """Something with two states, 1 or 0: a lamp lit or out."""
    WATT = 10
    DB = 11
    PERCENT = 12
    HENRY = 13
    SECOND = 14

    @property
    def symbol(self) -> str:
        """As charts, CSV and screens write it: `V` is DC, `Vac` is AC."""
        return _SYMBOLS[self]

    @cached_property
    def is_voltage(self) -> bool:
        return self in (Unit.V, Unit.VAC)


_SYMBOLS = {
    Unit.UNKNOWN: "",
    Unit.V: "V",
    Unit.VAC: "Vac",
    Unit.A: "A",
    Unit.AAC: "Aac",
    Unit.OHM: "ohm",
    Unit.FARAD: "F",
    Unit.HZ: "Hz",
    Unit.CELSIUS: "degC",
    Unit.STATE: "state",
    Unit.WATT: "W",
    Unit.DB: "dB",
    Unit.PERCENT: "%",
    Unit.HENRY: "H",
    Unit.SECOND: "s",
}
BY_SYMBOL = {symbol: unit for unit, symbol in _SYMBOLS.items() if symbol}
