"""Where a warming point will stay: averaged over all the ways in which valves come to conduct.

While the load valves warm, a point goes from its level without load, A, to its settled level, S:
y(t) = A (1 - c(t)) + S c(t) + a slow tail. For every shape of c (shapes.py) A and S are solved exactly, under
what is known beforehand of them (the chart, an earlier run). Residuals count as correlated: a shape is never
quite right, and a slow tail hides what is still to come; readings taken as independent promise far too much.
Shapes are weighted by how well they explain the course: sampled where they matter (adaptive importance
sampling with fixed, even points: nothing random). All values are parts of a scale near 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

from .course import Course
from .hearing import Vote, heard
from .likeness import Likeness
from .mixture import Mixture
from .shapes import Bell, conduction, flatness, is_even
from .solving import Fits, fit
from .timing import times

ROUNDS, LAST = (300, 200, 200, 200), 300
"""Shapes looked at in each round of the search, and in the end."""
ROUGH, FINE = 20, 36
"""So many rows of a course will do while searching, and in the end."""
LEAST: Floats = np.array([0.01, 0.02, 0.03, 0.03, 0.1, 0.1])
"""What the spread of shapes (shapes.py) is never less than."""
MISFITS = (0.006, 0.021)
"""How far shapes may be off, as parts of the swing seen: each is tried."""
TAILS_S = (30.0, 90.0)
"""Time constants of the slow tail that follows once nearly all the way has been gone."""
WITHIN = 0.03
"""The value told is the one that most is within so much of."""
TEMPER = 0.35
"""The power of the likelihood: shapes that are all a little wrong, and wrong alike, tell less than they seem
to (a model that is wrong wants a tempered likelihood: Gruenwald and van Ommen 2017)."""
TRUST, LATEST_WAKE, FADES = 100.0, 2.0, 0.3
"""While valves may yet wake, readings must outweigh the chart (or the run before) so many times before
another value is told, and do not move what is told within it: a fault that is none costs more than one told
some seconds later. The last valves wake at up to so many times the age of the first (common practice, no
source); shortly before, trust fades. The bounds know of no such preference."""
CREEP = 0.003
"""What moves later than anyone waits: standard deviation."""


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
class Explored:
    """All that may be after the point's own readings: shapes, what each solves to, and its weight."""

    course: Course
    points: Floats
    weight: Floats
    """For each model (kernel, tail), level and shape."""
    fits: Fits
    gone: Floats
    """For each shape: how much of the way has been gone by now."""

    def vote(self) -> Vote:
        """What this point says of how far the valves have come to conduct."""
        by_shape = self.weight.sum(axis=(0, 1))
        mean = float(by_shape @ self.gone) / float(by_shape.sum())
        spread = float(by_shape @ (self.gone - mean) ** 2) / float(by_shape.sum())
        return Vote(mean, spread**0.5, self.course.rises, self.course.seen.now_s)


def explore(course: Course, shapes: Bell) -> Explored:
    """Weighs the shapes by one point's readings."""
    bell, rough = shapes, course.seen.rough(ROUGH)
    kernel = Likeness(rough.t, rough.y, rough.variance, rough.mains_sd, MISFITS[1])
    for number, many in enumerate(ROUNDS):
        points = bell.draw(many)
        found = fit(points, rough, course, [kernel], TAILS_S[:1])
        share = np.logaddexp.reduce(_tempered(found.score, course)[0], axis=0)
        if number:
            share = share + shapes.log_density(points) - bell.log_density(points)
        weight = np.exp(flatness(share) * (share - share.max()))
        if is_even(weight):
            break
        bell = Bell.like(points, weight, 1.35, LEAST)
    seen = course.seen.rough(FINE)
    kernels = [Likeness(seen.t, seen.y, seen.variance, seen.mains_sd, misfit) for misfit in MISFITS]
    points = bell.draw(LAST)
    fits = fit(points, seen, course, kernels, TAILS_S)
    score = _tempered(fits.score, course) + (shapes.log_density(points) - bell.log_density(points))
    gone = conduction(points, np.array([seen.now_s]))[:, 0]
    return Explored(course, points, _weights(score, flatness(_by_shape(score))), fits, gone)


def conclude(explored: Explored, votes: Sequence[Vote]) -> Outcome:
    """The settled level and when it is reached, with 95 % bounds; `votes` of other points of the set."""
    return _outcome(explored, explored.weight * heard(explored.points, explored.course.rises, votes))


def _tempered(score: Floats, course: Course) -> Floats:
    """Scores with their likelihood tempered, what was known beforehand left as it is."""
    part = np.log([level.weight for level in course.levels])[:, None]
    tempered: Floats = part + TEMPER * (score - part)
    return tempered


def _by_shape(score: Floats) -> Floats:
    rows = score.reshape(-1, score.shape[-1])
    top = rows.max(axis=0)
    found: Floats = top + np.log(np.exp(rows - top).sum(axis=0))
    return found


def _weights(score: Floats, flat: float) -> Floats:
    """Models and levels by their evidence; within each, shapes by their flattened weights."""
    most = score.max(axis=2, keepdims=True)
    off = score - most
    evidence = most[:, :, 0] + np.log(np.exp(off).sum(axis=2))
    within = np.exp(flat * off)
    within /= within.sum(axis=2, keepdims=True)
    weight: Floats = np.exp(evidence - evidence.max())[:, :, None] * within
    return weight


def _outcome(explored: Explored, weight: Floats) -> Outcome:
    points, fits = explored.points, explored.fits
    w = weight.ravel()
    settled, sd = fits.settled.ravel(), np.sqrt(fits.settled_sd.ravel() ** 2 + CREEP**2)
    low, high = Mixture.of(w, settled, sd).quantiles((0.025, 0.975))
    told, to = _trusting_the_chart(explored, weight)
    by_shape = weight.sum(axis=(0, 1))
    total = float(by_shape.sum())
    mean = float(w @ settled) / total
    at = times(explored.course.seen, points, fits, explored.gone, sd.reshape(weight.shape), weight)
    return Outcome(
        value=Mixture.of(told.ravel(), to.ravel(), sd).likeliest(low, high, WITHIN),
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


def _trusting_the_chart(explored: Explored, weight: Floats) -> tuple[Floats, Floats]:
    """Weights and settled values with the likeliest level beforehand preferred."""
    by_shape = weight.sum(axis=(0, 1))
    first_s = float(np.exp(by_shape @ explored.points[:, 0] / by_shape.sum()))
    waking = (LATEST_WAKE - explored.course.seen.now_s / first_s) / FADES
    trust = min(max(waking, 0.0), 1.0)
    trusted, settled = weight.copy(), explored.fits.settled.copy()
    trusted[:, 0] *= TRUST**trust
    settled[:, 0] += trust * (explored.course.levels[0].settled - settled[:, 0])
    return trusted, settled
