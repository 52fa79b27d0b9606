"""Numbers as text: how many digits, which prefix, when a number is too old. Pure; the one place for it.

Two rules: no digit that the meter does not show, and no rounding that contradicts the word beside it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchtui.model.units import Unit
from benchtui.watch.board import Interval, Row

DASHES = "---"
"""What stands where there is no reading."""
_PREFIXES = {-12: "p", -9: "n", -6: "u", -3: "m", 0: "", 3: "k", 6: "M", 9: "G"}
_UNPREFIXED = frozenset((Unit.UNKNOWN, Unit.STATE, Unit.CELSIUS, Unit.DB, Unit.PERCENT))
_TINY = 1e-9


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
    power = min(max(3 * math.floor(math.log10(size * (1 + _TINY)) / 3), -12), 9)
    return 10.0**power, _PREFIXES[power] + unit.symbol


def state(value: float | None) -> str:
    """The word for a point of two states."""
    return DASHES if value is None else ("lit" if value >= 0.5 else "out")


def far(row: Row, level: float | None = None) -> Shown:
    """A value to be read from two metres: at most three digits, unless the word beside it needs one more.

    `level` is the value to show where it is not the row's own (one that was held still).
    """
    own = finite(row.level if row.level is not None else row.value)
    value = own if level is None else level
    if row.unit is Unit.STATE:
        return Shown(state(value), "")
    if value is None or own is None:
        return Shown(DASHES, prefix(_reference(row), row.unit)[1])
    factor, unit = _scale(row, own)
    step = far_step(row, own)
    if not _agrees(row, value, step) and _agrees(row, own, 0.0):
        value = own
        for _ in range(2):
            if _agrees(row, value, step) or step <= _meter_step(row) * 1.01:
                break
            step /= 10
    digits = min(step, shown_step(row, value))
    return Shown(number(value / factor, _decimals(digits / factor)), unit, step=step)


def near(row: Row, most: int = 6) -> Shown:
    """A value as its meter shows it, in at most `most` characters; digits below the noise apart."""
    value = finite(row.value)
    if row.unit is Unit.STATE:
        return Shown(state(value), "")
    if value is None:
        return Shown(DASHES, prefix(_reference(row), row.unit)[1])
    factor, unit = _scale(row, value)
    step = _meter_step(row) or 10.0 ** (math.floor(math.log10(max(abs(value), _TINY))) - 3)
    decimals = _decimals(step / factor)
    text = number(value / factor, decimals)
    while decimals > 0 and len(text) > most:
        decimals -= 1
        text = number(value / factor, decimals)
    loose = 0
    while loose < decimals and 10.0 ** (loose - decimals) * factor < row.noise * 0.999:
        loose += 1
    cut = len(text) - loose
    return Shown(text[:cut], unit, text[cut:], step=10.0**-decimals * factor)


def plain_value(value: float, unit: Unit, step: float = 0.0) -> str:
    """A number without a row: three significant digits (two below one volt), or down to `step`, and the unit.

    A step that would make nothing of the value is not heeded.
    """
    if unit is Unit.STATE:
        return state(value)
    factor, symbol = prefix(value, unit)
    digits = 2 if factor == 1.0 and 0 < abs(value) < 1 else 3
    least = 10.0 ** (math.floor(math.log10(max(abs(value), 1e-12)) + _TINY) - digits + 1)
    step = step if step <= abs(value) / 2 else 0.0
    return f"{number(value / factor, _decimals(max(least, step) / factor))} {symbol}".rstrip()


def tidy(value: float, unit: Unit) -> str:
    """The same without zeros that nobody measured: `47 kohm`, `90 V`, `98.7 V`."""
    number_, _, symbol = plain_value(value, unit).partition(" ")
    if "." in number_:
        number_ = number_.rstrip("0").rstrip(".")
    return f"{number_} {symbol}".rstrip()


def far_step(row: Row, value: float = 0.0) -> float:
    """The least power of ten that is a hundredth of the band, leaves three digits and is the meter's own."""
    band = 0.0
    if row.low is not None and row.high is not None:
        band = abs(row.high - row.low)
    size = max(_reference(row), abs(value), 1e-12)
    by_band = _power_above(band / 100) if band > 0 else 0.0
    by_digits = 10.0 ** (math.floor(math.log10(size) + _TINY) - 2)
    return max(by_band, by_digits, _meter_step(row))


def shown_step(row: Row, value: float = 0.0) -> float:
    """The value of the last digit shown: the far step, finer where that would round a value to 0."""
    step = far_step(row, value)
    if 0 < abs(value) < step / 2:
        fine = 10.0 ** (math.floor(math.log10(abs(value)) + _TINY) - 1)
        return min(max(fine, _meter_step(row), step * 1e-3), step)
    return step


def limits(row: Row, step: float, most: int = 12) -> str:
    """The band in words, as short as it must be: `167 to 203`."""
    if row.unit is Unit.STATE:
        return "" if row.nominal is None else state(row.nominal)
    factor = _scale(row, finite(row.level) or 0.0)[0]
    step = step or far_step(row)
    low, high = _bounds(row, step)
    for decimals in range(_decimals(step / factor), -1, -1):
        a = None if low is None else number(low / factor, decimals)
        b = None if high is None else number(high / factor, decimals)
        texts = _limit_texts(row, a, b, factor, decimals)
        for text in texts:
            if len(text) <= most:
                return text
    return ""


def rated(row: Row, step: float) -> str:
    """The working rating with its unit; empty where the chart gives none."""
    if row.limit is None:
        return ""
    factor, unit = _scale(row, 0.0)
    return f"{number(row.limit / factor, _decimals(step / factor))} {unit}"


def beyond(row: Row, bound: float, step: float) -> str:
    """How far the value is beyond a bound, at least one step, with its unit."""
    value = finite(row.level if row.level is not None else row.value)
    if value is None:
        return ""
    factor, unit = _scale(row, value)
    return f"{number(max(abs(value - bound), step) / factor, _decimals(step / factor))} {unit}"


def interval(row: Row, foreseen: Interval) -> str:
    """A predicted value with its greater half-width: `285 ±6 V`."""
    factor, unit = _scale(row, 0.0)
    step = far_step(row)
    decimals = _decimals(step / factor)
    half = max(foreseen.high - foreseen.value, foreseen.value - foreseen.low, step)
    return f"{number(foreseen.value / factor, decimals)} ±{number(half / factor, decimals)} {unit}"


def expected(row: Row) -> str:
    """What the chart prints for the point, with its unit; or its band."""
    if row.nominal is None:
        return limits(row, 0.0)
    if row.unit is Unit.STATE:
        return state(row.nominal)
    factor, unit = _scale(row, 0.0)
    return f"{number(row.nominal / factor, _decimals(far_step(row) / factor))} {unit}"


def label(row: Row, value: float, size: float) -> str:
    """A bare number beside a chart whose values go up to `size`."""
    factor = prefix(_reference(row) or size, row.unit)[0]
    step = far_step(row) / factor
    return number(_to_step(value / factor, step, up=value == row.low), _decimals(step))


def of_reading(row: Row) -> str:
    """The meter's greatest error as a part of the reading: `±1.2 %`."""
    value = finite(row.level if row.level is not None else row.value)
    if row.accuracy is None or not value:
        return ""
    part = 100 * row.accuracy / abs(value)
    return f"±{_two_digits(part)} %" if part < 100 else "±100 % or more"


def drift(row: Row) -> str:
    """`steady`, a rate with two digits an hour, or nothing where it can't be told."""
    rate = finite(row.drift_per_h)
    if rate is None:
        return ""
    if rate == 0.0:
        return "steady"
    factor, unit = prefix(rate, row.unit)
    return f"{'+' if rate > 0 else '-'}{_two_digits(abs(rate) / factor)} {unit}/h"


def clock(seconds: float) -> str:
    """`0:24`, `4:10`, `1:02:03`; whole seconds that have passed."""
    whole = max(int(seconds + _TINY), 0)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


def until(seconds: float) -> str:
    """Time to go, rounded up to 5 s, so that it is never told too short."""
    return clock(5 * math.ceil(max(seconds, 0.0) / 5 - _TINY))


def soon(seconds: float) -> str:
    """`in 0:40`, or `about now` once the time foreseen is here."""
    return "about now" if seconds <= 0 else f"in {until(seconds)}"


def left(seconds: float) -> str:
    """Time to go to the second, rounded up: for a countdown to a later bound."""
    return clock(math.ceil(max(seconds, 0.0) - _TINY))


def is_old(age_s: float | None, period_s: float | None) -> bool:
    """True above 2 s or three of the meter's periods, whichever is more."""
    return age_s is not None and age_s > max(2.0, 3 * (period_s or 0.0))


def age(seconds: float) -> str:
    """`9 s`, `4 min`, `3 h`."""
    if seconds < 120:
        return f"{int(seconds)} s"
    return f"{int(seconds / 60)} min" if seconds < 7200 else f"{int(seconds / 3600)} h"


def _two_digits(size: float) -> str:
    return f"{float(f'{size:.2g}'):g}"


def _reference(row: Row) -> float:
    """The size that sets prefix and digits: the chart's, so that they stay while the value moves."""
    known = [abs(v) for v in (row.low, row.nominal, row.high) if v is not None and math.isfinite(v)]
    if known and max(known) > 0:
        return max(known)
    if row.limit:
        return abs(row.limit)
    return abs(finite(row.level) or finite(row.value) or 0.0)


def _scale(row: Row, value: float) -> tuple[float, str]:
    factor, unit = prefix(_reference(row), row.unit)
    if abs(value) / factor >= 999.5:
        return prefix(value * (1 + 5e-4), row.unit)
    return factor, unit


def _meter_step(row: Row) -> float:
    known = row.step > 0 and math.isfinite(row.step)
    return 10.0 ** math.floor(math.log10(row.step) + _TINY) if known else 0.0


def _power_above(size: float) -> float:
    return 10.0 ** math.ceil(math.log10(size) - _TINY)


def _decimals(step: float) -> int:
    return max(-math.floor(math.log10(step) + _TINY), 0) if step > 0 else 0


def _bounds(row: Row, step: float) -> tuple[float | None, float | None]:
    """The band rounded to steps; a tie goes inward."""
    low = None if row.low is None else _to_step(row.low, step, up=True)
    high = None if row.high is None else _to_step(row.high, step, up=False)
    return low, high


def _to_step(value: float, step: float, up: bool) -> float:
    whole = math.floor(value / step + _TINY)
    part = value / step - whole
    if abs(part - 0.5) < 1e-6:
        return (whole + up) * step
    return (whole + (part > 0.5)) * step


def _agrees(row: Row, value: float, step: float) -> bool:
    """True if the value stands on that side of the bounds that the word says, all rounded to a step."""
    shown = round(value / step) * step if step else value
    low, high = _bounds(row, step) if step else (row.low, row.high)
    slack = step * 1e-6
    if row.sign == "#":
        return row.limit is None or abs(shown) > abs(row.limit) + slack or abs(value) <= abs(row.limit)
    if row.word in ("in", "out, low", "out, high"):
        side = "out, low" if low is not None and shown < low - slack else "in"
        side = "out, high" if high is not None and shown > high + slack else side
        return side == row.word
    return True


def _limit_texts(row: Row, low: str | None, high: str | None, factor: float, decimals: int) -> list[str]:
    if low is not None and high is not None:
        return [f"{low} to {high}", f"{low}..{high}"]
    if low is not None:
        return [f"at least {low}", f">= {low}"]
    if high is not None:
        return [f"at most {high}", f"<= {high}"]
    if row.nominal is not None:
        return [number(row.nominal / factor, decimals)]
    return [f"never {number(row.limit / factor, decimals)}"] if row.limit is not None else [""]
