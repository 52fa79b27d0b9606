"""Whether a record begins with the set being switched on, or in the midst of a run that nobody saw begin."""

from __future__ import annotations

import numpy as np

from benchtui.model.units import Unit
from benchtui.watch.signals import Grain

from .desk import Desk
from .track import Track

YOUNG_NS = 10_000_000_000
"""So old a record may be for its beginning to be the set's."""
CAME_UP = 0.7
"""A supply whose first reading is below this part of its newest has just been switched on. Common practice,
no source."""


def begins_with_the_record(desk: Desk, signal: Grain) -> bool:
    """Whether a run began with the record, as a grain of a live point ends.

    Then some point still waits for its valve, or has just come up from little.
    """
    began = min(t.segment.since_ns for t in desk.tracks.values())
    if signal.first_ns - began > YOUNG_NS:
        return False
    return any(_waits(desk, t) or _came_up(desk, t) for t in desk.tracks.values())


def _waits(desk: Desk, track: Track) -> bool:
    """Whether a point that should have something reads nothing."""
    charted = track.unit is Unit.V and track.point.nominal and not track.point.moves
    return bool(charted) and track.fresh(desk.now_ns) and track.reads_nothing(desk.now_ns)


def _came_up(desk: Desk, track: Track) -> bool:
    """Whether a supply read far less at first than it does now."""
    t, x = track.segment.history.between(-1, desk.now_ns)
    if track.unit is not Unit.V or track.point.moves or len(x) < 2 or track.reads_nothing(int(t[-1])):
        return False
    at_first = int(t[0]) - track.segment.since_ns < YOUNG_NS
    return at_first and abs(float(x[0])) < CAME_UP * abs(float(x[-1]))


def first_live_ns(desk: Desk) -> int:
    """The first reading of any point that is not cold."""
    found = [t.segment.history.between(-1, desk.now_ns) for t in desk.tracks.values()]
    live = [
        int(at[np.argmax(warm)])
        for t, (at, x) in zip(desk.tracks.values(), found, strict=True)
        if t.unit.is_voltage and (warm := np.abs(x) > t.segment.course.cold).any()
    ]
    return min(live, default=desk.now_ns)
