"""What a row reads: from two metres, and as its meter shows it."""

from __future__ import annotations

import math

from benchtui.model.units import Unit
from benchtui.watch.board import Row

from .steps import FINER, bounds, far_step, meter_step, reference_of, scale, shown_step
from .value import DASHES, TINY, Shown, decimals_of, finite, number, prefix, state

MOST = 6
"""Digits of the longest number."""


def far(row: Row, level: float | None = None) -> Shown:
    """A value to be read from two metres: at most three digits, unless the word beside it needs more.

    `level` is the value to show where it is not the row's own (one that was held still).
    """
    own = finite(row.level if row.level is not None else row.value)
    value = own if level is None else level
    if row.unit is Unit.STATE:
        return Shown(state(value), "")
    if value is None or own is None:
        return Shown(DASHES, prefix(reference_of(row), row.unit)[1])
    factor, unit = scale(row, own)
    step = far_step(row, own)
    if not _agrees(row, value, step) and _agrees(row, own, 0.0):
        value = own
        least = max(meter_step(row) * 1.01, 10.0 ** (math.floor(math.log10(abs(value) or 1.0)) + 1 - MOST))
        for _ in range(FINER):
            if _agrees(row, value, step) or step <= least:
                break
            step /= 10
    digits = min(step, shown_step(row, value))
    return Shown(number(value / factor, decimals_of(digits / factor)), unit, step=step)


def near(row: Row, most: int = 6) -> Shown:
    """A value as its meter shows it, in at most `most` characters; digits below the noise apart."""
    value = finite(row.value)
    if row.unit is Unit.STATE:
        return Shown(state(value), "")
    if value is None:
        return Shown(DASHES, prefix(reference_of(row), row.unit)[1])
    factor, unit = scale(row, value)
    step = meter_step(row) or 10.0 ** (math.floor(math.log10(max(abs(value), TINY))) - 3)
    decimals = decimals_of(step / factor)
    text = number(value / factor, decimals)
    while decimals > 0 and len(text) > most:
        decimals -= 1
        text = number(value / factor, decimals)
    loose = 0
    while loose < decimals and 10.0 ** (loose - decimals) * factor < row.noise * 0.999:
        loose += 1
    cut = len(text) - loose
    return Shown(text[:cut], unit, text[cut:], step=10.0**-decimals * factor)


def _agrees(row: Row, value: float, step: float) -> bool:
    """True if the value stands on that side of the bounds that the word says, all rounded to a step."""
    shown = _as_shown(row, value, step) if step else value
    low, high = bounds(row, step) if step else (row.low, row.high)
    if row.word == "in" and low is not None and high is not None and low >= high:
        return False
    slack = step * 1e-6
    if row.sign == "#":
        return row.limit is None or abs(shown) > abs(row.limit) + slack or abs(value) <= abs(row.limit)
    if row.word in ("in", "out, low", "out, high"):
        side = "out, low" if low is not None and shown < low - slack else "in"
        side = "out, high" if high is not None and shown > high + slack else side
        return side == row.word
    return True


def _as_shown(row: Row, value: float, step: float) -> float:
    """The value that its text, with digits down to a step, reads back as."""
    factor = scale(row, value)[0]
    return float(number(value / factor, decimals_of(step / factor))) * factor
