"""One case: what a program is given, and what it is asked at which moments. Seconds, volts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.chart.chart import Chart
from benchtui.model.block import Block
from benchtui.model.readings import Channel, Floats

WARN_ABOVE = 30.0
LEAST_S = 5.0
"""Discharges shorter than this are over before anybody asks."""
PHASES = ("before", "middle", "after", "again")
"""Before the load valves conduct; by the middle of the sag; after it; with an earlier run of the same set."""
ROADS = ("neither", "bleeder", "again")
"""First power-off, nothing in the chart; the bleeder in the chart; an earlier power-off of the set."""


@dataclass(frozen=True, slots=True)
class Ask:
    """Where will this point settle?"""

    at_s: float
    point: str
    phase: str
    off_chart: bool
    on_s: float
    truth: float
    """What this meter will read once settled at the mains of this moment."""
    settles_s: float
    """From when on within the larger of 2 % and three counts of that, by the noise-free course."""


@dataclass(frozen=True, slots=True)
class AskBleed:
    """When will this point be below the warning level?"""

    at_s: float
    point: str
    road: str
    off_chart: bool
    off_s: float
    below_s: float
    """By the noise-free course: from when on."""


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A case. All readings and notes are in one block; `asks` and `bleeds` in order of time."""

    generator: str
    seed: int
    rectifier: str
    chart: Chart
    channels: tuple[Channel, ...]
    block: Block
    asks: tuple[Ask, ...]
    bleeds: tuple[AskBleed, ...]


def settles(t: Floats, course: Floats, final: float, near: float) -> float:
    """The first time from which on the course stays this near to where it stays."""
    far = np.flatnonzero(np.abs(course - final) > near)
    last = int(far[-1]) + 1 if len(far) else 0
    return float(t[min(last, len(t) - 1)])


def below(t: Floats, course: Floats, level: float) -> float | None:
    """The first time from which on the course stays below the level; None if it is not by the end."""
    above = np.flatnonzero(np.abs(course) > level)
    if not len(above):
        return float(t[0])
    last = int(above[-1]) + 1
    return float(t[last]) if last < len(t) else None


def crossing(t: Floats, course: Floats, start: float, end: float, part: float) -> float | None:
    """When a course from one level to another has done this part of it for good; None if it never does."""
    done = (course - start) / (end - start)
    late = np.flatnonzero(done < part)
    if not len(late) or late[-1] + 1 >= len(t):
        return None
    return float(t[late[-1] + 1])
