"""How a point discharges after power-off: averaged over all the ways in which valves stop conducting.

d(ln v)/dt = -(k g(t) (v / v1)^m + r): the load valves take k while their heaters cool (g falls from 1 to 0),
less as the voltage falls (m from 0, a resistor, to 1/2, the three-halves law); the bleeder takes r for good.
With w = v^-m the equation is linear and solved by one integral. Ways are sampled where they matter, as in
warming.py; residuals of ln v count as correlated. What was read of an earlier power-off of the same set is
better than all that: then its own curve is followed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Floats

from .binned import slopes
from .mixture import of_points
from .shapes import Bell, flatness

ROUNDS = (240, 160, 160, 240)
MISFIT, MISFIT_S = 0.02, 2.0
"""How far ways are off in ln v, and for how long at a time."""
LEAST: Floats = np.array([0.03, 0.05, 0.04, 0.05, 0.05, 0.2])
LATER = 0.99
"""The part of all ways that the later bound is to be later than: its price is low, and early it may kill."""
UNSURE = 0.1
"""How far the time still to go may be off though the way is right."""
AGAIN, HALF = 0.02, 1.7
"""The same with the curve of an earlier power-off; how many deviations its bounds are away, these erring on
the side of more."""
SHIFTS_S: Floats = np.arange(-1.5, 1.51, 0.05)
SHIFT_SD = 0.4
"""How far apart the two power-offs may have been told, against the curves."""
TIMING_S = 0.06
"""How late or early a reading may be."""
FOLLOWS, SCALE_SD, NEWEST_S = 0.01, 0.04, 1.5
"""How far one curve strays from the other in ln v; how far the first sizes do; which readings are newest."""
GRID_S: Floats = np.concatenate((np.arange(0.0, 2.0, 0.2), np.geomspace(2.0, 120.0, 50)))
"""Ages since power-off at which ways are worked out; beyond, only the bleeder is left."""

LOAD, COOLS, FOOT, SHOULDER, LAW = 0.4, 9.5, 2.0, 1.0, -0.5
HOT_S = 2.0
"""So long at least a heated cathode emits without power."""
SDS = (0.9, 0.75, 0.35, 0.4, 1.0)
"""Rates while warm (a second), end of conduction (seconds), its shape, the law: middles and deviations. A
cathode can emit many times what is drawn, so conduction is full for long and then ends soon. Common practice,
no source."""
BLEEDS, BLEEDS_SD = 1 / 30, 1.4
"""What a bleeder takes where nobody knows it."""


@dataclass(frozen=True, slots=True, eq=False)
class Falling:
    """A discharge so far: ages since power-off, sizes of the voltage, variances of their logarithms."""

    t: Floats
    v: Floats
    variance: Floats
    now_s: float
    below: float


@dataclass(frozen=True, slots=True)
class Below:
    """When it will be below the level: ages since power-off, with 95 % bounds."""

    at_s: float
    at_low_s: float
    at_high_s: float

    def no_sooner(self, at_s: float) -> Below:
        """With a later bound that is no sooner than this."""
        return Below(self.at_s, self.at_low_s, max(self.at_high_s, at_s))

    def sooner(self, lag_s: float, now_s: float) -> Below:
        """With the lag of a meter's averaging taken out, of what is likely and not of the latest."""
        return Below(max(now_s, self.at_s - lag_s), max(now_s, self.at_low_s - lag_s), self.at_high_s)


def ways(bleeds: float | None, sd: float) -> Bell:
    """What may be, from what is known of the bleeder (its rate, and how surely; None: nothing)."""
    rate, spread = (BLEEDS, BLEEDS_SD) if bleeds is None else (bleeds, sd)
    mean = (np.log(LOAD), np.log(rate), np.log(COOLS), np.log(FOOT), np.log(SHOULDER), LAW)
    return Bell.apart(tuple(float(x) for x in mean), (SDS[0], spread, *SDS[1:]))


def foresee_below(falling: Falling, known: Bell) -> tuple[Below, Bell]:
    """When it will be below the level, and what is now known of the way."""
    inverse, ahead = _likeness(falling)
    y = np.log(falling.v)
    bell = known
    for number, many in enumerate(ROUNDS):
        points = bell.draw(many)
        course = _courses(points)
        off = y - _at(course, points, falling.t)
        z = off @ inverse.T
        score = -0.5 * (z * z).sum(axis=1)
        if number:
            score += known.log_density(points) - bell.log_density(points)
        weight = np.exp(flatness(score) * (score - score.max()))
        if number + 1 < len(ROUNDS):
            bell = Bell.like(points, weight, 1.35, LEAST)
    shift = off @ ahead
    when = _crossing(course + shift[:, None], points, falling)
    return _bounds(when, weight, falling.now_s, UNSURE), Bell.like(points, weight, 1.0, LEAST)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """What was read of an earlier power-off: ages, logarithms of sizes, and the size before it."""

    t: Floats
    log_v: Floats
    before: float


def follow(falling: Falling, curve: Curve, before: float) -> Below | None:
    """The same from the curve of an earlier power-off of the same set; None where this one is another.

    The curve may lie a little beside in time (nobody knows to the tenth of a second when the power went) and
    in ln v (the mains has moved): every shift in time is tried, that in ln v is solved. `before`: the size
    before this power-off.
    """
    if len(curve.t) < 4:
        return None
    shift = SHIFTS_S[:, None]
    off = np.log(falling.v) - np.interp(falling.t - shift, curve.t, curve.log_v)
    steep = slopes(curve.t, curve.log_v)
    blur = (TIMING_S * np.interp(falling.t, curve.t, steep)) ** 2 + FOLLOWS**2
    weight = 1.0 / (falling.variance + blur)
    trust = SCALE_SD**-2
    first = float(np.log(before / curve.before))
    scale = (off @ weight + trust * first) / (weight.sum() + trust)
    misfit = (weight * (off - scale[:, None]) ** 2).sum(axis=1) + trust * (scale - first) ** 2
    score = misfit + (SHIFTS_S / SHIFT_SD) ** 2
    best = int(np.argmin(score))
    if misfit[best] > 9.0 + 3.0 * len(falling.t):
        return None
    near = np.exp((falling.t - falling.now_s) / NEWEST_S) * weight
    newest = (off @ near + trust * scale) / (near.sum() + trust)
    when = np.array([_reaches(curve, wanted) for wanted in np.log(falling.below) - newest]) + SHIFTS_S
    share = np.exp(-0.5 * (score - score[best]))
    at = float(share @ when / share.sum())
    if not np.isfinite(at):
        return None
    at = max(at, falling.now_s)
    apart = float(share @ (when - at) ** 2 / share.sum())
    timing = (1.0 / (near.sum() + trust)) ** 0.5 / _slope(curve, at)
    beyond = max(at - float(curve.t[-1]), 0.0)
    sd = (apart + timing**2 + (AGAIN * (at - falling.now_s)) ** 2 + (0.15 * beyond) ** 2) ** 0.5
    half = HALF * sd + 0.05
    return Below(at, max(falling.now_s, at - half), at + half)


def _reaches(curve: Curve, wanted: float) -> float:
    """When a curve comes down to a value; beyond its end it goes on as it ended. Infinite: never."""
    under = np.flatnonzero(curve.log_v <= wanted)
    if len(under):
        i = max(int(under[0]), 1)
        drop = max(float(curve.log_v[i - 1] - curve.log_v[i]), 1e-9)
        part = min(max(float(curve.log_v[i - 1] - wanted) / drop, 0.0), 1.0)
        return float(curve.t[i - 1] + part * (curve.t[i] - curve.t[i - 1]))
    slope = _slope(curve, float(curve.t[-1]))
    return float(curve.t[-1] + (curve.log_v[-1] - wanted) / slope) if slope > 1e-4 else float("inf")


def _slope(curve: Curve, at: float) -> float:
    """How fast ln v falls about an age, a second."""
    i = int(np.clip(np.searchsorted(curve.t, at), 3, len(curve.t) - 1))
    rows = slice(max(0, i - 4), i + 1)
    t, y = curve.t[rows] - curve.t[rows].mean(), curve.log_v[rows] - curve.log_v[rows].mean()
    return max(-float(t @ y) / max(float(t @ t), 1e-9), 1e-5)


def _likeness(falling: Falling) -> tuple[NDArray[Any], NDArray[Any]]:
    """What whitens the residuals, and what foretells the residual at the newest reading."""
    t = falling.t
    apart = np.abs(t[:, None] - t[None, :])
    alike = 1.0 + MISFIT**2 * np.exp(-apart / MISFIT_S)
    covariance = alike + np.diag(falling.variance)
    inverse = np.linalg.inv(np.linalg.cholesky(covariance))
    return inverse, np.linalg.solve(covariance, alike[:, -1])


def _courses(points: Floats) -> Floats:
    """ln v on GRID_S from 0 on, a row a way."""
    k, r, ends, a, b = (np.exp(points[:, j, None]) for j in range(5))
    m = 0.02 + 0.48 / (1.0 + np.exp(-points[:, 5, None]))
    u = np.clip(GRID_S / (ends + HOT_S), 0.0, 1.0)
    conducts = (1.0 - u**a) ** b
    grown = np.exp(np.minimum(m * r * GRID_S, 300.0))
    inside = conducts / grown
    steps = 0.5 * (inside[:, 1:] + inside[:, :-1]) * np.diff(GRID_S)
    total = np.concatenate((np.zeros((len(points), 1)), np.cumsum(steps, axis=1)), axis=1)
    course: Floats = -np.log(grown * (1.0 + m * k * total)) / m
    return course


def _at(course: Floats, points: Floats, t: Floats) -> Floats:
    """Courses at some ages, straight between the grid's; beyond its end the bleeder's rate."""
    i = np.clip(np.searchsorted(GRID_S, t) - 1, 0, len(GRID_S) - 2)
    part = np.clip((t - GRID_S[i]) / (GRID_S[i + 1] - GRID_S[i]), 0.0, 1.0)
    late = np.maximum(t - GRID_S[-1], 0.0) * np.exp(points[:, 1, None])
    found: Floats = course[:, i] * (1.0 - part) + course[:, i + 1] * part - late
    return found


def _crossing(course: Floats, points: Floats, falling: Falling) -> Floats:
    """When each course comes below the level, from now on."""
    wanted = float(np.log(falling.below))
    under = course <= wanted
    i = np.where(under.any(axis=1), np.argmax(under, axis=1), len(GRID_S) - 1)
    i = np.maximum(i, 1)
    rows = np.arange(len(course))
    before, after = course[rows, i - 1], course[rows, i]
    part = np.clip((before - wanted) / np.maximum(before - after, 1e-9), 0.0, 1.0)
    inside = GRID_S[i - 1] + part * (GRID_S[i] - GRID_S[i - 1])
    beyond = GRID_S[-1] + (course[:, -1] - wanted) / np.exp(points[:, 1])
    when: Floats = np.maximum(np.where(under.any(axis=1), inside, beyond), falling.now_s)
    return when


def _bounds(when: Floats, weight: Floats, now_s: float, unsure: float) -> Below:
    left = when - now_s
    spread = [(-(3.0**0.5), 1 / 6), (0.0, 2 / 3), (3.0**0.5, 1 / 6)]
    values = np.concatenate([left * np.exp(unsure * off) for off, _ in spread])
    weights = np.concatenate([weight * part for _, part in spread])
    low, middle, high = of_points(weights, values, (0.025, 0.5, LATER))
    return Below(now_s + middle, now_s + low, now_s + high)
