"""How the other points answered while one was away: peaks within overlapping windows, not latest values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.units import Unit
from benchtui.watch.eyes.course import Line

from .desk import Desk, Track

MOVED_PART = 0.4
"""A point that moved by at least this part of another's relative move moved with it."""
STILL_PART = 0.3
HARDLY_PART, HARDLY_NOISES = 0.08, 2.5
"""A point that moved by no more than this has not even begun to follow."""
SOON_NS, SURE_NS, LAG_NS = 100_000_000, 600_000_000, 2_000_000_000
"""A point that has not begun to follow after the first of these did not follow a deep move, after the second
a shallow one. Filters between points, and meters that average, lag by up to the third."""
DEEP_PART = 0.2
BLIND = 3.5
"""A move of fewer standard deviations than this can't be seen on a point."""


@dataclass(frozen=True, slots=True)
class Response:
    """One other point's answer. `relative` is signed, in parts of its own level."""

    track: Track
    verdict: str
    """moved, still, blind (could not show it), waiting (no reading in the window yet)."""
    relative: float
    complete: bool = True
    """False where its meter may still be on the way: no reading is wholly after the move yet."""


def response(desk: Desk, other: Track, start_ns: int, end_ns: int | None, relative: float) -> Response:
    """What `other` did while a point was away by `relative` from `start_ns` to `end_ns` (None: still)."""
    now = desk.now_ns
    period_ns = int(other.period_s * 1e9)
    line = other.line_before(start_ns - 1, now) or _line_of_last(other, start_ns, period_ns)
    if line is None or abs(line.level) <= other.segment.course.cold:
        return Response(other, "blind", 0.0)
    if not other.fresh(now):
        newest = other.newest(now)
        lately = newest is not None and newest[0] >= start_ns - int(2.5e9)
        return Response(other, "waiting" if lately else "blind", 0.0)
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
    signed = best if relative > 0 else -best
    if best >= MOVED_PART * abs(relative):
        whole = int(t[-1]) >= start_ns + 3 * period_ns // 2 + 300_000_000 or end_ns is not None
        return Response(other, "moved", signed, whole)
    prompt = abs(relative) >= DEEP_PART or other.unit is Unit.VAC
    soonest = SOON_NS if prompt else SURE_NS
    sure = t >= start_ns + period_ns // 2 + soonest
    if end_ns is not None:
        sure &= t <= end_ns
    if not sure.any():
        waiting = end_ns is None or now <= end_ns + period_ns
        return Response(other, "waiting" if waiting else "blind", 0.0)
    if best <= max(HARDLY_PART * abs(relative), HARDLY_NOISES * noise / abs(line.level)):
        return Response(other, "still", signed)
    if end_ns is None and now < start_ns + LAG_NS:
        return Response(other, "waiting", signed)
    return Response(other, "still" if best <= STILL_PART * abs(relative) else "blind", signed)


def _line_of_last(other: Track, start_ns: int, period_ns: int) -> Line | None:
    """Where a point is not steady yet: its last readings before, with their own restlessness as noise."""
    t, x = other.segment.history.between(start_ns - 5 * period_ns - 1, start_ns - 1)
    if len(x) < 3:
        return None
    last = float(x[-1])
    noise = float(np.max(np.abs(np.diff(x)))) + other.step
    at = float(t[-1]) * 1e-9
    return Line(last, 0.0, at, at, noise, 0.0)
