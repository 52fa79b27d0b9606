"""How alike the residuals of a course are: what a shape misses at one moment it misses at the next as well.

Readings taken as independent promise far too much, since no shape is quite right. Here a residual is the sum
of noise (independent), a misfit that lasts some seconds and grows with the swing, a wander of the point and,
where it is not measured, of the mains: all as a normal distribution, divided out by its Cholesky factor.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

from .binned import slopes

MISFIT_S = 5.0
"""For how long shapes are off at a time."""
STEEP_S, CALM = 5.0, 0.3
"""All of the misfit is where the whole way would be gone in so long; so much of it where nothing moves."""
WANDER, WANDER_S = 0.0015, 20.0
"""What a point wanders by itself, as a part of the scale; for how long."""
MAINS_S = 100.0


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """Products of whitened columns, one for each shape: u stands before A, v before S, y is the course.

    The tail's column, e, is taken out of all of them, its amplitude being solved exactly.
    """

    uu: Floats
    uv: Floats
    vv: Floats
    uy: Floats
    vy: Floats
    yy: Floats
    volume: Floats
    """Logarithm of what the freedom of the tail costs."""
    tail: tuple[Floats, Floats, Floats]
    """The amplitude of the tail is the third less A times the first and S times the second."""

    @staticmethod
    def stacked(rows: Sequence[Sums]) -> Sums:
        """Several of them, each a row of its own; then an axis for levels, and shapes."""

        def stack(parts: Iterable[Floats]) -> Floats:
            return np.stack(list(parts))[:, None, :]

        uu, uv, vv, uy, vy, yy, volume = (
            stack(getattr(r, name) for r in rows) for name in ("uu", "uv", "vv", "uy", "vy", "yy", "volume")
        )
        a, b, c = (stack(r.tail[k] for r in rows) for k in range(3))
        return Sums(uu, uv, vv, uy, vy, yy, volume, (a, b, c))


class Likeness:
    """The covariance of one course's residuals, made ready to divide by."""

    def __init__(self, t: Floats, y: Floats, variance: Floats, mains_sd: float, misfit: float) -> None:
        """`misfit` as a part of the swing; the deviations as parts of the scale of `y`."""
        apart = np.abs(t[:, None] - t[None, :])
        swing = float(np.ptp(y)) if len(t) else 0.0
        off = misfit * swing * _moving(t, y, swing)
        covariance = np.diag(variance) + off[:, None] * off * np.exp(-apart / MISFIT_S)
        covariance += WANDER**2 * np.exp(-apart / WANDER_S) + mains_sd**2 * np.exp(-apart / MAINS_S)
        root = np.linalg.cholesky(covariance) if len(t) else covariance
        self._inverse = np.linalg.inv(root) if len(t) else root
        self._y = self._inverse @ y
        self._ones = self._inverse.sum(axis=1)
        self.volume = -float(np.log(np.diag(root)).sum())
        """Logarithm of the density's constant, up to what all have in common."""

    def sums(self, gone: Floats, left: Floats, tail: float, tail_sd: float) -> Sums:
        """For shapes with `gone` before S, 1 - gone before A, and `left` before a tail of this prior."""
        v, e = gone @ self._inverse.T, left @ self._inverse.T
        u = self._ones - v
        y = self._y - tail * e
        ee = _dot(e, e) + tail_sd**-2
        ue, ve, ye = _dot(u, e) / ee, _dot(v, e) / ee, _dot(y, e) / ee
        return Sums(
            uu=_dot(u, u) - ue * ue * ee,
            uv=_dot(u, v) - ue * ve * ee,
            vv=_dot(v, v) - ve * ve * ee,
            uy=_dot(u, y) - ue * ye * ee,
            vy=_dot(v, y) - ve * ye * ee,
            yy=_dot(y, y) - ye * ye * ee,
            volume=-0.5 * np.log(ee * tail_sd**2),
            tail=(ue, ve, tail + ye),
        )


def _moving(t: Floats, y: Floats, swing: float) -> Floats:
    """How much of its misfit a shape has at each row: most where the course is steep, being early or late."""
    if len(t) < 3 or swing <= 0.0:
        return np.ones(len(t))
    slope = np.abs(slopes(t, y))
    part: Floats = np.clip(slope * STEEP_S / swing, CALM, 1.0)
    return part


def _dot(a: Floats, b: Floats) -> Floats:
    found: Floats = np.einsum("ij,ij->i", a, b)
    return found
