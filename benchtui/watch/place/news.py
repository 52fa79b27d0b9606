"""Which excursions are worth a look: while a point warms up few of them are news."""

from __future__ import annotations

from benchtui.watch.signals import Away

from .contrast import SMALL
from .desk import Desk
from .settling import AWAKE_S
from .track import Track

WARM_ABRUPT = 0.08
"""While warming up only a sudden fall of at least this part of the level is news."""
WARM_S = 90.0
"""So long after power-on what is steady is warm. Common practice, no source."""
CAME_BACK_NS = 10_000_000_000
"""But what left a steady level and was back within so long is no warming, once the load valves conduct.
Common practice, no source."""
BEGUN_PART = 0.4
"""Until it has come to this part of its chart a point that warms up is not judged. Common practice,
no source."""
FAR_BEYOND = 3.0
"""A cathode or a tail stands at so many times its chart, whatever the sign, until its valve conducts."""
SWINGS = 6.0
TURNED = -1.4
"""The leads are turned where a supply seems to fall by so many times what it had."""


def is_no_move(track: Track, signal: Away, restless: float) -> bool:
    """Next to nothing, or a swing of a restless point."""
    if abs(signal.level) <= 2.0 * track.segment.course.cold:
        return True
    return abs(signal.peak) < SWINGS * restless


def are_leads_turned(track: Track, signal: Away) -> bool:
    """Whether a voltage seems to fall by more than all it has."""
    return track.unit.is_voltage and signal.peak / signal.level < TURNED


def is_news(desk: Desk, track: Track, signal: Away, back_ns: int | None) -> bool:
    """Before a point has settled in this run, only sudden falls from what it read in this run count, and
    what left a steady level and came back: not what was on its way there."""
    on_ns = desk.on_ns
    if on_ns is not None and signal.before_ns < on_ns <= signal.start_ns:
        return False
    if track.settled_ns is None and _has_hardly_begun(track, signal):
        return False
    if track.settled_ns is None and _begins_to_conduct(track, signal):
        return False
    age = desk.age_s(signal.start_ns)
    if track.settled_ns is not None or (age > WARM_S and signal.steady):
        return True
    before = track.newest(signal.before_ns)
    if before is not None and abs(before[1] - signal.level) > abs(signal.peak):
        return False
    falls = signal.peak * signal.level < 0
    short = back_ns is not None and back_ns - signal.start_ns <= CAME_BACK_NS
    if short and signal.steady and age >= AWAKE_S:
        return signal.abrupt and abs(signal.peak) >= SMALL * abs(signal.level)
    return signal.abrupt and falls and abs(signal.peak) >= WARM_ABRUPT * abs(signal.level)


def _has_hardly_begun(track: Track, signal: Away) -> bool:
    """A point far from its chart has nothing yet to drop from: the inrush of a supply dies away."""
    return abs(signal.level) < BEGUN_PART * abs(track.point.nominal or 0.0)


def _begins_to_conduct(track: Track, signal: Away) -> bool:
    """A point that stood far beyond its chart goes back towards it."""
    charted = track.segment.charted
    return bool(charted) and abs(signal.level) > FAR_BEYOND * charted and signal.peak * signal.level < 0
