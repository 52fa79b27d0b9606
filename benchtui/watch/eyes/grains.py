"""Grains: fixed counts of readings, at whose ends alone an eye learns, so that no cut can change a sum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from benchtui.model.readings import Floats, Ints

FEWEST, MOST, WISHED_S = 8, 64, 4.0
"""A grain holds about four seconds, but at least 8 and at most 64 readings."""
QUANTISED = 12**-0.5
"""Standard deviation of rounding to whole counts, in counts (uniform distribution)."""
ORDINARY_PER_H = 0.01
"""The default of the setting `false_alarms`."""
CAUTION, CAUTION_PER_TENFOLD, LEAST_CAUTION, MOST_CAUTION = 1.15, 0.19, 0.7, 1.6
"""Bounds are so much wider than white noise asks at the default, less by so much for every tenfold rate."""


@dataclass(slots=True)
class GrainStats:
    """What one grain says of the level and the noise; SI units, seconds."""

    first_ns: int
    end_ns: int
    centre_s: float
    """Seconds since the session began; the mean of its times."""
    level: float
    """Its median."""
    noise: float
    """Standard deviation of a reading about its level, robust, at least that of rounding."""
    resolution: float
    flutter: float
    """The noise from the median of successive differences alone: blind to single jumps
    and to a slope."""
    jump: float
    """Root mean square of the differences between the means of four readings and of the four before them."""
    same: float
    """Part of its readings that repeat the one before."""
    least: float
    greatest: float
    last: float
    """Its newest reading."""
    clean: bool = True
    """No excursion was open in it: the eye says so."""


def grain_size(period_s: float) -> int:
    """How many readings make a grain for a meter with this time between readings."""
    return int(min(max(round(WISHED_S / max(period_s, 1e-3)), FEWEST), MOST))


def measure(t_ns: Ints, x: Floats, resolution: Floats) -> list[GrainStats]:
    """The statistics of full grains, one a row; each depends on nothing but its own row.

    The noise is the greater of the two robust estimates from successive differences (von Neumann; blind to
    a slope) and from deviations from a line through the medians of its halves (sees slow noise).

    Args:
        t_ns: shape (grains, readings), session time in ns.
        x: the values, same shape.
        resolution: one count of the last digit, same shape.
    """
    n = x.shape[1]
    half, middle = n // 2, (n - 1) // 2
    t = (t_ns - t_ns[:, :1]) * 1e-9
    ordered = np.sort(x, axis=1)
    level = 0.5 * (ordered[:, middle] + ordered[:, half])
    diffs = x[:, 1:] - x[:, :-1]
    jumps = np.abs(diffs)
    usual = np.sort(diffs, axis=1)[:, middle, None]
    flutter = np.sort(np.abs(diffs - usual), axis=1)[:, middle] / 0.954
    mean_jump = np.add.reduce(jumps, axis=1) / (n - 1)
    from_jumps = np.maximum(np.sort(jumps, axis=1)[:, middle] / 0.954, 0.6 * mean_jump / 1.128)
    early = np.sort(x[:, :half], axis=1)[:, half // 2]
    late = np.sort(x[:, half:], axis=1)[:, (n - half) // 2]
    span = np.add.reduce(t[:, half:], axis=1) / (n - half) - np.add.reduce(t[:, :half], axis=1) / half
    slope = np.where(span > 0, (late - early) / np.where(span > 0, span, 1.0), 0.0)
    centre = np.add.reduce(t, axis=1) / n
    line = 0.5 * (early + late)[:, None] + slope[:, None] * (t - centre[:, None])
    rest = np.sort(np.abs(x - line), axis=1)[:, half]
    step = np.sort(resolution, axis=1)[:, half]
    noise = np.maximum(np.maximum(from_jumps, 1.4826 * rest), step * QUANTISED)
    same = np.count_nonzero(jumps == 0.0, axis=1) / (n - 1)
    fours = x[:, :-3] + x[:, 1:-2] + x[:, 2:-1] + x[:, 3:]
    leaps = 0.25 * (fours[:, 4:] - fours[:, :-4])
    leap = np.sqrt(np.add.reduce(leaps * leaps, axis=1) / leaps.shape[1])
    centre_s = t_ns[:, 0] * 1e-9 + centre
    ends = zip(t_ns[:, 0].tolist(), t_ns[:, -1].tolist(), strict=True)
    edges = ordered[:, 0], ordered[:, -1], x[:, -1]
    columns = np.stack((centre_s, level, noise, step, flutter, leap, same, *edges), axis=1).tolist()
    return [GrainStats(*when, *row) for when, row in zip(ends, columns, strict=True)]


def few_samples(k: float, samples: float) -> float:
    """How much wider a threshold of k deviations must be where the deviation is known from few samples.

    exp(k^2 / 4n), the leading term of Student's t quantile against the normal one (Cornish and Fisher).
    """
    return math.exp(min(k * k / (4.0 * max(samples, 1.0)), 2.0))


def caution(false_alarms_per_h: float) -> float:
    """How much wider than white noise asks all bounds are, for a wished rate of false alarms.

    1.15 at the default of one in 100 h, for what is no noise: a mains that wanders, a meter that averages.
    Towards one in 1 h it shrinks until steady points with white noise of 1 % are told as often as wished
    (measured: 0.4 an hour and channel there; none in 80 h at one in 10 h or rarer).
    """
    tenfold = math.log10(max(false_alarms_per_h, 1e-12) / ORDINARY_PER_H)
    return min(max(CAUTION - CAUTION_PER_TENFOLD * tenfold, LEAST_CAUTION), MOST_CAUTION)


def threshold(false_alarms_per_h: float, period_s: float) -> float:
    """How many standard deviations one reading may be off before it is called away.

    From the normal quantile of the wished rate, shared by the four windows that are looked at for each
    reading and by three for what the noise estimate itself is uncertain by; then the caution on top.
    """
    p = false_alarms_per_h * period_s / 3600.0 / 12.0
    return caution(false_alarms_per_h) * NormalDist().inv_cdf(1.0 - min(max(p, 1e-15), 0.01) / 2.0)
