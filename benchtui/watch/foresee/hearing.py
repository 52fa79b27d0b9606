"""What the points of one set tell one another of how far its valves have come to conduct."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats

from .shapes import conduction

BESIDE, ALIKE, WRONG = 0.6, 0.12, 0.05
"""The weight of another point's vote; how far points of one set differ half way; how often it is wrong."""
AHEAD, LATE, CATHODE_WRONG = 0.4, 0.15, 0.01
"""How far a supply point may be ahead of one valve's cathode, which tells of that valve alone and not of the
others' share of the load; how surely; how often a cathode is wrong."""


@dataclass(frozen=True, slots=True)
class Vote:
    """What one point says of how far the valves have come to conduct: mean and standard deviation."""

    gone: float
    sd: float
    rises: bool
    at_s: float
    """As of this age."""


def heard(points: Floats, rises: bool, votes: Sequence[Vote]) -> Floats:
    """What the votes make of each shape.

    Points that the same valves load are alike and not the same: each vote counts as far as points differ,
    and each may be wrong. A valve that is not awake by its own cathode is surer than supplies that seem to
    have settled: they may stand between a first group of valves and a second.
    """
    asleep = min((v.gone + v.sd for v in votes if v.rises), default=1.0)
    found = np.ones(len(points))
    gone = conduction(points, np.array([v.at_s for v in votes]))
    for vote, then in zip(votes, gone.T, strict=True):
        off = then - vote.gone
        if vote.rises and not rises:
            sd = (vote.sd**2 + LATE**2) ** 0.5
            found *= CATHODE_WRONG + np.exp(-0.5 * (np.maximum(off - AHEAD, 0.0) / sd) ** 2)
            continue
        if not vote.rises and vote.gone > asleep + AHEAD + LATE:
            continue
        sd = (vote.sd**2 + (ALIKE * 4.0 * vote.gone * (1.0 - vote.gone)) ** 2 + 0.03**2) ** 0.5
        if rises and not vote.rises:
            off, sd = np.maximum(off, 0.0), (vote.sd**2 + ALIKE**2) ** 0.5
        found *= (WRONG + np.exp(-0.5 * (off / sd) ** 2)) ** BESIDE
    return found
