"""What the trade writes in more than one number: tolerances, spans, surges, meter loads, rates of alarm."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from benchtui.model.units import Unit

from .chart import MeterLoad
from .quantity import NUMBER, SIGNED, Quantity, QuantityError, clean, decimal, example, parse_quantity, quoted


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a value may lie below and above its nominal; both are distances, not negative."""

    down: Decimal
    up: Decimal
    unit: Unit = Unit.PERCENT
    """PERCENT of the nominal's size, or the unit of the value itself."""

    def band(self, nominal: Decimal) -> tuple[Decimal, Decimal]:
        """Least and greatest value. A percentage is one of the size: -12 V +10 % reaches to -13.2 V."""
        if self.unit is not Unit.PERCENT:
            return nominal - self.down, nominal + self.up
        one, other = nominal * (1 - self.down / 100), nominal * (1 + self.up / 100)
        return min(one, other), max(one, other)


PLUS_MINUS = r"(?:\u00b1|\+ ?/? ?-)"
_EVEN = re.compile(rf"{PLUS_MINUS}? ?({NUMBER}) ?(.*)")
_UNEVEN = re.compile(rf"([+-]) ?({NUMBER}) ?([^0-9+\-]*?) ?[,/]? ?([+-]) ?({NUMBER}) ?([^0-9+\-]*)")
_WRITE_TOLERANCE = "write it like `10 %`, `+10 % -15 %` or `±5 V`"


def parse_tolerance(text: str, *wanted: Unit) -> Tolerance:
    """`10 %`, `±10 %`, `+10 % -15 %`, `+20/-10 %`; also in the units named, like `±5 V`.

    Raises:
        QuantityError: it is none; the text says what to write instead.
    """
    tidy = clean(text)
    if match := _UNEVEN.fullmatch(tidy):
        found = _uneven(match, text, wanted)
    elif tidy[0] in "+-" and not re.match(PLUS_MINUS, tidy):
        raise QuantityError(f"{quoted(text)} says one side only: write both, like `+20 % -0 %`.")
    elif match := _EVEN.fullmatch(tidy):
        size = _side(match[1], match[2], text, wanted)
        found = Tolerance(size.value, size.value, size.unit)
    else:
        raise QuantityError(f"{quoted(text)} is no tolerance: {_WRITE_TOLERANCE}.")
    if not found.down and not found.up:
        raise QuantityError(f"{quoted(text)} leaves no room at all: {_WRITE_TOLERANCE}.")
    if found.unit is Unit.PERCENT and (found.down > 100 or found.up > 1000):
        raise QuantityError(f"{quoted(text)} is too wide to be meant: {_WRITE_TOLERANCE}.")
    return found


def _uneven(match: re.Match[str], text: str, wanted: tuple[Unit, ...]) -> Tolerance:
    if match[1] == match[4]:
        raise QuantityError(f"{quoted(text)} has the same sign twice: write it like `+10 % -15 %`.")
    one = _side(match[2], match[3] or match[6], text, wanted)
    other = _side(match[5], match[6] or match[3], text, wanted)
    if one.unit is not other.unit:
        raise QuantityError(f"{quoted(text)} mixes two units: {_WRITE_TOLERANCE}.")
    up, down = (one, other) if match[1] == "+" else (other, one)
    return Tolerance(down.value, up.value, up.unit)


def _side(number: str, unit: str, text: str, wanted: tuple[Unit, ...]) -> Quantity:
    if not unit.strip():
        raise QuantityError(f"{quoted(text)} has no unit: {_WRITE_TOLERANCE}.")
    return parse_quantity(f"{number} {unit}", Unit.PERCENT, *wanted)


_SPAN = re.compile(rf"({SIGNED}) ?([^0-9.+\-]*?) ?(?:\.\.\.?|to|-) ?({SIGNED}) ?([^0-9.]+)")


def parse_span(text: str, *wanted: Unit) -> tuple[Quantity, Quantity]:
    """`65 V .. 90 V`, `5 .. 30 mA`, `65 to 90 V`: two quantities of one unit, the smaller first.

    Raises:
        QuantityError: it is none, or upside down; the text says what to write instead.
    """
    match = _SPAN.fullmatch(clean(text))
    unit = example(wanted).strip("`").split(" ")[-1]
    if match is None:
        raise QuantityError(f"{quoted(text)} is no range: write from and to, like `65 {unit} .. 90 {unit}`.")
    low = parse_quantity(f"{match[1]} {match[2] or match[4]}", *wanted)
    high = parse_quantity(f"{match[3]} {match[4]}", *wanted)
    if low.unit is not high.unit:
        raise QuantityError(f"{quoted(text)} mixes DC and AC, or two kinds of quantity: use one.")
    if low.value > high.value:
        raise QuantityError(f"{quoted(text)} is upside down: write the smaller value first.")
    return low, high


def parse_surge(text: str, *wanted: Unit) -> tuple[Quantity, Quantity]:
    """`400 V for 30 s`: what a point stands, and for how long after power-on.

    Raises:
        QuantityError: it is none; the text says what to write instead.
    """
    parts = re.split(r" for ", clean(text))
    if len(parts) != 2:
        raise QuantityError(f"{quoted(text)} does not say for how long: write it like `400 V for 30 s`.")
    size, time = parse_quantity(parts[0], *wanted), parse_quantity(parts[1], Unit.SECOND)
    if time.value <= 0:
        raise QuantityError(f"{quoted(text)}: the time must be more than nothing, like `400 V for 30 s`.")
    return size, time


_PER_VOLT = re.compile(r"(.+?) ?(?:/|per) ?(?:V|v|volts?)(?: ?(?:DC|AC|dc|ac))?")


def parse_load(text: str) -> MeterLoad:
    """What a meter draws: `20 kohm/V` of its range, or `11 Mohm` on any.

    Raises:
        QuantityError: it is none; the text says what to write instead.
    """
    tidy = clean(text)
    per_volt = _PER_VOLT.fullmatch(tidy)
    try:
        size = parse_quantity(per_volt[1] if per_volt else tidy, Unit.OHM)
    except QuantityError as error:
        raise QuantityError(f"{error} A meter's load is written `20 kohm/V` or `11 Mohm`.") from None
    if size.value <= 0:
        raise QuantityError(f"{quoted(text)}: a meter's load is more than 0 ohm, like `11 Mohm`.")
    return MeterLoad(ohms_per_volt=size.number) if per_volt else MeterLoad(ohms=size.number)


_ALARMS = re.compile(rf"({NUMBER}) ?(?:in|per|/) ?(.+)")


def parse_alarms(text: str) -> float:
    """`1 in 100 h`: false alarms an hour.

    Raises:
        QuantityError: it is none, or no rate that could be meant; the text says what to write instead.
    """
    match = _ALARMS.fullmatch(clean(text))
    if match is None:
        raise QuantityError(f"{quoted(text)} is no rate of false alarms: write it like `1 in 100 h`.")
    number = decimal(match[1])
    words = match[2] if re.match(NUMBER, match[2]) else f"1 {match[2]}"
    time = parse_quantity(words, Unit.SECOND)
    if number <= 0 or time.value <= 0:
        raise QuantityError(f"{quoted(text)}: never a false alarm can't be had; write it like `1 in 100 h`.")
    rate = float(number * 3600 / time.value)
    if not 1e-5 <= rate <= 60.0:
        raise QuantityError(f"{quoted(text)} must lie between 1 in 100000 h and 60 in 1 h.")
    return rate
