"""Markings on parts: letter-and-digit and three-digit codes (IEC 60062), preferred values (IEC 60063)."""

from __future__ import annotations

import re
from decimal import Decimal

from benchtui.model.units import Unit

from .phrases import Tolerance
from .quantity import Quantity, QuantityError, clean, parse_quantity, quoted

LETTERS = {
    "W": (Decimal("0.05"), Decimal("0.05")),
    "B": (Decimal("0.1"), Decimal("0.1")),
    "C": (Decimal("0.25"), Decimal("0.25")),
    "D": (Decimal("0.5"), Decimal("0.5")),
    "F": (Decimal(1), Decimal(1)),
    "G": (Decimal(2), Decimal(2)),
    "J": (Decimal(5), Decimal(5)),
    "K": (Decimal(10), Decimal(10)),
    "M": (Decimal(20), Decimal(20)),
    "N": (Decimal(30), Decimal(30)),
    "Q": (Decimal(10), Decimal(30)),
    "S": (Decimal(20), Decimal(50)),
    "T": (Decimal(10), Decimal(50)),
    "Z": (Decimal(20), Decimal(80)),
}
"""Tolerance letter -> percent (down, up). IEC 60062; all but K from memory."""

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""IEC 60063, two significant digits."""
SERIES = {"E6": E24[::4], "E12": E24[::2], "E24": E24}

_THREE = re.compile(r"([0-9]{2})([0-9])([A-Z]?)")
_LETTERED = re.compile(r"([0-9]*[RKMGunp][0-9]*)([A-Z])")


def three_digit_code(text: str) -> tuple[Quantity, Tolerance | None]:
    """A capacitor's `104` or `104K`: two digits and the power of ten, in picofarads; 8 is x.01, 9 is x.1.

    Raises:
        QuantityError: it is no such code, or ends in 0 and could be picofarads as it stands.
    """
    tidy = clean(text)
    match = _THREE.fullmatch(tidy)
    if match is None or (match[3] and match[3] not in LETTERS) or match[1] == "00":
        raise QuantityError(f"{quoted(text)} is no three-digit code: write the value, like `0.1 uF`.")
    if match[2] == "0":
        by_code = Decimal(match[1])
        raise QuantityError(
            f"{quoted(text)} could be {by_code} pF by its code or {by_code}0 pF: write it with its unit."
        )
    power = {"8": -2, "9": -1}.get(match[2], int(match[2]))
    value = Decimal(match[1]).scaleb(power - 12)
    return Quantity(value, Unit.FARAD), _tolerance(match[3])


def part_value(text: str, *wanted: Unit) -> tuple[Quantity, Tolerance | None]:
    """A part's value as written or marked: `0.1 uF`, `4K7`, `4K7J`, and for capacitors `104K`.

    Raises:
        QuantityError: it is none; the text says what to write instead.
    """
    tidy = clean(text)
    if Unit.FARAD in wanted and _THREE.fullmatch(tidy):
        return three_digit_code(tidy)
    match = _LETTERED.fullmatch(tidy)
    if match and match[2] in LETTERS and re.search("[0-9]", match[1]):
        return parse_quantity(match[1], *wanted), _tolerance(match[2])
    return parse_quantity(tidy, *wanted), None


def _tolerance(letter: str) -> Tolerance | None:
    return Tolerance(*LETTERS[letter]) if letter else None


def preferred(value: Decimal, series: str) -> bool:
    """True where the value's digits are in the series (a key of SERIES).

    Parts made before about 1950 (.05, .25, 8, 16 uF, 50 k, 250 k) are in no series and are still right
    (common practice, no source).
    """
    digits = str(value.normalize().as_tuple().digits).strip("(),").replace(", ", "") if value else ""
    return value > 0 and len(digits) <= 2 and int(digits.ljust(2, "0")) in SERIES[series]
