"""What the other points answer when one has moved, and who has yet to answer."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

import numpy as np

from .cluster import UNSEEN, Cluster, Move, Response
from .contrast import SMALL
from .desk import Desk
from .kinship import ALIKE
from .responses import between_ranges, response, still_from_ns
from .verdict import enough

OVERDUE = 1.0
"""A feed's meter that has not read for so many periods and half a second is not waited for."""
CARRIES = 0.8
"""A feed whose meter shows this part of a move already carries it, even if that is not yet all."""
AGAINST = 0.1
"""A point that went the other way by this part of a move tells against a common cause."""
SAG_SHOWS_NS = 300_000_000
"""So long after a regulated point began to move a reading of the others shows a sag behind it."""
UNVOUCHED = 0.008
"""The mains of a house wanders by so much at any time. Common practice, no source."""


def answers_to(desk: Desk, cluster: Cluster, reference: Move) -> list[Response]:
    """What each other point says to one of the moves of a cluster."""
    earliest_ns = min(m.before_ns for m in cluster.moves)
    answers = [
        _own_word(desk, cluster.of(other), reference) or response(desk, other, reference, earliest_ns)
        for other in desk.tracks.values()
        if other is not reference.track and not other.point.moves and other.unit.is_voltage
    ]
    return [a for a in answers if a.verdict == "moved" or not a.track.stood_before]


def battery_stands(desk: Desk, cluster: Cluster, reference: Move) -> bool:
    """Whether the set runs off a battery, and that stood: so it was not what feeds all."""
    earliest_ns = min(m.before_ns for m in cluster.moves)
    batteries = (t for t in desk.tracks.values() if t.stood_before and t is not reference.track)
    return any(response(desk, t, reference, earliest_ns).verdict == "still" for t in batteries)


def meter_is_awaited(desk: Desk, cluster: Cluster, reference: Move) -> bool:
    """Whether the mains meter has yet to answer, and surely too few others stood still to speak for it."""
    meter = next((t for t in desk.tracks.values() if t.is_mains and not t.point.moves), None)
    if meter is None or reference.track.is_mains or _own_word(desk, cluster.of(meter), reference):
        return False
    missing = enough(reference) + 1 - len(cluster.moves)
    if missing <= 0 or _are_due(desk, reference, missing):
        return False
    earliest_ns = min(m.before_ns for m in cluster.moves)
    return response(desk, meter, reference, earliest_ns).verdict == "waiting"


def hardly_follows(desk: Desk, reference: Move) -> bool:
    """Whether a regulated point moved so little that a deep sag may be behind it, which slower meters of what
    feeds the whole set have yet to show."""
    if reference.track.point.follows_mains or abs(reference.relative) > SMALL:
        return False
    due_ns = reference.start_ns + SAG_SHOWS_NS
    others = (t for t in desk.tracks.values() if t.point.follows_mains and t.unit.is_voltage)
    newest = (t.newest(desk.now_ns) for t in others if t.fresh(desk.now_ns))
    return any(at is not None and at[0] < due_ns for at in newest)


def _are_due(desk: Desk, reference: Move, many: int) -> bool:
    """Whether so many points could be told to stand still by now."""
    due = (t for t in desk.tracks.values() if still_from_ns(desk, t, reference) <= desk.now_ns)
    return next(islice(due, many - 1, None), None) is not None


def _own_word(desk: Desk, move: Move | None, reference: Move) -> Response | None:
    """What a point's own eye has told of the same move is its answer, where it is about as great.

    One that went the other way did not follow what moved the other, unless it was on its way back by then.
    """
    if move is None or move.number < 0 or move.echo or not reference.relative:
        return None
    part = move.relative / reference.relative
    if part < 0.0 and move.before_ns >= reference.start_ns:
        return None
    if part <= -AGAINST:
        sign = 1.0 if reference.relative > 0 else -1.0
        hidden = between_ranges(move.track, move.level, move.before_ns, move.start_ns, sign, 1)
        if hidden:
            return Response(move.track, "moved", hidden, False)
        return Response(move.track, "still", move.relative)
    whole = move.over or desk.now_ns >= move.whole_ns
    least = 0.0 if move.track.is_mains and whole else ALIKE
    if not least <= part <= 1.0 / ALIKE:
        return None
    return Response(move.track, "moved", move.relative, whole)


def others_due(desk: Desk, reference: Move, answers: Sequence[Response], last: bool) -> bool:
    """Whether a feed of the point, which may be to blame instead, has yet to give a reading."""
    chart, name = desk.chart, reference.track.name
    feeds = chart.feeds(name)
    still = {f for a in answers if a.verdict == "still" for f in chart.feeds(a.track.name)}
    size = min(abs(reference.relative), 1.0)
    carried = {a.track.name for a in answers if a.verdict == "moved" and abs(a.relative) >= CARRIES * size}
    late = [
        a
        for a in answers
        if (a.track.name in feeds or (not feeds and chart.carries(a.track.name)))
        and name not in chart.feeds(a.track.name)
        and (a.verdict == "waiting" or not a.complete)
        and desk.now_ns < reference.start_ns + int((OVERDUE * a.track.period_s + 0.5) * 1e9)
        and a.track.name not in still
        and not carried.intersection((a.track.name, *chart.feeds(a.track.name)))
    ]
    return bool(late) and not last


def could_be_mains(move: Move, answers: Sequence[Response]) -> bool:
    """A move so small that nobody else could show it may be the mains', as long as nobody stood still."""
    small = abs(move.relative) < UNVOUCHED and move.track.point.follows_mains
    told = [a for a in answers if a.verdict in ("still", "moved") and a.track.point.follows_mains]
    return small and not told


def unseen(desk: Desk, a: Response, reference: Move) -> Move:
    """The move of a feed as its readings show it, from the last one before what it feeds had moved."""
    history = a.track.segment.history
    before_ns, level = history.at(reference.before_ns) or (reference.before_ns, 1.0)
    t, x = history.between(before_ns, desk.now_ns)
    half = 0.5 * a.relative * level
    went = np.flatnonzero((x - level) * half >= half * half)
    start = min(int(t[went[0]]), reference.start_ns) if len(went) else reference.start_ns
    return Move(a.track, UNSEEN, start, level, a.relative * level, 0.0, True, before_ns)
