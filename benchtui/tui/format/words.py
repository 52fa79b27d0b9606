"""What stands beside a reading: its band, its rating, what is foreseen, how it drifts."""

from __future__ import annotations

from benchtui.model.units import Unit
from benchtui.watch.board import Interval, Row

from .steps import FINER, bounds, far_step, inward, reference_of, scale, to_step
from .value import decimals_of, finite, number, prefix, state, two_digits

VAGUE = 0.3
"""A half-width beyond this part of what is foreseen says no more than that it is vague."""


def limits(row: Row, step: float, most: int = 12) -> str:
    """The band in words, as short as it must be: `167 to 203`; empty where its ends would be one number.

    Where decimals have no room the band told is the narrower one: what is out never looks in.
    """
    if row.unit is Unit.STATE:
        return "" if row.nominal is None else state(row.nominal)
    factor = scale(row, finite(row.level) or 0.0)[0]
    step = min(step or far_step(row), far_step(row))
    low, high = bounds(row, step)
    for _ in range(FINER):
        if low is None or high is None or low < high:
            break
        step /= 10
        low, high = bounds(row, step)
    wanted = decimals_of(step / factor)
    for decimals in range(wanted, -1, -1):
        if decimals < wanted:
            low, high = inward(row, factor * 10.0**-decimals)
        if low is not None and high is not None and low >= high:
            return ""
        a = None if low is None else number(low / factor, decimals)
        b = None if high is None else number(high / factor, decimals)
        texts = _limit_texts(row, a, b, factor, decimals)
        for text in texts:
            if len(text) <= most:
                return text
    return ""


def pressed(row: Row) -> str:
    """What the key of a point for the eye records next: `out` of one that was lit, else `lit`."""
    value = finite(row.value)
    return state(float(value is None or value < 0.5))


def rated(row: Row, step: float) -> str:
    """The working rating with its unit; empty where the chart gives none."""
    if row.limit is None:
        return ""
    factor, unit = scale(row, 0.0)
    return f"{number(row.limit / factor, decimals_of(step / factor))} {unit}"


def beyond(row: Row, bound: float, step: float) -> str:
    """How far the value is beyond a bound, at least one step, with its unit."""
    value = finite(row.level if row.level is not None else row.value)
    if value is None:
        return ""
    factor, unit = scale(row, value)
    return f"{number(max(abs(value - bound), step) / factor, decimals_of(step / factor))} {unit}"


def interval(row: Row, foreseen: Interval) -> str:
    """A predicted value with its greater half-width: `285 ±6 V`; where that is great, `about 285 V`."""
    factor, unit = scale(row, 0.0)
    step = far_step(row)
    decimals = decimals_of(step / factor)
    half = max(foreseen.high - foreseen.value, foreseen.value - foreseen.low, step)
    if half > VAGUE * abs(foreseen.value):
        return f"about {number(foreseen.value / factor, decimals)} {unit}"
    return f"{number(foreseen.value / factor, decimals)} ±{number(half / factor, decimals)} {unit}"


def expected(row: Row) -> str:
    """What the chart prints for the point, with its unit; or its band."""
    if row.nominal is None:
        return limits(row, 0.0)
    if row.unit is Unit.STATE:
        return state(row.nominal)
    factor, unit = scale(row, 0.0)
    return f"{number(row.nominal / factor, decimals_of(far_step(row) / factor))} {unit}"


def label(row: Row, value: float, size: float, most: int = 5) -> str:
    """A bare number beside a chart whose values go up to `size`; empty where `most` cells are too few."""
    factor = prefix(reference_of(row) or size, row.unit)[0]
    step = far_step(row) / factor
    while True:
        text = number(to_step(value / factor, step, up=value == row.low), decimals_of(step))
        if len(text) <= most:
            return text
        if step >= 1.0:
            return ""
        step *= 10


def of_reading(row: Row) -> str:
    """The meter's greatest error as a part of the reading: `±1.2 %`."""
    value = finite(row.level if row.level is not None else row.value)
    if row.accuracy is None or not value:
        return ""
    part = 100 * row.accuracy / abs(value)
    return f"±{two_digits(part)} %" if part < 100 else "±100 % or more"


def drift(row: Row) -> str:
    """`steady`, a rate with two digits an hour, or nothing where it can't be told."""
    rate = finite(row.drift_per_h)
    if rate is None:
        return ""
    if rate == 0.0:
        return "steady"
    factor, unit = prefix(rate, row.unit)
    return f"{'+' if rate > 0 else '-'}{two_digits(abs(rate) / factor)} {unit}/h"


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
