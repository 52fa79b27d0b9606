"""Nonlinear least squares: any smooth curve through readings, with the sds of its parameters.

Sources: Levenberg 1944 and Marquardt 1963, with the scaling by column norms of More 1978 (Lect. Notes Math.
630, 105), the damping rule of Nielsen 1999 (IMM-REP-1999-05), the second-order step of Transtrum and Sethna
2012 (arXiv 1201.5885), exact derivatives by a complex step (Squire and Trapp 1998, SIAM Rev. 40, 110), and
the relative offset of Bates and Watts 1981 (Technometrics 23, 179) to stop on: how far the residuals lie
from being at right angles to everything the parameters can do. All of these are free of units: a curve in
millivolts and hours gives the same answer as in volts and seconds.

Finds the minimum nearest to its start, not always the least one: try several starts. Not robust against
wild readings: leave them out or weight them down. Cost, measured: 0.5-5 ms a fit of 20-250 readings, some
130 us an iteration.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from benchtui.model.readings import Floats

from .quantile import t_two_sided

Model: TypeAlias = Callable[[Any, Any], Any]
"""model(x, parameters) -> values, of numpy functions that are smooth in complex numbers too (no abs, no
where).
"""

CONVERGED = 1e-8
"""Relative offset at which a fit is done: parameters are then within about this many of their sds."""
_IMPRECISE = 1e-3
_AHEAD, _BEND = 0.1, 0.75
"""Where along a step its bend is probed, and the most bend that is followed (Transtrum and Sethna 2012)."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A curve fitted to readings; sds hold for independent residuals of equal sd."""

    parameters: Floats
    sds: Floats
    """Infinite where the readings do not determine a parameter."""
    shape: Floats
    """(J'J)**-1, J the weighted slopes: covariance per unit variance of a residual; infinite like the sds."""
    residuals: Floats
    """Reading minus curve, unweighted."""
    rss: float
    """Sum of squares of the (weighted) residuals."""
    dof: int
    """Readings minus parameters."""
    converged: bool
    """False: the parameters are where the search ended, no minimum to be believed."""
    iterations: int

    @property
    def sd(self) -> float:
        """Residual standard deviation; 0 where there are no more readings than parameters."""
        return float(np.sqrt(self.rss / self.dof)) if self.dof > 0 else 0.0

    def significance(self, place: int) -> float:
        """Two-sided p-value of a parameter being 0 (t test)."""
        sd = float(self.sds[place])
        if self.dof < 1 or not np.isfinite(sd):
            return 1.0
        return t_two_sided(float(self.parameters[place]) / sd, self.dof) if sd > 0.0 else 0.0


def fit(
    model: Model,
    x: Floats,
    y: Floats,
    start: Sequence[float] | Floats,
    *,
    weight: Floats | None = None,
    most: int = 400,
    patient: bool = True,
) -> Fit:
    """The parameters that bring `model` nearest to the readings, by least squares, from `start`.

    `weight` is 1 / sd of each reading, up to a common factor; `most`, the iterations of a first search.
    Where that does not converge, a second one, scaled afresh in each step, may take five times as many, and
    the better answer stands; not where `patient` is False. Needs at least as many readings as parameters,
    all finite, and a model that is finite at the start; else ValueError.
    """
    search = _Search(model, x, np.asarray(y, dtype=np.float64), weight)
    here = np.array(start, dtype=np.float64)
    if len(search.y) < len(here):
        raise ValueError(f"{len(here)} parameters need as many readings, not {len(search.y)}")
    residual = search.residual(here)
    if residual is None:
        raise ValueError("the model or a reading is not finite at the start")
    first = search.run(here, residual, most, fresh=False)
    if first.converged or not patient:
        return first
    second = search.run(here, residual, 5 * most, fresh=True)
    return second if second.rss < first.rss or (second.converged and second.rss == first.rss) else first


@dataclass(slots=True)
class _Place:
    """Where a search stands: parameters, weighted residuals, and the slopes there in units of `unit`."""

    here: Floats
    residual: Floats
    unit: Floats
    slopes: Floats
    q: Floats
    r: Floats
    along: Floats
    """The part of the residuals that lies along the slopes."""

    @staticmethod
    def at(here: Floats, residual: Floats, slopes: Floats, scale: Floats) -> _Place:
        unit = np.where(scale > 0.0, scale, 1.0)
        q, r = np.linalg.qr(slopes / unit)
        return _Place(here, residual, unit, slopes / unit, q, r, q.T @ residual)

    def damped(self, target: Floats, damping: float) -> Floats:
        """The step, in units of `unit`, of the damped least-squares problem with this right-hand side."""
        size = len(self.unit)
        tall = np.vstack((self.r, np.sqrt(damping) * np.eye(size)))
        step: Floats = np.linalg.lstsq(tall, np.concatenate((target, np.zeros(size))), rcond=None)[0]
        return step


class _Search:
    """One search: the readings, and the way downhill."""

    def __init__(self, model: Model, x: Floats, y: Floats, weight: Floats | None) -> None:
        self.model, self.x, self.y = model, x, y
        self.weight = np.ones(len(y)) if weight is None else np.asarray(weight, dtype=np.float64)
        self.noise = 1e-13 * float(np.linalg.norm(self.y * self.weight))

    def residual(self, at: Floats) -> Floats | None:
        """Weighted residuals, None where the model has no finite value."""
        with np.errstate(all="ignore"):
            away: Floats = (self.y - np.real(self.model(self.x, at))) * self.weight
            return away if np.isfinite(away @ away) else None

    def slopes(self, at: Floats) -> Floats:
        """Weighted derivatives of the model by each parameter, one a column."""
        columns = np.empty((len(self.y), len(at)))
        with np.errstate(all="ignore"):
            for place, value in enumerate(at):
                step = 1e-30 * (abs(value) or 1.0)
                nudged = at.astype(np.complex128)
                nudged[place] += 1j * step
                columns[:, place] = np.imag(self.model(self.x, nudged)) / step * self.weight
        return np.nan_to_num(columns, nan=0.0, posinf=0.0, neginf=0.0)

    def run(self, here: Floats, residual: Floats, most: int, *, fresh: bool) -> Fit:
        """Downhill until the residuals are at right angles to the slopes, or nothing helps any more.

        `fresh`: parameters are scaled by the slopes of each place, not by the greatest met so far.
        """
        scale = np.zeros(len(here))
        damping, offset, iterations = 1e-3, np.inf, 0
        for _ in range(most):
            iterations += 1
            slopes = self.slopes(here)
            norms = np.linalg.norm(slopes, axis=0)
            scale = norms if fresh else np.maximum(scale, norms)
            place = _Place.at(here, residual, slopes, scale)
            offset = self.offset(residual, place.along)
            if offset < CONVERGED:
                break
            moved = self.move(place, damping)
            if moved is None:
                break
            here, residual, damping = moved
        return self.result(here, residual, offset, iterations)

    def move(self, place: _Place, damping: float) -> tuple[Floats, Floats, float] | None:
        """The next place, its residuals and damping; None where no step, however small, makes them less."""
        growth = 2.0
        while damping < 1e20:
            step = self.step(place, damping)
            if step is not None:
                trial = place.here + step / place.unit
                away = self.residual(trial)
                gain = -1.0 if away is None else float((place.residual - away) @ (place.residual + away))
                if away is not None and gain > 0.0 and (trial != place.here).any():
                    promised = float(step @ (damping * step + place.r.T @ place.along))
                    ratio = gain / promised if promised > 0.0 else 0.0
                    return trial, away, damping * max(1.0 / 3.0, 1.0 - (2.0 * ratio - 1.0) ** 3)
            damping *= growth
            growth *= 2.0
        return None

    def step(self, place: _Place, damping: float) -> Floats | None:
        """A step along the curve that the model bends the straight one into; None if it bends too much."""
        straight = place.damped(place.along, damping)
        ahead = self.residual(place.here + _AHEAD * straight / place.unit)
        if ahead is None:
            return None
        bend = 2.0 / _AHEAD * ((place.residual - ahead) / _AHEAD - place.slopes @ straight)
        curved = -0.5 * place.damped(place.q.T @ bend, damping)
        if 2.0 * float(np.linalg.norm(curved)) > _BEND * float(np.linalg.norm(straight)):
            return None
        step: Floats = straight + curved
        return step

    def offset(self, residual: Floats, along: Floats) -> float:
        """Bates and Watts' relative offset; 0 where what is left is rounding."""
        tangent = float(np.linalg.norm(along))
        if tangent <= self.noise:
            return 0.0
        n, p = len(residual), len(along)
        normal = max(0.0, float(residual @ residual) - tangent * tangent)
        normal = float(np.sqrt(normal)) + self.noise
        return tangent / normal * float(np.sqrt(max(1, n - p) / p))

    def result(self, here: Floats, residual: Floats, offset: float, iterations: int) -> Fit:
        """Parameters with their covariance, from the slopes where the search ended."""
        slopes = self.slopes(here)
        dof = len(self.y) - len(here)
        rss = float(residual @ residual)
        shape = _inverse(slopes)
        sd = float(np.sqrt(rss / dof)) if dof > 0 else 0.0
        diagonal = np.sqrt(np.diag(shape))
        sds = np.multiply(diagonal, sd, out=diagonal, where=np.isfinite(diagonal))
        with np.errstate(all="ignore"):
            plain = self.y - np.real(self.model(self.x, here))
        return Fit(here, sds, shape, plain, rss, dof, offset < _IMPRECISE, iterations)


def _inverse(slopes: Floats) -> Floats:
    """(J'J)**-1, scaled first; infinite where the slopes of the parameters depend on each other."""
    norms = np.linalg.norm(slopes, axis=0)
    unit = np.where(norms > 0.0, norms, 1.0)
    r = np.linalg.qr(slopes / unit).R
    if np.linalg.matrix_rank(r, tol=1e-13) < len(norms):
        return np.full((len(norms), len(norms)), np.inf)
    back = np.linalg.inv(r)
    with np.errstate(over="ignore", divide="ignore"):
        inverse: Floats = (back @ back.T) / np.outer(unit, unit)
    return inverse
