"""Textbook shapes, as factors on a point's course."""

from __future__ import annotations

import numpy as np

from .course import Array, Shape
from .sets import Rng


def dip(start_s: float, end_s: float, factor: float, edge_s: float = 0.02) -> Shape:
    """Away to `factor` and back, with exponential edges."""

    def shape(t: Array) -> Array:
        gone = np.where(t >= start_s, 1 - np.exp(-np.clip(t - start_s, 0, None) / edge_s), 0.0)
        back = np.where(t >= end_s, 1 - np.exp(-np.clip(t - end_s, 0, None) / edge_s), 0.0)
        return np.asarray(1 + (factor - 1) * (gone - back * (1 - np.exp(-(end_s - start_s) / edge_s))))

    return shape


def step(at_s: float, factor: float, edge_s: float = 0.02) -> Shape:
    """Away to `factor`, for good."""
    return lambda t: np.asarray(1 + (factor - 1) * (1 - np.exp(-np.clip(t - at_s, 0, None) / edge_s)))


def constant(factor: float) -> Shape:
    """Off by this factor from the beginning."""
    return lambda t: np.full(len(t), factor)


def between(start_s: float, end_s: float, inner: Shape) -> Shape:
    """Another shape, for a stretch."""
    return lambda t: np.where((t > start_s) & (t < end_s), inner(t), 1.0)


def ramp(start_s: float, end_s: float, factor: float) -> Shape:
    """A straight walk to `factor`, which then stays."""
    return lambda t: np.asarray(1 + (factor - 1) * np.clip((t - start_s) / (end_s - start_s), 0, 1))


def approach(start_s: float, tau_s: float, first: float) -> Shape:
    """Begins at `first` and comes to 1 exponentially."""
    return lambda t: np.asarray(1 + (first - 1) * np.exp(-np.clip(t - start_s, 0, None) / tau_s))


def telegraph(start_s: float, end_s: float, factor: float, mean_s: float, rng: Rng) -> Shape:
    """A bad contact: to `factor` and back at random, staying about `mean_s` each time."""
    edges, at = [start_s], start_s
    while at < end_s:
        at += float(np.clip(rng.exponential(mean_s), 0.2 * mean_s, 3 * mean_s))
        edges.append(min(at, end_s))
    marks = np.array(edges)

    def shape(t: Array) -> Array:
        odd = np.searchsorted(marks, t, side="right") % 2 == 1
        return np.where(odd & (t < end_s), factor, 1.0)

    return shape


def restless(start_s: float, end_s: float, size: float, tau_s: float, rng: Rng) -> Shape:
    """A random wander of this deviation, for a stretch."""
    seed = int(rng.integers(2**31))

    def shape(t: Array) -> Array:
        own = np.random.default_rng(seed)
        dt = float(t[1] - t[0])
        inside = (t >= start_s) & (t < end_s)
        n = int(inside.sum())
        block = max(1, round(tau_s / dt))
        values = np.repeat(own.standard_normal(n // block + 1), block)[:n]
        out = np.ones(len(t))
        out[inside] += size * np.clip(values, -2.5, 2.5)
        return out

    return shape


def wander(size: float, tau_s: float, seed: int) -> Shape:
    """A slow wander without end, of this deviation."""

    def shape(t: Array) -> Array:
        own = np.random.default_rng(seed)
        gap = max(tau_s / 6, 0.05)
        n = int((t[-1] - t[0]) / gap) + 3
        keep = np.exp(-gap / tau_s)
        value, knots = float(own.standard_normal()), []
        for push in own.standard_normal(n).tolist():
            knots.append(value)
            value = keep * value + np.sqrt(1 - keep**2) * push
        return np.asarray(1 + size * np.interp(t, t[0] + gap * np.arange(n), np.clip(knots, -2.6, 2.6)))

    return shape


def music(level: float, seed: int) -> Shape:
    """What a programme does to an anode: loud and soft passages, never beyond 40 %."""

    def shape(t: Array) -> Array:
        loud = np.abs(wander(1.0, 6.0, seed)(t) - 1)
        note = wander(1.0, 0.25, seed + 1)(t) - 1
        return np.asarray(1 + np.clip(level * loud * note, -0.4, 0.38))

    return shape
