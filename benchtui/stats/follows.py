"""Do the faults follow the marks, or would chance do as well?

The statistic is how many faults begin within a window after a mark. Two exact p-values, both one-sided:

- `p`, chance over the whole watch: faults that came at any moment alike would fall into the windows
(overlaps counted once) with their share of the watched time: binomial, given the number of faults. -
`p_local`, chance near the marks: each mark's window against the time just before it, given how many faults
fell into both: a sum of binomials, one a mark, convolved exactly. The case-crossover design of Maclure 1991
(Am. J. Epidemiol. 133, 144). It holds where the rate of faults drifts or differs from mark to mark (a set
that fails more often while warming, a person who taps more often then), and leans to caution where marks
answer faults ("it crackled, so I tapped").

Say that the faults follow the marks only where both are small; where only `p` is, faults and marks came at
the same times for whatever reason. The window is chosen before looking; with several kinds of marks tried,
each p-value is to be multiplied by their number. Faults of one burst are one: `onsets`. A p-value says how
rarely chance does as well, not how likely the cause is. Times rising or not, any unit. Cost: under 1 ms for
100 marks and 100 faults.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Floats, Ints

from .exact import binomial_test


@dataclass(frozen=True, slots=True)
class Follows:
    """How many faults followed marks, and how rarely chance does as well."""

    faults: int
    """In the watched time."""
    following: int
    """Of these, begun within the window after a mark."""
    marks: int
    answered: int
    """Marks with a fault in their window."""
    share: float
    """Of the watched time, that lies in the windows: what chance would give."""
    p: float
    p_local: float


def onsets(times: Sequence[float], gap: float) -> list[float]:
    """The first of each burst: one that begins no more than `gap` after another belongs to it."""
    first: list[float] = []
    last = -np.inf
    for time in sorted(times):
        if time - last > gap:
            first.append(time)
        last = time
    return first


def follows(
    faults: Sequence[float],
    marks: Sequence[float],
    window: float,
    start: float,
    stop: float,
    *,
    reach: float = 10.0,
) -> Follows:
    """Tests whether faults begin within `window` after marks more often than by chance.

    Watched from `start` to `stop`; what lies outside is left out. A fault at the very moment of a mark
    follows it. `reach`: the time before a mark that is compared with its window goes back this many windows
    at most, and never into the window of an earlier mark. Raises ValueError for an empty watch or window.
    """
    if not (window > 0.0 and stop > start):
        raise ValueError(f"a window and a watch longer than 0, not {window!r} in {start!r}..{stop!r}")
    placed = np.array(sorted(m for m in marks if start <= m < stop), dtype=np.float64)
    begun = np.array(sorted(f for f in faults if start <= f < stop), dtype=np.float64)
    ends = np.minimum(placed + window, np.append(placed[1:], stop))
    after = _within(begun, placed, ends)
    share = min(1.0, float(np.sum(ends - placed)) / (stop - start))
    following = int(after.sum())
    p = binomial_test(following, len(begun), share, "greater") if len(begun) else 1.0
    earlier = np.maximum(placed - reach * window, np.append(start, ends[:-1])[: len(placed)])
    before = _within(begun, earlier, placed)
    local = _local(after, before, ends - placed, placed - earlier)
    return Follows(len(begun), following, len(placed), int(np.count_nonzero(after)), share, p, local)


def _within(begun: Floats, low: Floats, high: Floats) -> Ints:
    """How many begin in each stretch from low to before high."""
    return (np.searchsorted(begun, high) - np.searchsorted(begun, low)).astype(np.int64)


def _local(after: Ints, before: Ints, window: Floats, control: Floats) -> float:
    """P(at least as many after, given the sums): each fault falls into its window by the window's share."""
    chances = np.ones(1)
    for a, b, w, c in zip(after.tolist(), before.tolist(), window.tolist(), control.tolist(), strict=True):
        share = w / (w + c) if w + c > 0.0 else 1.0
        for _ in range(a + b):
            chances = np.convolve(chances, (1.0 - share, share))
    return min(1.0, float(chances[int(after.sum()) :].sum()))
