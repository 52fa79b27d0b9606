"""How noisy is it: robust estimates of the standard deviation that quantised readings never bring to 0.

Sources: median absolute deviation, Hampel 1974 (J. Am. Stat. Assoc. 69, 383) with the small-sample factors of
Croux and Rousseeuw 1992 (Compstat, 411; from memory, checked by simulation in the tests); successive
differences, von Neumann 1941 (Ann. Math. Stat. 12, 367); second differences, Gasser, Sroka and
Jennen-Steinmetz 1986 (Biometrika 73, 625); median of grouped data as in any statistics textbook; variance
resolution**2 / 12 of a reading rounded to its last digit, JCGM 100:2008 F.2.2.1.

All work along the last axis, so that a block of grains of equal length is one call; rows must be finite and
have at least one reading. Cost, measured for rows of 32 to 4096: 18-28 ns a reading (`mad`), 4-7
(`successive`), 11-17 (order 2), 1-2 (`von_neumann`); about 25 us for one row of 32. Resolution 0 (found
from the readings) costs up to 9 us a row more.
"""

from __future__ import annotations

from math import sqrt

import numpy as np

from benchtui.model.readings import Floats

from .quantile import MAD_TO_SD

_SMALL = np.array([1.0, 1.0, 1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107])
"""Factor on the MAD of 0..9 readings; beyond, n / (n - 0.8)."""

ROUNDING = 1.0 / sqrt(12.0)
"""Standard deviation of a rounding error, in counts of the last digit."""


def floor(resolution: Floats | float) -> Floats:
    """The least standard deviation a meter of this resolution can be credited with, in its unit."""
    return np.asarray(resolution, dtype=np.float64) * ROUNDING


def mad(values: Floats, resolution: Floats | float = 0.0) -> Floats:
    """Standard deviation about the median from the median absolute deviation, one for each row.

    `resolution` is one count of the last digit (one number, or one a row; 0: found from the readings).
    Readings are taken as spread evenly over their count, so the answer does not jump with the digit; it is
    never below resolution / sqrt(12). Holds with up to half the readings wrong. Not for a row that drifts
    or steps by more than its noise: there `successive`. In the unit of the readings.
    """
    values = np.asarray(values, dtype=np.float64)
    count = _resolution(values, resolution)
    deviation = np.abs(values - median(values)[..., None])
    n = values.shape[-1]
    factor = _SMALL[n] if n < len(_SMALL) else n / (n - 0.8)
    return _floored(_grouped_median(deviation, count) * (MAD_TO_SD * factor), deviation, count)


def successive(values: Floats, resolution: Floats | float = 0.0, *, order: int = 1) -> Floats:
    """Standard deviation from the median of absolute differences of neighbours, one for each row.

    A slow course drops out: `order` 1 forgives a slope, 2 a curve such as a warm-up, at some cost in
    efficiency (a normal row needs 3.3 and 3.9 times the readings of a plain sd for the same certainty;
    `mad` 2.7 times) and about 0.5 / n and 0.8 / n too high in the mean. Steps and single wild readings
    hardly count. Takes neighbours as independent: a meter that averages or repeats its readings looks too
    quiet; compare with `mad` on a level stretch. Floored like `mad`. Rows shorter than order + 1 get the
    floor.
    """
    values = np.asarray(values, dtype=np.float64)
    count, gain = _resolution(values, resolution), _gain(order)
    difference = np.abs(np.diff(values, n=order, axis=-1))
    if difference.shape[-1] == 0:
        return floor(count)
    return _floored(_grouped_median(difference, count) * (MAD_TO_SD / gain), difference, count)


def von_neumann(values: Floats, resolution: Floats | float = 0.0, *, order: int = 1) -> Floats:
    """Standard deviation from the mean square of successive differences: efficient, but not robust.

    For rows known to be free of steps and wild readings. Floored like `mad`.
    """
    values = np.asarray(values, dtype=np.float64)
    count = _resolution(values, resolution)
    difference = np.diff(values, n=order, axis=-1)
    if difference.shape[-1] == 0:
        return floor(count)
    spread = np.sqrt(np.mean(difference * difference, axis=-1)) / _gain(order)
    result: Floats = np.maximum(spread, floor(count))
    return result


def von_neumann_ratio(values: Floats) -> Floats:
    """Mean square successive difference over variance, one for each row: about 2 for independent readings.

    Well below 2: the course drifts or neighbours are alike (a meter that averages); above: they alternate.
    For n readings of normal noise its sd is about 2 * sqrt((n - 2) / (n * n - 1)) (von Neumann 1941). NaN
    for a constant row.
    """
    values = np.asarray(values, dtype=np.float64)
    difference = np.diff(values, axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio: Floats = np.mean(difference * difference, axis=-1) / np.var(values, axis=-1, ddof=1)
    return ratio


def infer_resolution(values: Floats) -> float:
    """One count of the last digit, guessed as the least difference between two readings.

    An upper guess for few readings; where all are equal, one unit in the last binary digit of the greatest.
    """
    flat = np.unique(np.asarray(values, dtype=np.float64))
    least = max(float(np.spacing(max(abs(flat[0]), abs(flat[-1])))), 1e-300)
    gaps = np.diff(flat)
    gaps = gaps[gaps > 8.0 * least]
    return float(gaps.min()) if len(gaps) else least


def median(values: Floats) -> Floats:
    """Median of each row: the middle reading, or the mean of the two in the middle."""
    n = values.shape[-1]
    half = n // 2
    if n % 2:
        middle: Floats = np.partition(values, half, axis=-1)[..., half]
        return middle
    part = np.partition(values, (half - 1, half), axis=-1)
    mean: Floats = 0.5 * (part[..., half - 1] + part[..., half])
    return mean


def _gain(order: int) -> float:
    """How much taking differences of this order magnifies the sd of independent readings."""
    if order not in (1, 2):
        raise ValueError(f"differences of order 1 or 2, not {order!r}")
    return sqrt(2.0) if order == 1 else sqrt(6.0)


def _grouped_median(size: Floats, count: Floats) -> Floats:
    """Median of each row of sizes >= 0 when each stands for an even spread over one count about it."""
    middle = median(size)
    half = 0.5 * count
    away = size - middle[..., None]
    edge = half[..., None] * (1.0 + 1e-9)
    below = np.count_nonzero(away < -edge, axis=-1)
    tied = np.count_nonzero(away <= edge, axis=-1) - below
    start = np.maximum(0.0, middle - half)
    share = (0.5 * size.shape[-1] - below) / np.maximum(tied, 1)
    grouped: Floats = np.where(tied > 0, start + np.clip(share, 0.0, 1.0) * (middle + half - start), middle)
    return grouped


def _floored(spread: Floats, size: Floats, count: Floats) -> Floats:
    """Never below the rounding error, and just that where nothing moved at all."""
    least = floor(count)
    result: Floats = np.where(size.max(axis=-1) <= 0.0, least, np.maximum(spread, least))
    return result


def _resolution(values: Floats, resolution: Floats | float) -> Floats:
    """One resolution for each row; where 0 is given, found from the row."""
    rows = values.shape[:-1]
    count = np.array(np.broadcast_to(np.asarray(resolution, dtype=np.float64), rows))
    unknown = ~(count > 0.0)
    if unknown.any():
        flat, flat_values = count.reshape(-1), values.reshape(-1, values.shape[-1])
        for row in np.flatnonzero(unknown.reshape(-1)):
            flat[row] = infer_resolution(flat_values[row])
        count = flat.reshape(rows)
    return count
