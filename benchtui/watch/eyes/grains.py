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


@dataclass(frozen=True, slots=True)
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
    clean: bool
    """No excursion was open in it."""


def grain_size(period_s: float) -> int:
    """How many readings make a grain for a meter with this time between readings."""
    return int(min(max(round(WISHED_S / max(period_s, 1e-3)), FEWEST), MOST))


def measure(t_ns: Ints, x: Floats, resolution: Floats, clean: bool) -> GrainStats:
    """The statistics of one full grain; depends on nothing else.

    The noise is the greater of the two robust estimates from successive differences (von Neumann; blind to
    a slope) and from deviations from a line through the medians of its halves (sees slow noise).
    """
    n = len(x)
    t = (t_ns - t_ns[0]) * 1e-9
    ordered = np.sort(x)
    level = 0.5 * float(ordered[(n - 1) // 2] + ordered[n // 2])
    jumps = np.abs(x[1:] - x[:-1])
    diffs = x[1:] - x[:-1]
    flutter = float(np.sort(np.abs(diffs - np.sort(diffs)[(n - 1) // 2]))[(n - 1) // 2]) / 0.954
    from_jumps = max(
        float(np.sort(jumps)[(n - 1) // 2]) / 0.954, 0.6 * float(np.add.reduce(jumps)) / (n - 1) / 1.128
    )
    half = n // 2
    first, second = np.sort(x[:half]), np.sort(x[half:])
    early, late = float(first[half // 2]), float(second[(n - half) // 2])
    span = float(np.add.reduce(t[half:])) / (n - half) - float(np.add.reduce(t[:half])) / half
    slope = (late - early) / span if span > 0 else 0.0
    centre = float(np.add.reduce(t)) / n
    rest = np.sort(np.abs(x - (0.5 * (early + late) + slope * (t - centre))))
    step = float(np.sort(resolution)[n // 2])
    noise = max(from_jumps, 1.4826 * float(rest[n // 2]), step * QUANTISED)
    same = float(np.count_nonzero(jumps == 0.0)) / (n - 1)
    fours = x[:-3] + x[1:-2] + x[2:-1] + x[3:]
    leaps = 0.25 * (fours[4:] - fours[:-4])
    leap = (float(np.add.reduce(leaps * leaps)) / len(leaps)) ** 0.5
    return GrainStats(
        int(t_ns[0]),
        int(t_ns[-1]),
        float(t_ns[0]) * 1e-9 + centre,
        level,
        noise,
        step,
        flutter,
        leap,
        same,
        clean,
    )


def few_samples(k: float, samples: float) -> float:
    """How much wider a threshold of k deviations must be where the deviation is known from few samples.

    exp(k^2 / 4n), the leading term of Student's t quantile against the normal one (Cornish and Fisher).
    """
    return math.exp(min(k * k / (4.0 * max(samples, 1.0)), 2.0))


def threshold(false_alarms_per_h: float, period_s: float) -> float:
    """How many standard deviations one reading may be off before it is called away.

    From the normal quantile of the wished rate, shared by the four windows that are looked at for each
    reading and by three for what the noise estimate itself is uncertain by; then 15 % on top for that
    estimate being made from few readings.
    """
    p = false_alarms_per_h * period_s / 3600.0 / 12.0
    return 1.15 * NormalDist().inv_cdf(1.0 - min(max(p, 1e-15), 0.01) / 2.0)
