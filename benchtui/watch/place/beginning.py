"""Whether a record begins with the set being switched on, or in the midst of a run that nobody saw begin."""

from __future__ import annotations

import numpy as np

from benchtui.model.units import Unit
from benchtui.watch.signals import Grain

from .desk import Desk
from .track import Track

YOUNG_NS = 10_000_000_000
"""So old a record may be for its beginning to be the set's."""
CAME_UP, FEW_LOW = 0.7, 2
"""Points whose first readings, so many in all, are below this part of their newest have just been switched
on. Common practice, no source."""
STOOD = 0.1
"""A battery's readings before the switch differ by less than this part. Common practice, no source."""


def begins_with_the_record(desk: Desk, signal: Grain) -> bool:
    """Whether a run began with the record, as a grain of a live point ends.

    Then some point still waits for its valve, or some have just come up from little: one low reading of one
    meter may be a lead that was being clipped on.
    """
    began = min(t.segment.since_ns for t in desk.tracks.values())
    if signal.first_ns - began > YOUNG_NS:
        return False
    low = sum(_low_at_first(desk, t) for t in desk.tracks.values())
    return low >= FEW_LOW or any(_waits(desk, t) for t in desk.tracks.values())


def _waits(desk: Desk, track: Track) -> bool:
    """Whether a point that should have something reads nothing."""
    charted = track.unit is Unit.V and track.point.nominal and not track.point.moves
    return bool(charted) and track.fresh(desk.now_ns) and track.reads_nothing(desk.now_ns)


def _low_at_first(desk: Desk, track: Track) -> int:
    """How many of the first readings of a point were far below what it reads now."""
    t, x = track.segment.history.between(-1, desk.now_ns)
    if track.unit is not Unit.V or track.point.moves or track.is_small or len(x) < 2:
        return 0
    if track.reads_nothing(int(t[-1])) or int(t[0]) - track.segment.since_ns >= YOUNG_NS:
        return 0
    up = np.abs(x) >= CAME_UP * abs(float(x[-1]))
    return int(np.argmax(up))


def first_live_ns(desk: Desk) -> int:
    """The first reading of any point that is not cold."""
    found = [t.segment.history.between(-1, desk.now_ns) for t in desk.tracks.values()]
    live = [
        int(at[np.argmax(warm)])
        for t, (at, x) in zip(desk.tracks.values(), found, strict=True)
        if t.unit.is_voltage and (warm := np.abs(x) > t.segment.course.cold).any()
    ]
    return min(live, default=desk.now_ns)


def stood_before(desk: Desk, track: Track, start_ns: int) -> bool:
    """Whether a point is a battery ahead of the switch.

    It had its few volts, and stood, before a run began, while all that is charted above it read nothing; once
    known, it is one in the next run too.
    """
    if track.stood_before:
        return True
    values = track.segment.history.values(start_ns - 1, 5)
    if not track.may_be_battery or not values:
        return False
    least, most = min(map(abs, values)), max(map(abs, values))
    if least <= track.segment.course.cold or least < (1.0 - STOOD) * most:
        return False
    above = [t for t in desk.above_batteries() if t.newest(start_ns - 1) is not None]
    return bool(above) and all(t.reads_nothing(start_ns - 1) for t in above)
