"""Shapes of a supply over time, as functions of time: flat, risen, fallen out, swaying, played together."""

from __future__ import annotations

import numpy as np

from benchtui.model.readings import Floats

from .streams import Shape


def flat(level: float) -> Shape:
    """Always the same."""
    return lambda t: np.full(len(t), level, dtype=np.float64)


def switched(shape: Shape, on_s: float, off_s: float = np.inf) -> Shape:
    """Nothing before power-on and after power-off, at once: the mains, a heater winding."""
    return lambda t: np.where((t >= on_s) & (t < off_s), shape(t), 0.0)


def warm_up(
    level: float, on_s: float, rise_s: float = 3.0, over: float = 0.15, awake_s: float = 14.0
) -> Shape:
    """B+ of a set with a quick rectifier: up at once to a flat top, and down as its load valves awake."""

    def course(t: Floats) -> Floats:
        age = np.maximum(t - on_s, 0.0)
        up = 1.0 - np.exp(-age / rise_s)
        awake = 1.0 / (1.0 + np.exp(-np.clip((age - awake_s) / 1.5, -50, 50)))
        return np.where(t >= on_s, level * up * (1.0 + over * (1.0 - awake)), 0.0)

    return course


def follows_up(level: float, on_s: float, awake_s: float = 14.0) -> Shape:
    """A point that has something only once the valves conduct: a cathode."""
    return lambda t: level / (1.0 + np.exp(-np.clip((t - on_s - awake_s) / 1.5, -50, 50)))


def bleeds(shape: Shape, off_s: float, tau_s: float) -> Shape:
    """The same until power-off, then down through the bleeder."""

    def course(t: Floats) -> Floats:
        start = float(shape(np.array([off_s]))[0])
        return np.where(t < off_s, shape(t), start * np.exp(-np.maximum(t - off_s, 0.0) / tau_s))

    return course


def away(shape: Shape, start_s: float, end_s: float, part: float) -> Shape:
    """By a part of its level off between two instants; -1 is wholly gone, +0.1 a tenth too high."""
    return lambda t: shape(t) * np.where((t >= start_s) & (t < end_s), 1.0 + part, 1.0)


def steps(shape: Shape, at_s: float, part: float) -> Shape:
    """By a part of its level off from an instant on."""
    return away(shape, at_s, np.inf, part)


def ramps(shape: Shape, start_s: float, end_s: float, part: float) -> Shape:
    """Slowly by a part of its level off, from one instant to another, and stays so."""
    return lambda t: shape(t) * (1.0 + part * np.clip((t - start_s) / (end_s - start_s), 0.0, 1.0))


def times(shape: Shape, other: Shape) -> Shape:
    """One shape scaled by another."""
    return lambda t: shape(t) * other(t)


def music(level: float, swing: float, seed: int = 0) -> Shape:
    """A level that moves with the programme: loud and soft, never twice alike, the same for every meter."""
    rng = np.random.default_rng([7, seed])
    rates = rng.uniform(0.05, 3.0, 12)
    phases = rng.uniform(0.0, 2 * np.pi, 12)

    def course(t: Floats) -> Floats:
        waves = np.sin(2 * np.pi * np.outer(t, rates) + phases).sum(axis=1) / 3.0
        return np.asarray(level * (1.0 + swing * np.tanh(waves)))

    return course
