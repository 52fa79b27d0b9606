"""A number and its unit as text, without a row."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchtui.model.units import Unit

DASHES = "---"
"""What stands where there is no reading."""
TINY = 1e-9
"""Against the rounding of a number that is a whole power."""
_PREFIXES = {-12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_UNPREFIXED = frozenset((Unit.UNKNOWN, Unit.STATE, Unit.CELSIUS, Unit.DB, Unit.PERCENT))


@dataclass(frozen=True, slots=True)
class Shown:
    """A number ready for the screen."""

    firm: str
    """Digits to be read."""
    unit: str
    """With its prefix."""
    loose: str = ""
    """Trailing digits below the reading's noise, to be shown quietly."""
    step: float = 0.0
    """The value of its last digit, in SI units; 0 for words."""

    @property
    def text(self) -> str:
        return self.firm + self.loose

    @property
    def whole(self) -> str:
        """Number and unit."""
        return f"{self.text} {self.unit}".rstrip()


def finite(value: float | None) -> float | None:
    """The value, or None if it is no number."""
    return value if value is not None and math.isfinite(value) else None


def number(value: float, decimals: int) -> str:
    """Fixed decimals, never a negative zero."""
    text = f"{value:.{max(decimals, 0)}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def prefix(reference: float, unit: Unit) -> tuple[float, str]:
    """Factor and unit with prefix in which `reference` is 1 to 999; volts go to milli only below 0.1 V."""
    if unit in _UNPREFIXED or not reference or not math.isfinite(reference):
        return 1.0, unit.symbol
    size = abs(reference)
    if unit.is_voltage and 0.1 <= size < 1.0:
        return 1.0, unit.symbol
    power = min(max(3 * math.floor(math.log10(size * (1 + TINY)) / 3), -12), 9)
    return 10.0**power, _PREFIXES[power] + unit.symbol


def state(value: float | None) -> str:
    """The word for a point of two states."""
    return DASHES if value is None else ("lit" if value >= 0.5 else "out")


def plain_value(value: float, unit: Unit, step: float = 0.0) -> str:
    """A number without a row: three significant digits (two below one volt), or down to `step`, and the unit.

    A step that would make nothing of the value is not heeded.
    """
    if unit is Unit.STATE:
        return state(value)
    factor, symbol = prefix(value, unit)
    digits = 2 if factor == 1.0 and 0 < abs(value) < 1 else 3
    least = 10.0 ** (math.floor(math.log10(max(abs(value), 1e-12)) + TINY) - digits + 1)
    step = step if step <= abs(value) / 2 else 0.0
    return f"{number(value / factor, decimals_of(max(least, step) / factor))} {symbol}".rstrip()


def tidy(value: float, unit: Unit) -> str:
    """The same without zeros that nobody measured: `47 kohm`, `90 V`, `98.7 V`."""
    number_, _, symbol = plain_value(value, unit).partition(" ")
    if "." in number_:
        number_ = number_.rstrip("0").rstrip(".")
    return f"{number_} {symbol}".rstrip()


def decimals_of(step: float) -> int:
    return max(-math.floor(math.log10(step) + TINY), 0) if step > 0 else 0


def two_digits(size: float) -> str:
    return f"{float(f'{size:.2g}'):g}"
