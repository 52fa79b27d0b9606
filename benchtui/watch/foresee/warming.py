"""Where a warming point will stay: averaged over all the ways in which valves come to conduct.

While the load valves warm, a point goes from its level without load, A, to its settled level, S:
y(t) = A (1 - c(t)) + S c(t) + a slow tail. For every shape of c (shapes.py) A and S are solved exactly, under
what is known beforehand of them (the chart, an earlier run). Residuals count as correlated: a shape is never
quite right, and a slow tail hides what is still to come; readings taken as independent promise far too much.
Shapes are weighted by how well they explain the course: sampled where they matter (adaptive importance
sampling with fixed, even points: nothing random), three rounds. All values are parts of a scale near 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

from .mixture import of_points, quantiles
from .shapes import Bell, conduction, reaches

ROUNDS = (400, 300, 300)
"""Shapes looked at in each round."""
LEAST: Floats = np.array([0.01, 0.02, 0.03, 0.03, 0.1, 0.1])
"""What the spread of shapes (shapes.py) is never less than."""
SPREAD_OVER = 40.0
"""The weight of a round is spread over at least so many shapes before the next one looks closer."""
MISFITS = (0.004, 0.015, 0.05)
MISFIT_WEIGHTS = (0.4, 0.4, 0.2)
MISFIT_S = 5.0
"""How far shapes are off, as a part of the swing seen, and for how long at a time."""
WANDER, WANDER_S = 0.0015, 20.0
"""What a point wanders by itself."""
TAILS_S = (30.0, 90.0)
"""Time constants of the slow tail that follows once nearly all the way has been gone."""
TAIL, TAIL_SD, TAIL_LEAST = 0.025, 0.03, 0.004
"""How much of the way a tail is, its deviation, and what that is at least."""
UNSURE = 0.25
"""How far the part of the way already gone may be misjudged, the true shape being none of ours: times
(1 - c) / sqrt(c), as a part of the whole way."""
BESIDE, ALIKE, WRONG = 0.6, 0.12, 0.05
"""The weight of another point's vote; how far points of one set differ half way; how often it is wrong."""
LATE = 0.3
"""How far a supply point may be ahead of one valve's cathode, which tells of that valve alone."""
CREEP = 0.003
"""What moves later than anyone waits: standard deviation."""


@dataclass(frozen=True, slots=True)
class Level:
    """One thing known beforehand of the levels: how sure, and what."""

    weight: float
    settled: float
    settled_sd: float
    top: float
    top_sd: float
    """Of the level without load."""


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What was read, as parts of the scale; ages in seconds since power-on."""

    t: Floats
    y: Floats
    variance: Floats
    """Of each row, from noise and rounding alone."""
    now_s: float
    near: float
    """Three counts of the meter."""
    mains_sd: float = 0.0
    """How much an unmeasured mains may wander meanwhile."""


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What is foreseen, still as parts of the scale."""

    value: float
    low: float
    high: float
    sd: float
    at_s: float
    at_low_s: float
    at_high_s: float
    conducting: float
    """How much of the way to the settled level has been gone, 0 to 1."""
    top: float
    shapes: Bell
    """What is now known of the shape."""


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """A point's readings with what was known of it beforehand."""

    seen: Seen
    levels: Sequence[Level]
    rises: bool
    """Without load it reads nothing; else it leads and sags."""


@dataclass(frozen=True, slots=True, eq=False)
class _Fits:
    """For each kernel, level and shape: how well it explains the course, and what it solves to."""

    score: Floats
    settled: Floats
    settled_sd: Floats
    top: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Explored:
    """All that may be after the point's own readings: shapes, what each solves to, and its weight."""

    course: Course
    points: Floats
    weight: Floats
    """For each model (kernel, tail), level and shape."""
    fits: _Fits
    gone: Floats
    """For each shape: how much of the way has been gone by now."""

    def vote(self) -> Vote:
        """What this point says of how far the valves have come to conduct."""
        by_shape = self.weight.sum(axis=(0, 1))
        mean = float(by_shape @ self.gone) / float(by_shape.sum())
        spread = float(by_shape @ (self.gone - mean) ** 2) / float(by_shape.sum())
        return Vote(mean, spread**0.5, self.course.rises)


@dataclass(frozen=True, slots=True)
class Vote:
    """What one point says of how far the valves have come to conduct: mean and standard deviation."""

    gone: float
    sd: float
    rises: bool


def explore(course: Course, shapes: Bell) -> Explored:
    """Weighs the shapes by one point's readings."""
    seen, levels = course.seen, course.levels
    kernels = [_Kernel(seen, misfit, part) for misfit, part in zip(MISFITS, MISFIT_WEIGHTS, strict=True)]
    bell = shapes
    for number, many in enumerate(ROUNDS):
        points = bell.draw(many)
        last = number + 1 == len(ROUNDS)
        fits = _fit(points, seen, kernels if last else kernels[1:2], TAILS_S if last else TAILS_S[:1], levels)
        score = np.logaddexp.reduce(fits.score.reshape(-1, many), axis=0)
        known = shapes.log_density(points) - bell.log_density(points) if number else np.zeros(many)
        if not last:
            bell = Bell.like(points, _spread(score + known), 1.35, LEAST)
    log_weight = fits.score + known
    gone = conduction(points, np.array([seen.now_s]))[:, 0]
    return Explored(course, points, np.exp(log_weight - log_weight.max()), fits, gone)


def conclude(explored: Explored, votes: Sequence[Vote]) -> Outcome:
    """The settled level and when it is reached, with 95 % bounds.

    `votes`: of other points that the same valves load. They are alike and not the same: each vote counts as
    far as points differ, and each may be wrong.
    """
    gone, rises = explored.gone, explored.course.rises
    heard = np.ones(len(gone))
    for vote in votes:
        off = gone - vote.gone
        sd = (vote.sd**2 + (ALIKE * 4.0 * vote.gone * (1.0 - vote.gone)) ** 2 + 0.03**2) ** 0.5
        if vote.rises and not rises:
            off, sd = np.maximum(off, 0.0), (vote.sd**2 + LATE**2) ** 0.5
        elif rises and not vote.rises:
            off, sd = np.maximum(off, 0.0), (vote.sd**2 + ALIKE**2) ** 0.5
        heard *= (WRONG + np.exp(-0.5 * (off / sd) ** 2)) ** BESIDE
    return _outcome(explored, explored.weight * heard)


class _Kernel:
    """What the residuals of a course are alike by, made ready to divide by."""

    def __init__(self, seen: Seen, misfit: float, part: float) -> None:
        t = seen.t
        apart = np.abs(t[:, None] - t[None, :])
        swing = float(np.ptp(seen.y)) if len(t) else 0.0
        covariance = np.diag(seen.variance) + (misfit * swing) ** 2 * np.exp(-apart / MISFIT_S)
        covariance += WANDER**2 * np.exp(-apart / WANDER_S) + seen.mains_sd**2 * np.exp(-apart / 100.0)
        root = np.linalg.cholesky(covariance) if len(t) else np.empty((0, 0))
        self.inverse = np.linalg.inv(root) if len(t) else root
        self.y = self.inverse @ seen.y
        self.ones = self.inverse.sum(axis=1)
        self.log_weight = float(np.log(part)) - float(np.log(np.diag(root)).sum())

    def sums(self, gone: Floats, left: Floats, tail: float, tail_sd: float) -> tuple[Floats, ...]:
        """Products of what stands before A and S and of the course, the tail taken out; for each shape."""
        v, e = gone @ self.inverse.T, left @ self.inverse.T
        u = self.ones - v
        y = self.y - tail * e
        ee = (e * e).sum(1) + tail_sd**-2
        ue, ve, ye = ((x * e).sum(1) for x in (u, v, y))
        pairs = (
            (u, u, ue, ue),
            (u, v, ue, ve),
            (v, v, ve, ve),
            (u, y, ue, ye),
            (v, y, ve, ye),
            (y, y, ye, ye),
        )
        out = [(x * z).sum(1) - xe * ze / ee for x, z, xe, ze in pairs]
        return (*out, -0.5 * np.log(ee * tail_sd**2))


def _fit(
    points: Floats, seen: Seen, kernels: list[_Kernel], tails_s: Sequence[float], levels: Sequence[Level]
) -> _Fits:
    now = conduction(points, np.array([seen.now_s]))[:, 0]
    unsure = UNSURE * (1.0 - now) / np.sqrt(np.maximum(now, 1e-4))
    gone = conduction(points, seen.t)
    since = np.maximum(seen.t - reaches(points, np.full(len(points), 0.1))[:, None], 0.0)
    way = (float(seen.y[0]) if len(seen.y) else levels[0].top) - 1.0
    tail, tail_sd = TAIL * way, ((TAIL_SD * way) ** 2 + TAIL_LEAST**2) ** 0.5
    rows = []
    for tau in tails_s:
        left = gone * np.exp(-since / tau)
        for kernel in kernels:
            sums = kernel.sums(gone, left, tail, tail_sd)
            rows.append([_solved(sums, unsure, level, kernel.log_weight) for level in levels])
    packed = np.array(rows)
    return _Fits(packed[:, :, 0], packed[:, :, 1], packed[:, :, 2], packed[:, :, 3])


def _solved(sums: tuple[Floats, ...], unsure: Floats, level: Level, log_weight: float) -> tuple[Floats, ...]:
    """The two levels in closed form (Bayesian linear regression), for all shapes at once.

    First the level without load, whatever the settled one; then what that leaves to be said of the settled
    one, blurred by what no shape knows; then that with what was known beforehand.
    """
    uu, uv, vv, uy, vy, yy, volume = sums
    known = level.top_sd**-2
    aa, a = uu + known, uy + known * level.top
    p = np.maximum(vv - uv * uv / aa, 1e-9)
    q = vy - uv * a / aa
    rest = yy + known * level.top**2 - a * a / aa
    data = q / p
    top = (a - uv * data) / aa
    blur = (unsure * np.minimum(np.abs(top - data), 2.0)) ** 2
    prior = level.settled_sd**2
    spread = 1.0 + p * (prior + blur)
    score = -0.5 * (rest - q * q / p) - 0.5 * np.log(aa / known)
    score = score - 0.5 * (q - p * level.settled) ** 2 / (p * spread) - 0.5 * np.log(spread)
    told = p / (1.0 + p * blur)
    variance = 1.0 / (1.0 / prior + told)
    settled = variance * (level.settled / prior + told * data)
    return (
        score + volume + log_weight + np.log(level.weight),
        settled,
        np.sqrt(variance),
        (a - uv * settled) / aa,
    )


def _spread(share: Floats) -> Floats:
    """Weights from logarithms, flattened until they are spread over enough shapes."""
    share = share - share.max()
    flat = 1.0
    for _ in range(30):
        weight = np.exp(flat * share)
        if weight.sum() ** 2 >= SPREAD_OVER * (weight @ weight):
            break
        flat *= 0.75
    return weight


def _outcome(explored: Explored, weight: Floats) -> Outcome:
    seen, points, fits = explored.course.seen, explored.points, explored.fits
    w = weight.ravel()
    settled, sd = fits.settled.ravel(), np.sqrt(fits.settled_sd.ravel() ** 2 + CREEP**2)
    low, value, high = quantiles(w, settled, sd, (0.025, 0.5, 0.975))
    by_shape = weight.sum(axis=(0, 1))
    total = float(by_shape.sum())
    mean = float(w @ settled) / total
    at = _times(seen, points, fits, sd.reshape(weight.shape), weight)
    return Outcome(
        value=value,
        low=low,
        high=high,
        sd=float((w @ (sd**2 + (settled - mean) ** 2)) / total) ** 0.5,
        at_s=at[1],
        at_low_s=at[0],
        at_high_s=at[2],
        conducting=float(by_shape @ explored.gone) / total,
        top=float(w @ fits.top.ravel()) / total,
        shapes=Bell.like(points, by_shape, 1.0, 2.0 * LEAST),
    )


def _times(seen: Seen, points: Floats, fits: _Fits, sd: Floats, weight: Floats) -> list[float]:
    """When each shape comes within what counts as settled, over all levels that it may have."""
    first = float(seen.t[0]) if len(seen.t) else 0.0
    whens, weights = [], []
    for off, part in ((-(3.0**0.5), 1 / 6), (0.0, 2 / 3), (3.0**0.5, 1 / 6)):
        settled = fits.settled + off * sd
        near = np.maximum(0.02 * np.abs(settled), seen.near)
        left = near / np.maximum(np.abs(fits.top - settled), 1e-9)
        shapes = np.broadcast_to(points, (*left.shape, points.shape[1])).reshape(-1, points.shape[1])
        when = np.where(left.ravel() >= 1.0, first, reaches(shapes, left.ravel()))
        whens.append(when)
        weights.append(part * weight.ravel())
    return of_points(np.concatenate(weights), np.concatenate(whens), (0.025, 0.5, 0.975))
