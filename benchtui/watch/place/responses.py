"""How the other points answered while one was away: peaks within overlapping windows, not latest values."""

from __future__ import annotations

from itertools import pairwise
from statistics import median

import numpy as np

from benchtui.model.readings import Floats, Ints
from benchtui.model.units import Unit
from benchtui.watch.eyes.line import Line
from benchtui.watch.eyes.repeats import conversions

from .cluster import Move, Response
from .desk import Desk
from .track import Track
from .verdict import DEEP

MOVED_NOISES = 3.0
RANGES_PART = 0.3
"""A supply that moves by this part makes its meter change the range."""
AVERAGED = 8
"""At most so many readings of a quicker meter are averaged over the period of the slower one."""
STILL_PART, STILL_MOST = 0.3, 0.1
IN_PART, PARTLY_NOISES = 0.1, 3.5
"""A point that went the same way by this part of a move, and by so many deviations of its noise, did so in
part."""
HARDLY_PART, HARDLY_MOST, HARDLY_NOISES = 0.08, 0.03, 2.5
"""A point that moved by no more than such parts, of the move and of its level, has not begun to follow."""
SOON_NS, QUICK_NS, SURE_NS, LAG_NS = 100_000_000, 350_000_000, 600_000_000, 2_000_000_000
"""A point that has not begun to follow after the first of these did not follow a deep move; after the second
the mains, a heater or a feed did not move first; after the third nobody follows. Filters between points, and
meters that average, lag by up to the fourth."""
VOUCHED_SOON_NS, VOUCHED_QUICK_NS, HALF_MOST_NS = 50_000_000, 150_000_000, 50_000_000
"""The first two where another AC meter tells of the mains and the move is no small one, and as much of half a
reading as is waited for then: a meter that averages shows part of such a move at once, a switch-off
shows on the AC meter."""
SHOWS = 4
"""After this part of its period a meter that averages over all of it shows surely that there is a move."""
SHORT_PART = 0.3
"""Of a move that is over the last two thirds count in any case."""
DEEP_PART, SMALL_PART = 0.2, 0.05
EARLY_NS = 100_000_000
AWAY_NOISES = 4.0
"""A point this far from its line stands elsewhere; where it stands is what it is held against then."""
REMEMBERED = 16
"""So many answers to where a point stood are kept."""
BLIND = 3.5
"""A move of fewer standard deviations than this can't be seen on a point."""


def response(desk: Desk, other: Track, move: Move, earliest_ns: int) -> Response:
    """What `other` did while a point was away; nothing had begun to move before `earliest_ns`."""
    now, start_ns, end_ns, relative = desk.now_ns, move.start_ns, move.end_ns, move.relative
    period_ns = int(other.period_s * 1e9)
    earliest = min(start_ns - period_ns, move.before_ns - EARLY_NS, earliest_ns - EARLY_NS)
    line = _baseline(other, earliest, period_ns, now)
    if line is None or abs(line.level) <= other.segment.course.cold:
        return Response(other, "blind", 0.0)
    if not other.fresh(now):
        newest = None if other.trouble else other.newest(now)
        lately = newest is not None and newest[0] >= start_ns - int(2.5e9)
        return Response(other, "waiting" if lately else "blind", 0.0)
    until = now if end_ns is None else min(now, end_ns + period_ns)
    noise = max((line.noise**2 + line.wander**2) ** 0.5, 0.3 * other.step)
    if abs(relative * line.level) < BLIND * noise:
        return Response(other, "blind", 0.0)
    t, x = other.segment.history.between(earliest, until)
    if other.sent > 1.0 and len(t):
        t, x = conversions(t, x, other.sent)
    if not len(t):
        return Response(other, "waiting", 0.0)
    width = int(min(max(move.track.period_s / other.period_s, 1.0), AVERAGED, len(x)))
    best = _farthest(line, t, x, width, 1.0 if relative > 0 else -1.0)
    signed = best if relative > 0 else -best
    if best >= max(move.least_for(other) * abs(relative), MOVED_NOISES * noise / abs(line.level)):
        whole = int(t[-1]) >= start_ns + 3 * period_ns // 2 + 300_000_000 or end_ns is not None
        return Response(other, "moved", signed, whole)
    if other.shows_mains:
        hidden = between_ranges(other, line.level, earliest, until, 1.0 if relative > 0 else -1.0)
        if hidden:
            return Response(other, "moved", hidden, False)
    return _unmoved(
        other, move, t, best, signed, noise / abs(line.level), now, still_from_ns(desk, other, move)
    )


def _farthest(line: Line, t: Ints, x: Floats, width: int, sign: float) -> float:
    """How far, in parts of the level, the mean of so many readings went one way."""
    if width == 1 and not line.slope:
        farthest = x.max() if sign * line.level > 0 else x.min()
        return sign * float((farthest - line.level) / line.level)
    same = sign * line.off(t, x) / line.level
    if width > 1:
        total = np.concatenate(([0.0], np.cumsum(same)))
        same = (total[width:] - total[:-width]) / width
    return float(same.max())


def between_ranges(
    track: Track, level: float, after_ns: int, until_ns: int, sign: float, least: int = 2
) -> float:
    """By what part a point was at least away in so many readings, those at a change of range included.

    0 if it was not so far: whose meter must change the range so often has fallen deep.
    """
    _, x = track.segment.raw.between(after_ns, until_ns)
    away = np.sort(sign * (x / level - 1.0))
    return sign * float(away[-least]) if len(away) >= least and away[-least] >= RANGES_PART else 0.0


def _unmoved(
    other: Track, move: Move, t: Ints, best: float, signed: float, noise: float, now: int, due_ns: int
) -> Response:
    """A point that has not moved with it so far: still, or is it too early to tell?"""
    relative, start_ns, end_ns = abs(move.relative), move.start_ns, move.end_ns
    period_ns = int(other.period_s * 1e9)
    hardly = best <= max(
        min(HARDLY_PART * relative, HARDLY_MOST), min(HARDLY_NOISES * noise, STILL_PART * relative)
    )
    until = len(t) if end_ns is None else int(t.searchsorted(end_ns, "right"))
    if not until or int(t[until - 1]) < due_ns:
        if end_ns is None or now <= end_ns + period_ns:
            return Response(other, "waiting", 0.0)
        nothing = best <= max(HARDLY_PART * relative, noise)
        within = _read_within(t, move, end_ns, period_ns // SHOWS)
        return Response(other, "blind", 0.0, missed=nothing and within)
    partly = best >= max(IN_PART * relative, PARTLY_NOISES * noise)
    if hardly:
        return Response(other, "still", signed, partly=partly)
    if end_ns is None and now < start_ns + LAG_NS:
        return Response(other, "waiting", signed)
    verdict = "still" if best <= min(STILL_PART * relative, STILL_MOST) else "blind"
    return Response(other, verdict, signed, partly=partly)


def _read_within(t: Ints, move: Move, end_ns: int, shows_ns: int) -> bool:
    """Whether a reading lies surely within a move that is over, which its own meter shows to have ended up to
    a reading late; `shows_ns`: from so long after its beginning on."""
    last_ns = max(move.start_ns, end_ns - int(0.9e9 * move.track.period_s))
    return bool(((t >= move.start_ns + shows_ns) & (t <= last_ns)).any())


def still_from_ns(desk: Desk, other: Track, move: Move) -> int:
    """From when on a reading of a point that has not moved with it says that it stands still."""
    start_ns, period_ns, size = move.start_ns, int(other.period_s * 1e9), abs(move.relative)
    deep, soon_ns, quick_ns, half_ns = DEEP_PART, SOON_NS, QUICK_NS, period_ns // 2
    if size >= SMALL_PART and any(t is not move.track for t in desk.ac_meters()):
        deep, soon_ns, quick_ns = DEEP, VOUCHED_SOON_NS, VOUCHED_QUICK_NS
        half_ns = min(half_ns, max(HALF_MOST_NS, period_ns // SHOWS)) if size >= deep else half_ns
    quick = other.unit is Unit.VAC or other.name in desk.chart.feeds(move.track.name)
    prompt_ns = soon_ns if size >= deep else quick_ns if quick else SURE_NS
    if move.end_ns is not None:
        prompt_ns = min(prompt_ns, int(SHORT_PART * (move.end_ns - move.start_ns)))
    due_ns = start_ns + half_ns + prompt_ns
    if other.late_ns > move.track.late_ns:
        due_ns = max(due_ns, start_ns + other.late_ns - move.track.late_ns + period_ns)
    return due_ns


def _baseline(other: Track, before_ns: int, period_ns: int, now: int) -> Line | None:
    """Where a point stood before: asked again and again while a move is open, worked out once."""
    key, known = (before_ns, period_ns), other.stood
    if key not in known:
        if len(known) >= REMEMBERED:
            known.clear()
        known[key] = _stood(other, before_ns, period_ns, now)
    return known[key]


def _stood(other: Track, before_ns: int, period_ns: int, now: int) -> Line | None:
    """On its line, or, where it was away or not yet steady, where it last was."""
    line = other.line_before(before_ns, now)
    t, x = other.segment.history.between(before_ns - 5 * period_ns - 1, before_ns)
    middle = median(x[-3:].tolist()) if len(x) else 0.0
    if line is not None and len(x):
        noise = (line.noise**2 + line.wander**2) ** 0.5
        if abs(middle - line.at_one(float(t[-1]) * 1e-9)) <= AWAY_NOISES * noise:
            return line
    if len(x) < 3:
        return line
    spread = max(abs(b - a) for a, b in pairwise(x[-4:].tolist()))
    noise = max(spread, other.step) if line is None else max(line.noise, min(spread, 3.0 * line.noise))
    at = float(t[-1]) * 1e-9
    return Line(middle, 0.0, at, at, noise, 0.0)
