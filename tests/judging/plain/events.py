"""Single events that scenes are made of: each puts its shape in and says what is to be told of it."""

from __future__ import annotations

import numpy as np

from . import shapes
from .meters import Column
from .sets import Node
from .stage import MOVED, Stage, Touch


def lasting(stage: Stage, point: str, least: float = 0.3, most: float = 30.0) -> float:
    """A length that this point's meter can mostly show."""
    shortest = (
        2.6 * stage.meters[point].period_s + stage.meters[point].window_s if point in stage.meters else 1.0
    )
    low = max(least, shortest) if stage.rng.random() < 0.85 else least
    return float(np.exp(stage.rng.uniform(np.log(low), np.log(max(most, 1.5 * low)))))


def depth(stage: Stage, node: Node, low: float = 0.05, high: float = 1.0) -> float:
    """A part of the level that stands clear of this point's noise."""
    for _ in range(20):
        part = float(np.exp(stage.rng.uniform(np.log(low), np.log(high))))
        if stage.clear(node.name, part):
            return part
        low = min(low * 1.4, high)
    return high


def dropout(
    stage: Stage, node: Node, at: float, length: float, part: float, mark: float | None = None
) -> None:
    """The point falls (a part above zero) or jumps (below zero) and comes back."""
    edge = float(stage.rng.choice([0.01, 0.05, min(0.3, length / 6)]))
    stage.edits[node.name].append(shapes.dip(at, at + length, 1 - part, edge))
    sure = stage.sure(node.name, length - 2 * edge) and stage.clear(node.name, part)
    name = "dropout" if part > 0 else "jump"
    stage.tell(name, node.name, ("dropout",), at, at + length, sure, after_mark=mark)
    if not sure:
        for child in (node.name, *stage.plan.below(node.name)):
            stage.may(child, ("dropout",), at, at + length)


def moved(stage: Stage, node: Node, at: float, factor: float, must: bool | None = None) -> None:
    """The point moves and stays."""
    stage.edits[node.name].append(shapes.step(at, factor, float(stage.rng.choice([0.02, 0.1, 0.4]))))
    clear = stage.clear(node.name, factor - 1) if must is None else must
    stage.tell("step", node.name, ("step", "dropout"), at, at + 20, clear)


def sag(stage: Stage, at: float, length: float, part: float, name: str = "mains sag") -> None:
    """The mains falls (or rises, below zero) for a while."""
    stage.supply.append(shapes.dip(at, at + length, 1 - part, 0.03))
    stage.tell_mains(name, at, at + length, shows_mains(stage, length, part))


def mains_step(stage: Stage, at: float, factor: float) -> None:
    """The mains moves and stays."""
    stage.supply.append(shapes.step(at, factor, 0.05))
    stage.tell_mains("mains step", at, at + 15, shows_mains(stage, 15, factor - 1))


def shows_mains(stage: Stage, length: float, part: float) -> bool:
    """True if what is measured is sure to show it: an AC point, or points of two roots, or one branch."""
    seen = [n.name for n in stage.plan.nodes.values() if n.follows and not n.programme
            and stage.sure(n.name, length) and stage.clear(n.name, part)]  # fmt: skip
    ac = [n for n in seen if stage.plan.nodes[n].unit == "Vac"]
    everywhere = all(stage.sure(n, length) for n in stage.meters if stage.plan.nodes[n].follows)
    return bool(ac or len(seen) >= 2) and everywhere


def trouble(stage: Stage, point: str, kind: str, at: float, length: float, touch: Touch) -> None:
    """Something that the meter does, not the set."""
    stage.touches.append((point, touch))
    slack = stage.slack(point)
    stage.tell(kind, point, (kind,), at, at + length, True, late_s=length + slack, many=True)


def within(column: Column, start: float, end: float) -> np.ndarray:
    """The rows of a column between two times."""
    return np.flatnonzero((column.t >= start) & (column.t < end))


def silent(start: float, end: float) -> Touch:
    """Nothing comes."""

    def touch(column: Column) -> None:
        column.keep[within(column, start, end)] = False

    return touch


def repeats(start: float, end: float, flag: str = "") -> Touch:
    """The reading before `start` is repeated; with a flag, on purpose."""

    def touch(column: Column) -> None:
        rows = within(column, start, end)
        if len(rows) and rows[0] > 0:
            column.value[rows] = column.value[rows[0] - 1]
            column.count[rows] = column.count[rows[0] - 1]
            for i in rows.tolist():
                column.flag[i] = f"{column.flag[i]} {flag}".strip()

    return touch


def overloads(start: float, end: float) -> Touch:
    """Over range, or a probe that hangs in the air of an ohms meter."""

    def touch(column: Column) -> None:
        for i in within(column, start, end).tolist():
            column.flag[i] = "overload"

    return touch


def turned(start: float, end: float) -> Touch:
    """The leads are reversed."""

    def touch(column: Column) -> None:
        column.value[within(column, start, end)] *= -1

    return touch


def as_ac(start: float, end: float, rng: np.random.Generator, ripple: float) -> Touch:
    """The knob stands on AC volts: the meter shows the ripple."""

    def touch(column: Column) -> None:
        rows = within(column, start, end)
        column.value[rows] = np.round(ripple * (1 + 0.03 * rng.standard_normal(len(rows))), 2)
        column.count[rows] = 0.01
        for i in rows.tolist():
            column.unit[i] = "Vac"

    return touch


def one_reading(at: float, change: float, slip: bool) -> Touch:
    """One reading alone: a decimal point slipped by a factor of `change`, or a peak to that value."""

    def touch(column: Column) -> None:
        rows = within(column, at, np.inf)
        if len(rows):
            row = rows[0]
            column.value[row] = column.value[row] * change if slip else change
            column.flag[row] = ""

    return touch


def anything(stage: Stage, point: str, start: float, end: float) -> None:
    """A person could not tell what happened at this point then: no finding there is wrong."""
    kinds = (*MOVED, "chatter", "drift", "creep", "outside", "starved", "fed_but_out", "unsettled")
    for name in (point, *stage.plan.below(point)):
        stage.may(name, kinds, start, end)
