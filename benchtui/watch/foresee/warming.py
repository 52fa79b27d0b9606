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

from .likeness import Likeness, Sums
from .mixture import of_points, quantiles
from .shapes import Bell, conduction, flatness, reaches

ROUNDS = (300, 200, 200, 200, 300)
"""Shapes looked at in each round."""
LEAST: Floats = np.array([0.01, 0.02, 0.03, 0.03, 0.1, 0.1])
"""What the spread of shapes (shapes.py) is never less than."""
MISFITS = (0.010, 0.030)
"""How far shapes may be off, as parts of the swing seen: each is tried."""
TAILS_S = (30.0, 90.0)
"""Time constants of the slow tail that follows once nearly all the way has been gone."""
TAIL, TAIL_SD, TAIL_LEAST = 0.02, 0.011, 0.005
"""How much of the way a tail is, its deviation, and what that is at least."""
UNSURE = 0.25
"""How far the part of the way already gone may be misjudged, the true shape being none of ours: times
(1 - c) / sqrt(c), as a part of the whole way."""
BESIDE, ALIKE, WRONG = 0.6, 0.12, 0.05
"""The weight of another point's vote; how far points of one set differ half way; how often it is wrong."""
LATE, CATHODE_WRONG = 0.25, 0.01
"""How far a supply point may be ahead of one valve's cathode, which tells of that valve alone; how often a
cathode is wrong."""
HEAVIEST = 400
"""So many possibilities are asked when they settle."""
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
    way: float
    """From the settled level to the one without load, as far as that is known."""
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
    tail: Floats
    """How much of a tail there is."""
    tail_s: Floats
    """Its time constant, for each model."""
    from_s: Floats
    """When it begins, for each shape."""


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
    kernels = [Likeness(seen.t, seen.y, seen.variance, seen.mains_sd, misfit) for misfit in MISFITS]
    bell = shapes
    for number, many in enumerate(ROUNDS):
        points = bell.draw(many)
        last = number + 1 == len(ROUNDS)
        fits = _fit(points, seen, kernels if last else kernels[1:2], TAILS_S if last else TAILS_S[:1], levels)
        score = np.logaddexp.reduce(fits.score.reshape(-1, many), axis=0)
        known = shapes.log_density(points) - bell.log_density(points) if number else np.zeros(many)
        if not last:
            share = score + known
            weight = np.exp(flatness(share) * (share - share.max()))
            bell = Bell.like(points, weight, 1.35, LEAST)
    gone = conduction(points, np.array([seen.now_s]))[:, 0]
    return Explored(course, points, _weights(fits.score + known, flatness(score + known)), fits, gone)


def conclude(explored: Explored, votes: Sequence[Vote]) -> Outcome:
    """The settled level and when it is reached, with 95 % bounds; `votes` of other points of the set."""
    return _outcome(explored, explored.weight * _heard(explored, votes))


def _heard(explored: Explored, votes: Sequence[Vote]) -> Floats:
    """What the votes make of each shape.

    Points that the same valves load are alike and not the same: each vote counts as far as points differ,
    and each may be wrong. A valve that is not awake by its own cathode is surer than supplies that seem to
    have settled: they may stand between a first group of valves and a second.
    """
    gone, rises = explored.gone, explored.course.rises
    asleep = min((v.gone + v.sd for v in votes if v.rises), default=1.0)
    heard = np.ones(len(gone))
    for vote in votes:
        off = gone - vote.gone
        if vote.rises and not rises:
            sd = (vote.sd**2 + LATE**2) ** 0.5
            heard *= CATHODE_WRONG + np.exp(-0.5 * (np.maximum(off, 0.0) / sd) ** 2)
            continue
        if not vote.rises and vote.gone > asleep + LATE:
            continue
        sd = (vote.sd**2 + (ALIKE * 4.0 * vote.gone * (1.0 - vote.gone)) ** 2 + 0.03**2) ** 0.5
        if rises and not vote.rises:
            off, sd = np.maximum(off, 0.0), (vote.sd**2 + ALIKE**2) ** 0.5
        heard *= (WRONG + np.exp(-0.5 * (off / sd) ** 2)) ** BESIDE
    return heard


def _fit(
    points: Floats, seen: Seen, kernels: Sequence[Likeness], tails_s: Sequence[float], levels: Sequence[Level]
) -> _Fits:
    """Every shape under every model (tail and misfit, in this order) and every level."""
    now = conduction(points, np.array([seen.now_s]))[:, 0]
    unsure = UNSURE * (1.0 - now) / np.sqrt(np.maximum(now, 1e-4))
    gone = conduction(points, seen.t)
    from_s = reaches(points, np.full(len(points), 0.1))
    since = np.maximum(seen.t - from_s[:, None], 0.0)
    way = seen.way
    tail, tail_sd = TAIL * way, ((TAIL_SD * way) ** 2 + TAIL_LEAST**2) ** 0.5
    rows = []
    for tau in tails_s:
        left = gone * np.exp(-since / tau)
        for kernel in kernels:
            sums = kernel.sums(gone, left, tail, tail_sd)
            rows.append([_solved(sums, unsure, level, kernel.volume) for level in levels])
    packed = np.array(rows)
    score, settled, sd, top, tails = (packed[:, :, k] for k in range(5))
    tails = np.clip(tails, tail - 2.5 * tail_sd, tail + 2.5 * tail_sd)
    return _Fits(score, settled, sd, top, tails, np.repeat(np.array(tails_s), len(kernels)), from_s)


def _solved(sums: Sums, unsure: Floats, level: Level, volume: float) -> tuple[Floats, ...]:
    """The two levels in closed form (Bayesian linear regression), for all shapes at once.

    First the level without load, whatever the settled one; then what that leaves to be said of the settled
    one, blurred by what no shape knows; then that with what was known beforehand.
    """
    known = level.top_sd**-2
    aa, a = sums.uu + known, sums.uy + known * level.top
    p = np.maximum(sums.vv - sums.uv * sums.uv / aa, 1e-9)
    q = sums.vy - sums.uv * a / aa
    rest = sums.yy + known * level.top**2 - a * a / aa
    data = q / p
    top = (a - sums.uv * data) / aa
    blur = (unsure * np.minimum(np.abs(top - data), 2.0)) ** 2
    prior = level.settled_sd**2
    spread = 1.0 + p * (prior + blur)
    score = -0.5 * (rest - q * q / p) - 0.5 * np.log(aa / known) + sums.volume + volume
    score = score - 0.5 * (q - p * level.settled) ** 2 / (p * spread) - 0.5 * np.log(spread)
    told = p / (1.0 + p * blur)
    variance = 1.0 / (1.0 / prior + told)
    settled = variance * (level.settled / prior + told * data)
    top = (a - sums.uv * settled) / aa
    of_top, of_settled, rest_of_tail = sums.tail
    tail = rest_of_tail - of_top * top - of_settled * settled
    return score + float(np.log(level.weight)), settled, np.sqrt(variance), top, tail


def _weights(score: Floats, flat: float) -> Floats:
    """Models and levels by their evidence; within each, shapes by their flattened weights."""
    evidence = np.logaddexp.reduce(score, axis=2)
    within = np.exp(flat * (score - score.max(axis=2, keepdims=True)))
    within /= within.sum(axis=2, keepdims=True)
    weight: Floats = np.exp(evidence - evidence.max())[:, :, None] * within
    return weight


def _outcome(explored: Explored, weight: Floats) -> Outcome:
    points, fits = explored.points, explored.fits
    w = weight.ravel()
    settled, sd = fits.settled.ravel(), np.sqrt(fits.settled_sd.ravel() ** 2 + CREEP**2)
    low, value, high = quantiles(w, settled, sd, (0.025, 0.5, 0.975))
    by_shape = weight.sum(axis=(0, 1))
    total = float(by_shape.sum())
    mean = float(w @ settled) / total
    at = _times(explored, sd.reshape(weight.shape), weight)
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


def _times(explored: Explored, sd: Floats, weight: Floats) -> list[float]:
    """When each shape comes within what counts as settled, over all levels that it may have."""
    seen, fits = explored.course.seen, explored.fits
    first = float(seen.t[0]) if len(seen.t) else 0.0
    heavy = np.argsort(-weight.ravel(), kind="stable")[:HEAVIEST]
    model, level, shape = np.unravel_index(heavy, weight.shape)
    at = (model, level, shape)
    points, from_s, tail_s = explored.points[shape], fits.from_s[shape], fits.tail_s[model]
    whens, weights = [], []
    unsure_tail = np.minimum(sd[at], TAIL_LEAST + TAIL_SD) * explored.gone[shape]
    for off, part in ((-(3.0**0.5), 1 / 6), (0.0, 2 / 3), (3.0**0.5, 1 / 6)):
        settled, tail = fits.settled[at] + off * sd[at], fits.tail[at] - off * unsure_tail
        near = np.maximum(0.02 * np.abs(settled), seen.near)
        left = near / np.maximum(np.abs(fits.top[at] - settled), 1e-9)
        when = np.where(left >= 1.0, first, reaches(points, left))
        tailing = from_s + tail_s * np.log(np.maximum(np.abs(tail) / near, 1e-9))
        whens.append(np.maximum(when, tailing))
        weights.append(part * weight[at])
    return of_points(np.concatenate(weights), np.concatenate(whens), (0.025, 0.5, 0.975))
