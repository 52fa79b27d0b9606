"""Whether a fall may be the switch-off, and what tells that the power is there."""

from __future__ import annotations

from benchtui.model.units import Unit

from .cluster import Cluster, Move, Response
from .desk import Desk
from .track import Track
from .verdict import SURELY_LATE_S

ALL_OF_IT, SWITCH_NS = 0.9, 4_000_000_000
"""A heater that lost so much may have been switched off with the set; until then that is found out."""
HANDS_NS = 1_500_000_000
"""Who marks each switch-off presses the key so soon after it. Common practice, no source."""
OFF_PART, AC_OFF_S, FALLS_S = 0.1, 3.0, 8.0
"""A fall of everything by this part may be the switch-off; for so long, and a reading of the
AC meters more, that is found out, or for the second where none is there to tell."""
DEAD_S = 6.0
"""An AC meter that reads nothing tells of the switch-off, or of a cut, within so long."""
DOWN_PART = 0.6
"""A supply at or below this part of what it was has come far down."""


def may_be_off(desk: Desk, cluster: Cluster, reference: Move, answers: list[Response]) -> bool:
    """Everything falls, and the meter, the hand or the time that tells a switch-off has yet to speak."""
    stays = reference.end_ns is not None or reference.stands is not None
    if stays or reference.relative > -OFF_PART or reference.track.is_mains:
        return False
    ac = [a for a in answers if a.track.shows_mains and a.track.fresh(desk.now_ns)]
    age_s = (desk.now_ns - reference.start_ns) * 1e-9
    if ac:
        out = any(m.track.is_heater and m.relative <= -OFF_PART for m in cluster.moves)
        late_s = SURELY_LATE_S if out else 0.0
        open_yet = all(
            a.verdict == "waiting"
            or _falls(desk, cluster.of(a.track), reference)
            or (a.track.is_mains and age_s < late_s + a.track.period_s)
            for a in ac
        )
        fell = any(m.track is not reference.track and m.relative < 0 for m in cluster.moves)
        fell = fell or any(a.verdict == "moved" for a in answers)
        if any(_is_dead(desk, a.track, reference) for a in ac):
            return fell and age_s < DEAD_S
        return open_yet and age_s < AC_OFF_S + max(a.track.period_s for a in ac) and fell
    volts = [a for a in answers if a.track.unit is Unit.V and a.track.point.follows_mains]
    falls = [a for a in volts if a.verdict == "moved" and a.relative <= -0.5 * OFF_PART]
    if not falls or any(a.verdict in ("still", "blind") for a in volts):
        return False
    return age_s < (HANDS_NS * 1e-9 if desk.by_mark else FALLS_S)


def _is_dead(desk: Desk, track: Track, reference: Move) -> bool:
    """Whether an AC meter has read nothing since a fall began, be it at a change of range."""
    shown = track.shown(desk.now_ns)
    return shown is not None and shown[0] >= reference.start_ns and abs(shown[1]) <= track.segment.course.cold


def _falls(desk: Desk, move: Move | None, reference: Move) -> bool:
    """Whether an AC point has fallen far, or has begun to so lately that it may.

    One that was read for a whole period since the others fell, and has hardly moved, is there.
    """
    if move is None or move.relative > 0:
        return False
    if move.relative <= -OFF_PART:
        return True
    newest = move.track.newest(desk.now_ns)
    read_ns = reference.start_ns + int(move.track.period_s * 0.9e9)
    return desk.now_ns < move.whole_ns and (newest is None or newest[0] < read_ns)


def asked_again_ns(desk: Desk, move: Move) -> int | None:
    """When B+ will say whether a heater without current, where nothing else tells of the mains, was all; None
    where there is nothing to wait for."""
    if not move.track.is_heater or abs(move.relative) < ALL_OF_IT or _power_told_elsewhere(desk, move):
        return None
    until = move.start_ns + (HANDS_NS if desk.by_mark else SWITCH_NS)
    return until if desk.now_ns < until else None


def _power_told_elsewhere(desk: Desk, move: Move) -> bool:
    tracks = [t for t in desk.tracks.values() if t is not move.track and t.fresh(desk.now_ns)]
    return any(t.is_mains or (t.is_heater and not t.cold) for t in tracks)


def all_are_down(desk: Desk, since_ns: int) -> bool:
    """Whether every supply point has come far down since an instant, and none has turned."""
    seen = 0
    for track in desk.tracks.values():
        if not track.is_supplied or track.stood_before:
            continue
        before, level = desk.value(track.name, since_ns - 1), track.level(desk.now_ns)
        if not before or level is None or not track.fresh(desk.now_ns):
            continue
        if abs(level) > DOWN_PART * abs(before):
            return False
        seen += 1
    return seen > 0


def power_is_known(desk: Desk) -> bool:
    """Whether an AC meter says that the power is there, or the technician marks it."""
    mains = desk.mains()
    if mains is not None:
        return not mains.cold
    return any(not h.cold for h in desk.heaters()) or desk.by_mark
