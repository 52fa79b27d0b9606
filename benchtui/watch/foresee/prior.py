"""What is known of a point before anything is measured: its chart, or the last run of the same set."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .course import Level
from .shapes import Bell

CORE, CORE_PART = 0.25, 0.70
"""How far healthy points lie from their chart: standard deviation as a part of the tolerance; how often a
point is one of those. Common practice, no source."""
FAR = ((0.10, 1.0, 0.10), (0.10, 0.9, 0.3), (0.10, 0.8, 0.6))
"""Points of faulty sets: how often, where about and how far off as parts of the nominal (means, standard
deviations). Most faults pull a point down, anywhere between its chart and nothing: leaks, valves that draw
too much, resistors that have risen. Common practice, no source."""
MAINS_SD, AGAIN_MAINS_SD = 0.02, 0.004
"""What an unmeasured mains adds: to the chart, and from one run to the next."""
LEADS = (1.3, 0.45)
"""A solid or directly heated rectifier: level without load against the settled one; its deviation."""
FLAT = (1.0, 0.4)
AGAIN, AGAIN_TOUCHED = 0.98, 0.6
"""How often a set is as it was in its last run; how often where somebody worked on it since."""
AGAIN_SD, AGAIN_SURE = 0.002, 0.6
"""What a set changes from run to run; how much of what its last run left open it leaves open again."""

_START, _LENGTH = float(np.log(8.8)), float(np.log(10.5))
_REST = (float(np.log(1.5)), 1.0, 0.8, float(np.log(0.17)))
_SDS = (0.38, 0.5, 0.35, 0.5, 1.2, 0.7)
"""When load valves begin to conduct (seconds), how long they take, foot, shoulder: conduct 10 to 25 s after
power-on; what part of the load is the first group, how much later the second. Common practice, no source."""
COOLS_S = 60.0
"""Heaters cool in about so long."""


def shapes_of(pause_s: float, last: Bell | None) -> Bell:
    """How the valves come to conduct after a pause (endless before the first run)."""
    warmth = float(np.exp(-pause_s / COOLS_S))
    sooner = float(np.log(1.0 - 0.85 * warmth))
    if last is not None:
        later = Bell(last.mean + np.array([sooner, 0.0, 0.0, 0.0, 0.0, 0.0]), last.root)
        return later.wider((0.04 + 0.7 * warmth, 0.06 + 0.4 * warmth, 0.1, 0.1, 0.2, 0.2))
    sds = (_SDS[0] + 0.7 * warmth, _SDS[1] + 0.4 * warmth, *_SDS[2:])
    return Bell.apart((_START + sooner, _LENGTH + 0.5 * sooner, *_REST), sds)


@dataclass(frozen=True, slots=True)
class Again:
    """What an earlier run of the same set says of a point, as parts of the scale."""

    settled: float
    sd: float
    top: float | None
    """Without load; None where it will not be seen again."""
    mains_known: bool
    touched: bool
    """Something was swapped, reseated or adjusted since."""


def levels_of(
    tolerance: float, mains_known: bool, leads: bool, rises: bool, again: Again | None
) -> list[Level]:
    """All that may be, as parts of the scale; `rises`: without load it reads nothing."""
    top, top_sd = (0.0, 0.004) if rises else LEADS if leads else FLAT
    core = (CORE * tolerance) ** 2 + (0.0 if mains_known else MAINS_SD**2)
    found = [Level(CORE_PART, 1.0, core**0.5, top, top_sd)]
    found += [Level(part, mean, (core + sd * sd) ** 0.5, top, top_sd) for part, mean, sd in FAR]
    if again is None:
        return found
    sure = AGAIN_TOUCHED if again.touched else AGAIN
    sd = (AGAIN_SD**2 + (AGAIN_SURE * again.sd) ** 2 + (0.0 if mains_known else AGAIN_MAINS_SD**2)) ** 0.5
    if again.top is not None:
        top, top_sd = again.top, 0.015 * abs(again.top) + 0.005
    rest = [Level((1.0 - sure) * x.weight, x.settled, x.settled_sd, x.top, x.top_sd) for x in found]
    return [Level(sure, again.settled, sd, top, top_sd), *rest]
