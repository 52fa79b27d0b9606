"""The noise-free course of every point: textbook shapes for warming, settling, the mains and bleeding."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from .sets import Node, Plan

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Shape = Callable[[Array], Array]
"""A factor as a function of the time in seconds."""


@dataclass(frozen=True, slots=True)
class Run:
    """One power-on to its power-off; `on_s` below zero: already warm when the record begins."""

    on_s: float
    off_s: float


def course(
    plan: Plan, t: Array, runs: list[Run], mains: Array, edits: Mapping[str, list[Shape]]
) -> dict[str, Array]:
    """Every point's value on an even grid of times; `mains` and the `edits` of single points are factors."""
    dt = float(t[1] - t[0])
    on = np.zeros(len(t))
    for run in runs:
        on[(t >= run.on_s) & (t < run.off_s)] = 1.0
    warm = _lagged(t, runs, plan.heat_s, plan.cool_s)
    slow = _lagged(t, runs, plan.tail_s, 2 * plan.tail_s)
    wakes = smooth((warm - plan.wakes) / (0.97 - plan.wakes))
    fed = _rectifier(plan, t, runs, warm)
    values: dict[str, Array] = {}
    for node in plan.nodes.values():
        own = np.ones(len(t))
        for shape in edits.get(node.name, []):
            own = own * shape(t)
        if node.kind == "root":
            peak = plan.surge - (plan.surge - 1) * wakes
            aim = node.level * mains * peak * fed * on * (1 + plan.tail * (1 - slow))
            values[node.name] = _reservoir(plan, aim, own, on, wakes, dt)
        else:
            values[node.name] = _fed(plan, node, values, (mains * on, wakes, warm, own), dt)
    return values


def smooth(x: Array) -> Array:
    """0 below 0, 1 above 1, and a smooth S between."""
    x = np.clip(x, 0.0, 1.0)
    return x * x * (3 - 2 * x)


def _lagged(t: Array, runs: list[Run], up_s: float, down_s: float) -> Array:
    """Something that warms while on and cools while off, from 0 to 1."""
    value = np.zeros(len(t))
    level, last, powered = 0.0, min(float(t[0]), *(r.on_s for r in runs)) if runs else 0.0, False
    edges = sorted([(r.on_s, True) for r in runs] + [(r.off_s, False) for r in runs])
    for at, turned_on in [*edges, (np.inf, False)]:
        tau, aim = (up_s, 1.0) if powered else (down_s, 0.0)
        inside = (t >= last) & (t < at)
        value[inside] = aim + (level - aim) * np.exp(-(t[inside] - last) / tau)
        if np.isfinite(at):
            level, last, powered = aim + (level - aim) * float(np.exp(-(at - last) / tau)), at, turned_on
    return value


def _rectifier(plan: Plan, t: Array, runs: list[Run], warm: Array) -> Array:
    if plan.rectifier == "solid":
        return np.ones(len(t))
    if plan.rectifier == "direct":
        return smooth((_lagged(t, runs, 1.2, 4.0) - 0.6) / 0.38)
    return smooth((_lagged(t, runs, plan.heat_s * 1.15, plan.cool_s) - plan.wakes) / (0.95 - plan.wakes))


def _reservoir(plan: Plan, aim: Array, own: Array, on: Array, wakes: Array, dt: float) -> Array:
    """A capacitor that charges quickly and, with nothing coming in, discharges through load and bleeder."""
    charge = 1 - np.exp(-dt / 0.25)
    follow = 1 - np.exp(-dt / 0.12)
    leak = dt * (wakes / plan.load_s + 1 / plan.bleed_s)
    fed = (on > 0) & (own > 0.02)
    targets, leaks, feds = (aim * own).tolist(), leak.tolist(), fed.tolist()
    value = targets[0]
    out = []
    for target, loss, live in zip(targets, leaks, feds, strict=True):
        if target > value:
            value += (target - value) * charge
        elif live:
            value += (target - value) * follow
        else:
            value = max(target, value - value * min(loss, 1.0))
        out.append(value)
    return np.array(out)


def _fed(
    plan: Plan, node: Node, values: Mapping[str, Array], state: tuple[Array, Array, Array, Array], dt: float
) -> Array:
    mains, wakes, warm, own = state
    if node.kind == "mains":
        return node.level * mains * own
    if node.kind == "heater":
        return node.level * mains * own * (0.92 + 0.08 * warm)
    if node.kind == "bias":
        return _slow(node.level * mains * own, max(node.lag_s, dt), dt)
    assert node.parent is not None
    feed = values[node.parent]
    level = plan.nodes[node.parent].level
    if node.kind == "cathode":
        return _slow(node.level * wakes * feed / level * own, max(node.lag_s, dt), dt)
    if node.kind == "lamp":
        assert node.strikes is not None
        assert node.holds is not None
        return _glows(feed * own, float(np.mean(node.strikes)), float(np.mean(node.holds)))[0]
    if node.kind == "regulated":
        return _regulated(node, feed, level, wakes, own)
    return _slow(feed * (1 - node.drop * wakes) * own, max(node.lag_s, dt), dt)


def _slow(target: Array, tau: float, dt: float) -> Array:
    keep = float(np.exp(-dt / tau))
    filtered: Array = lfilter([1 - keep], [1, -keep], target, zi=[keep * target[0]])[0]
    return filtered


def _glows(feed: Array, strikes: float, holds: float) -> tuple[Array, Array]:
    """1 where lit; lights above `strikes`, goes out below `holds`."""
    lit, out = False, []
    for volts in feed.tolist():
        lit = volts >= (holds if lit else strikes)
        out.append(float(lit))
    return np.array(out), feed


def _regulated(node: Node, feed: Array, level: float, wakes: Array, own: Array) -> Array:
    """A gas regulator: its own voltage while it has current, else what the feed gives; `own` 0: open."""
    assert node.strikes is not None
    raw = feed * (1 - node.drop * wakes)
    lit, _ = _glows(raw * own, float(np.mean(node.strikes)), node.level * 1.03)
    held = node.level * (1 + 0.03 * (feed / level - 1))
    return np.where(lit > 0, held, raw)
