"""How the other points answered while one was away: peaks within overlapping windows, not latest values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .desk import Desk, Track

MOVED_PART = 0.4
"""A point that moved by at least this part of another's relative move moved with it."""
STILL_PART = 0.3
BLIND = 3.5
"""A move of fewer standard deviations than this can't be seen on a point."""


@dataclass(frozen=True, slots=True)
class Response:
    """One other point's answer. `relative` is signed, in parts of its own level."""

    track: Track
    verdict: str
    """moved, still, blind (could not show it), waiting (no reading in the window yet)."""
    relative: float


def response(desk: Desk, other: Track, start_ns: int, end_ns: int | None, relative: float) -> Response:
    """What `other` did while a point was away by `relative` from `start_ns` to `end_ns` (None: still)."""
    now = desk.now_ns
    period_ns = int(other.period_s * 1e9)
    line = other.line_before(start_ns - 1, now)
    if line is None or not other.fresh(now) or abs(line.level) <= other.segment.course.cold:
        return Response(other, "blind", 0.0)
    until = now if end_ns is None else min(now, end_ns + period_ns)
    t, x = other.segment.history.between(start_ns - period_ns, until)
    noise = max((line.noise**2 + line.wander**2) ** 0.5, 0.3 * other.step)
    if abs(relative * line.level) < BLIND * noise:
        return Response(other, "blind", 0.0)
    if not len(t):
        return Response(other, "waiting", 0.0)
    parts = (x - line.at(t * 1e-9)) / line.level
    same = parts if relative > 0 else -parts
    best = float(np.max(same))
    if best >= MOVED_PART * abs(relative):
        return Response(other, "moved", best if relative > 0 else -best)
    sure = t >= start_ns + period_ns // 2
    if end_ns is not None:
        sure &= t <= end_ns
    if not sure.any():
        state = "waiting" if end_ns is None or now <= end_ns + period_ns else "blind"
        return Response(other, state, 0.0)
    if best <= STILL_PART * abs(relative):
        return Response(other, "still", best if relative > 0 else -best)
    return Response(other, "blind", best if relative > 0 else -best)
