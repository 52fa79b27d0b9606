"""Dimensions of electrical quantities, as exponents: cheap algebra for formulas, no registry to load."""

from __future__ import annotations

from typing import TypeAlias

from benchtui.model.units import Unit

Dimension: TypeAlias = tuple[int, int, int, int, int]
"""Exponents of volt, ampere, second and kelvin; the last counts alternating factors (Vac, Aac)."""

PLAIN: Dimension = (0, 0, 0, 0, 0)

OF_UNIT: dict[Unit, Dimension] = {
    Unit.V: (1, 0, 0, 0, 0),
    Unit.VAC: (1, 0, 0, 0, 1),
    Unit.A: (0, 1, 0, 0, 0),
    Unit.AAC: (0, 1, 0, 0, 1),
    Unit.OHM: (1, -1, 0, 0, 0),
    Unit.FARAD: (-1, 1, 1, 0, 0),
    Unit.HENRY: (1, -1, 1, 0, 0),
    Unit.HZ: (0, 0, -1, 0, 0),
    Unit.SECOND: (0, 0, 1, 0, 0),
    Unit.WATT: (1, 1, 0, 0, 0),
    Unit.CELSIUS: (0, 0, 0, 1, 0),
    Unit.PERCENT: PLAIN,
}

QUANTITY = {
    Unit.V: "DC volts",
    Unit.VAC: "AC volts",
    Unit.A: "a DC current",
    Unit.AAC: "an AC current",
    Unit.OHM: "a resistance",
    Unit.FARAD: "a capacitance",
    Unit.HENRY: "an inductance",
    Unit.HZ: "a frequency",
    Unit.SECOND: "a time",
    Unit.WATT: "a power",
    Unit.CELSIUS: "a temperature",
    Unit.PERCENT: "a percentage",
    Unit.DB: "decibels",
    Unit.STATE: "lit or out",
}
"""What a unit is the unit of, for sentences."""


def times(a: Dimension, b: Dimension, power: int = 1) -> Dimension:
    """The dimension of a * b**power."""
    return (
        a[0] + power * b[0],
        a[1] + power * b[1],
        a[2] + power * b[2],
        a[3] + power * b[3],
        a[4] + power * b[4],
    )


def same(a: Dimension, b: Dimension) -> bool:
    """True where a and b can be added: equal, and for volts and amperes both DC or both AC."""
    if a[:4] != b[:4]:
        return False
    return a[4] == b[4] or a[:4] not in ((1, 0, 0, 0), (0, 1, 0, 0))


def unit_of(dimension: Dimension) -> Unit:
    """The unit with this dimension; UNKNOWN for a plain number or where none of ours has it."""
    for unit, own in OF_UNIT.items():
        if own is not PLAIN and same(own, dimension):
            return unit
    return Unit.UNKNOWN


def in_words(dimension: Dimension) -> str:
    """Like `DC volts`, `a plain number` or `V^2 A`."""
    unit = unit_of(dimension)
    if unit is not Unit.UNKNOWN:
        return QUANTITY[unit]
    if dimension[:4] == PLAIN[:4]:
        return "a plain number"
    bases = zip(("V", "A", "s", "K"), dimension[:4], strict=True)
    return " ".join(name if n == 1 else f"{name}^{n}" for name, n in bases if n)
