"""What a small move comes to beside the seconds before it, and what others did at the same time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .cluster import PARTLY, Move
from .desk import Desk
from .kinship import are_apart
from .track import Track

SMALL = 0.03
"""Greater moves are no question of the mains' wandering. Common practice, no source."""
LEAST_SPAN_NS, MOST_SPAN_NS = 1_000_000_000, 3_000_000_000
FEWEST = 2
"""So many readings of the point's own meter, at least, on either side."""
SHARED = 0.4
"""A move of which the others made this part is nobody's own."""
STALE = 0.5
"""Less than this part of a move beside the seconds just before: it was the line that had gone stale."""
RESTLESS = 0.25
"""A point whose own scatter comes to this part of the move has another story."""
NOISES = 3.0
"""A single reading that shows some of it is so many deviations of the noise off."""
SURE = 0.4
"""What the others made must be known to this part of the move."""


@dataclass(frozen=True, slots=True)
class _Change:
    """By what part of its level a point changed between two stretches, and how well that is known."""

    part: float
    sigma: float


def whose(desk: Desk, move: Move) -> str:
    """Whose a small move is beside the seconds just before it: `own`, `shared`, `stale` where it does not
    hold good there, or `wait`; the empty string for a greater one and where nobody can tell.

    The line of a point looks back over minutes: a mains that wanders within seconds moves all off theirs.
    """
    if abs(move.relative) > SMALL:
        return ""
    lasted_ns, span_ns = _spans(desk, move)
    own = _change(desk, move.track, move, span_ns)
    if own is None or not own.part or own.sigma > RESTLESS * abs(move.relative):
        return ""
    surely = abs(own.part) - own.sigma if own.part * move.relative > 0 else 0.0
    if surely < STALE * abs(move.relative) and (move.end_ns is None or lasted_ns >= LEAST_SPAN_NS):
        return "stale"
    if not move.track.point.follows_mains:
        return "own"
    witnesses = _witnesses(desk, move.track)
    known = [c for other in witnesses if (c := _change(desk, other, move, span_ns, True))]
    sure = [c.part for c in known if c.sigma <= SURE * abs(own.part)]
    if not sure:
        early = move.end_ns is None and lasted_ns < MOST_SPAN_NS
        ac = any(t.shows_mains and t.fresh(desk.now_ns) for t in witnesses)
        return "wait" if early and ac else ""
    return "own" if min(part / own.part for part in sure) < SHARED else "shared"


def mains_stood(desk: Desk, move: Move) -> bool:
    """Whether an AC meter, beside the seconds just before a small move, surely showed hardly any of it."""
    if abs(move.relative) > SMALL:
        return False
    _, span_ns = _spans(desk, move)
    own = _change(desk, move.track, move, span_ns)
    if own is None or not own.part:
        return False
    if showed_in_part(desk, move):
        return False
    known = [_change(desk, ac, move, span_ns, True) for ac in desk.ac_meters() if ac is not move.track]
    sure = [c.part for c in known if c is not None and c.sigma <= SURE * abs(own.part)]
    return bool(sure) and max(part / own.part for part in sure) < SHARED


def showed_in_part(desk: Desk, move: Move) -> bool:
    """Whether a single reading of an AC meter that averages shows some of a move that was over so soon."""
    return any(_showed(desk, ac, move) for ac in desk.ac_meters() if ac is not move.track)


def _showed(desk: Desk, track: Track, move: Move) -> bool:
    if move.end_ns is None or not move.is_short_for(track) or not track.grains:
        return False
    history, span_ns = track.segment.history, int(2e9 * track.period_s)
    _, before = history.between(move.before_ns - MOST_SPAN_NS - span_ns, move.before_ns)
    _, after = history.between(move.start_ns, min(move.end_ns + span_ns, desk.now_ns))
    if len(before) < FEWEST or not len(after):
        return False
    sign, level = (1.0 if move.relative > 0 else -1.0), float(np.median(before))
    if abs(level) <= track.segment.course.cold:
        return False
    went = float((sign * (after / level - 1.0)).max())
    noise = max(track.grains[-1].flutter, 0.29 * track.step) / abs(level)
    return went >= max(PARTLY * abs(move.relative), NOISES * noise)


def _spans(desk: Desk, move: Move) -> tuple[int, int]:
    """How long a move has lasted by now, and the seconds before and after it that are compared."""
    until_ns = desk.now_ns if move.end_ns is None else min(desk.now_ns, move.end_ns)
    lasted_ns = until_ns - move.start_ns
    return lasted_ns, min(max(lasted_ns, LEAST_SPAN_NS), MOST_SPAN_NS)


def _witnesses(desk: Desk, track: Track) -> list[Track]:
    """The points that have nothing but the mains in common with one, and the mains."""
    return [
        other
        for other in desk.tracks.values()
        if other.unit.is_voltage
        and not other.point.moves
        and (other.is_mains or other.point.follows_mains)
        and are_apart(desk.chart, track.name, other.name)
    ]


def _change(desk: Desk, track: Track, move: Move, span_ns: int, late: bool = False) -> _Change | None:
    """The seconds after the move began beside those before; `late`: its meter may show it later."""
    history = track.segment.history
    slack_ns = int(0.5e9 * track.period_s) if late else 0
    before_ns, after_ns = move.before_ns - slack_ns, move.start_ns - 1 + slack_ns
    _, before = history.between(before_ns - span_ns, before_ns)
    until_ns = min(after_ns + span_ns, desk.now_ns)
    _, after = history.between(after_ns + (span_ns // 2 if late else 0), until_ns)
    n, m = len(before), len(after)
    level = float(before.mean()) if n else 0.0
    if min(n, m) < (1 if late else FEWEST) or abs(level) <= track.segment.course.cold or not track.grains:
        return None
    flutter, count = track.grains[-1].flutter, 0.29 * track.step
    scatter = flutter * (1.0 / n + 1.0 / m) ** 0.5 if flutter > count else count * 2.0**0.5
    return _Change(float(after.mean()) / level - 1.0, scatter / abs(level))
