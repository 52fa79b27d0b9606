"""The two levels of a course under every shape, in closed form, and how well each explains what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

from .course import Course, Seen
from .likeness import Likeness, Sums
from .mixture import kept_below
from .shapes import conduction, reaches

TAIL, TAIL_SD, TAIL_LEAST = 0.02, 0.011, 0.005
"""How much of the way a slow tail is, its deviation, and what that is at least."""
UNSURE = 0.3
"""How far the part of the way already gone may be misjudged, the true shape being none of ours: times
(1 - c) / sqrt(c), as a part of the whole way."""
CAP = 2.0
"""Whole ways longer than this, as a part of the scale, are not believed: they widen nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Fits:
    """For each model (tail, misfit), level and shape: how well it explains the course, what it solves to."""

    score: Floats
    settled: Floats
    settled_sd: Floats
    top: Floats
    tail: Floats
    """How much of a tail there is."""
    tail_s: Floats
    """Its time constant, for each model."""
    from_s: Floats
    """When it begins, for each shape."""


def fit(
    points: Floats, seen: Seen, course: Course, kernels: Sequence[Likeness], tails_s: Sequence[float]
) -> Fits:
    """Every shape under every model (tail and misfit, in this order) and every level of the course.

    `seen`: the course's readings, as rough as the kernels.
    """
    now = conduction(points, np.array([seen.now_s]))[:, 0]
    unsure = UNSURE * (1.0 - now) / np.sqrt(np.maximum(now, 1e-4))
    gone = conduction(points, seen.t)
    from_s = reaches(points, np.full(len(points), 0.1))
    since = np.maximum(seen.t - from_s[:, None], 0.0)
    tail, tail_sd = TAIL * seen.way, ((TAIL_SD * seen.way) ** 2 + TAIL_LEAST**2) ** 0.5
    sums, volumes = [], []
    for tau in tails_s:
        left = gone * np.exp(-since / tau)
        for kernel in kernels:
            sums.append(kernel.sums(gone, left, tail, tail_sd))
            volumes.append(kernel.volume)
    score, settled, sd, top, tails = _solved(Sums.stacked(sums), unsure, course, np.array(volumes))
    if seen.no_higher is not None and not course.rises:
        part, settled, sd = kept_below(settled, sd, seen.no_higher)
        score = score + np.log(part)
    tails = np.clip(tails, tail - 2.5 * tail_sd, tail + 2.5 * tail_sd)
    return Fits(score, settled, sd, top, tails, np.repeat(np.array(tails_s), len(kernels)), from_s)


def _solved(sums: Sums, unsure: Floats, course: Course, volume: Floats) -> tuple[Floats, ...]:
    """Bayesian linear regression, for all models, levels and shapes (in this order) at once.

    First the level without load, whatever the settled one; then what that leaves to be said of the settled
    one, blurred by what no shape knows; then that with what was known beforehand.
    """
    rows = np.array([[x.weight, x.settled, x.settled_sd, x.top, x.top_sd] for x in course.levels])
    part, beforehand, prior, first, first_sd = rows.T[:, None, :, None]
    known = first_sd**-2
    aa, a = sums.uu + known, sums.uy + known * first
    p = np.maximum(sums.vv - sums.uv * sums.uv / aa, 1e-9)
    q = sums.vy - sums.uv * a / aa
    rest = sums.yy + known * first**2 - a * a / aa
    data = q / p
    top = (a - sums.uv * data) / aa
    blur = (unsure * np.minimum(np.abs(top - data), CAP)) ** 2 + course.beyond**2
    prior = prior**2
    spread = 1.0 + p * (prior + blur)
    score = -0.5 * (rest - q * q / p + np.log(aa / known) + np.log(spread)) + sums.volume
    score += volume[:, None, None] + np.log(part) - 0.5 * (q - p * beforehand) ** 2 / (p * spread)
    told = p / (1.0 + p * blur)
    variance = 1.0 / (1.0 / prior + told)
    settled = variance * (beforehand / prior + told * data)
    top = (a - sums.uv * settled) / aa
    of_top, of_settled, rest_of_tail = sums.tail
    tail = rest_of_tail - of_top * top - of_settled * settled
    return score, settled, np.sqrt(variance), top, tail
