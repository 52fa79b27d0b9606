"""How many digits a row shows: by its chart, its meter and its band, so that they stay while it moves."""

from __future__ import annotations

import math

from benchtui.watch.board import Row

from .value import TINY, finite, prefix

FINER = 6
"""So many digits more are tried where value and bounds, or the ends of a narrow band, look alike."""


def far_step(row: Row, value: float = 0.0) -> float:
    """The least power of ten that is a hundredth of the band, leaves three digits and is the meter's own."""
    band = 0.0
    if row.low is not None and row.high is not None:
        band = abs(row.high - row.low)
    size = max(reference_of(row), abs(value), 1e-12)
    by_band = _power_above(band / 100) if band > 0 else 0.0
    by_digits = 10.0 ** (math.floor(math.log10(size) + TINY) - 2)
    return max(by_band, by_digits, meter_step(row))


def shown_step(row: Row, value: float = 0.0) -> float:
    """The value of the last digit shown: the far step, finer where that would round a value to 0."""
    step = far_step(row, value)
    if 0 < abs(value) < step / 2:
        fine = 10.0 ** (math.floor(math.log10(abs(value)) + TINY) - 1)
        return min(max(fine, meter_step(row), step * 1e-3), step)
    return step


def reference_of(row: Row) -> float:
    """The size that sets prefix and digits: the chart's, so that they stay while the value moves."""
    known = [abs(v) for v in (row.low, row.nominal, row.high) if v is not None and math.isfinite(v)]
    if known and max(known) > 0:
        return max(known)
    if row.limit:
        return abs(row.limit)
    return abs(finite(row.level) or finite(row.value) or 0.0)


def scale(row: Row, value: float) -> tuple[float, str]:
    factor, unit = prefix(reference_of(row), row.unit)
    if abs(value) / factor >= 999.5:
        return prefix(value * (1 + 5e-4), row.unit)
    return factor, unit


def meter_step(row: Row) -> float:
    known = row.step > 0 and math.isfinite(row.step)
    return 10.0 ** math.floor(math.log10(row.step) + TINY) if known else 0.0


def _power_above(size: float) -> float:
    return 10.0 ** math.ceil(math.log10(size) - TINY)


def bounds(row: Row, step: float) -> tuple[float | None, float | None]:
    """The band rounded to steps; a tie goes inward."""
    low = None if row.low is None else to_step(row.low, step, up=True)
    high = None if row.high is None else to_step(row.high, step, up=False)
    return low, high


def inward(row: Row, step: float) -> tuple[float | None, float | None]:
    """The band rounded to steps, never wider than it is."""
    low = None if row.low is None else math.ceil(row.low / step - TINY) * step
    high = None if row.high is None else math.floor(row.high / step + TINY) * step
    return low, high


def to_step(value: float, step: float, up: bool) -> float:
    whole = math.floor(value / step + TINY)
    part = value / step - whole
    if abs(part - 0.5) < 1e-6:
        return (whole + up) * step
    return (whole + (part > 0.5)) * step
