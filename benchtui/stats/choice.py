"""How many time constants do the readings support: a stated criterion for one more.

A curve with one more exponential is believed only if AICc and BIC (criteria.py) are both lower for it,
every one of its amplitudes differs from 0 with p < 0.05, and every time constant is known within a factor
of e. The number of readings counts as what they are worth (dependence.py), so that a meter that averages
does not buy time constants. A course of another shape (a power of time, a step) also asks for more terms:
two terms chosen are a description, no proof of two processes. Cost: that of the fits in curves.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.readings import Floats

from .criteria import aicc, bic
from .curves import Approach, fit_approach
from .dependence import effective, lag1

SIGNIFICANT = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One candidate, and why it was believed or not."""

    approach: Approach
    aicc: float
    bic: float
    worst_p: float
    """The greatest p-value of its amplitudes; 0 where it has none."""
    better: bool
    """Both criteria lower than those of the best simpler candidate believed."""

    @property
    def believed(self) -> bool:
        return self.better and self.worst_p < SIGNIFICANT and self.approach.determined


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """What was chosen, and everything that was tried, simplest first."""

    chosen: Approach | None
    """None where not even the simplest candidate is determined."""
    tried: tuple[Tried, ...]


def choose(
    t: Floats,
    y: Floats,
    *,
    most: int = 2,
    level: bool = True,
    origin: float | None = None,
    resolution: float = 0.0,
) -> Choice:
    """The approach with as many exponential terms as the readings support, up to `most`; arguments as
    `fit_approach`.

    With a level the simplest candidate is the level alone, without one a single term. Raises ValueError
    where there are too few readings for the simplest.
    """
    least = 0 if level else 1
    enough = [k for k in range(least, most + 1) if len(t) >= 2 * k + level + 3] or [least]
    fits = [fit_approach(t, y, k, level=level, origin=origin, resolution=resolution) for k in enough]
    n = len(t)
    count = effective(n, lag1(fits[-1].fit.residuals))
    tried: list[Tried] = []
    best: Tried | None = None
    for one in fits:
        rss, parameters = one.rss * count / n, len(one.fit.parameters)
        scores = aicc(rss, count, parameters), bic(rss, count, parameters)
        better = best is None or (scores[0] < best.aicc and scores[1] < best.bic)
        worst = max((term.p for term in one.terms), default=0.0)
        tried.append(Tried(one, *scores, worst, better))
        if tried[-1].believed:
            best = tried[-1]
    return Choice(best.approach if best else None, tuple(tried))
