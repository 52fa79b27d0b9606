"""The edge of a move: with which of the newest readings it began, and how much of it came at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from .line import Line

BEFORE = 4
"""Readings before a move that it is measured from."""
STRADDLES = 5.0
"""A conversion that straddles the edge is off by so many deviations already: the move begins with it."""
WANDERS = 2.0
"""So many times what whole grains wander is let pass before a jump is looked for."""


class Edge(NamedTuple):
    """In deviations from the line."""

    first: int
    """Number of the reading, among those looked at, with which the move began, whole."""
    straddled: bool
    """The reading before it was caught in the middle of the move."""
    peak: float
    mean: float
    """Of the readings since the move began."""
    jump: float
    """By how much they lie beyond the few before, counted the way it went."""
    spread: float
    """The standard deviation of such a jump where nothing happens."""
    abrupt: bool


def edge(off: Sequence[float], earliest: int, line: Line, least: float) -> Edge:
    """Looks back from the newest reading, which is off its line, no further than `earliest`.

    `least`: a reading in the middle of the move is off by more than this, as by its own noise.
    """
    sign = 1.0 if sum(off[-2:]) > 0 else -1.0
    bound = max(0.35 * abs(off[-1]), 1.5 * line.noise)
    m = len(off) - 1
    while m > earliest and sign * off[m - 1] > bound:
        m -= 1
    straddles = max(STRADDLES * line.noise + WANDERS * line.wander, least)
    before = off[max(0, m - BEFORE) : m]
    start, mean = _mean(before) if before else 0.0, _mean(off[m:])
    peak = sign * max(sign * o for o in off[m:])
    usual = max(line.jump, line.noise * 0.5**0.5)
    return Edge(
        m,
        m > earliest and sign * off[m - 1] > straddles,
        peak,
        mean,
        sign * (mean - start),
        usual * (2.0 / (len(off) - m) + 2.0 / max(len(before), 1)) ** 0.5,
        max(abs(o - start) for o in off[m : m + 2]) > 0.6 * abs(peak),
    )


def _mean(values: Sequence[float]) -> float:
    """Of a few; numpy's own costs ten times as much for so few."""
    return sum(values) / len(values)
