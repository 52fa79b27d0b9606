"""Which points were above the warning level, and which of them have been read below it since."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import NO_VALUE, Channel, Readings
from benchtui.model.units import Unit

from .place.track import Track


@dataclass(slots=True)
class Charged:
    """A point that read above the level: where, how much, when, and whether it was read below since."""

    point: str
    unit: Unit
    value: float | None
    """None: beyond the meter's range."""
    meter: str
    at_ns: int
    channel: str
    cleared: bool = False
    below_value: float = 0.0
    below_ns: int = 0
    asked_ns: int = -1
    """Only readings after this can clear it: the last power-on."""


class Watch:
    """Keeps the points that were above the level; fed with all readings, block by block."""

    def __init__(self) -> None:
        self.charged: dict[str, Charged] = {}

    def look(self, track: Track, since_ns: int, upto_ns: int, warn_above: float) -> None:
        """Takes a track's readings of a stretch of time. They must not be skipped."""
        segment = track.segment
        t, x = segment.volts.between(since_ns, upto_ns)
        above = np.flatnonzero(np.abs(x) > warn_above)
        name, channel = track.name, segment.channel.name
        value, at_ns = (float(x[above[-1]]), int(t[above[-1]])) if len(above) else (None, since_ns)
        if segment.over_ns > at_ns:
            value, at_ns = None, segment.over_ns
        if at_ns > since_ns:
            unit = track.unit if track.unit.is_voltage else Unit.V
            self.charged[name] = Charged(name, unit, value, segment.channel.meter, at_ns, channel)
        kept = self.charged.get(name)
        if kept is None or kept.channel != channel:
            return
        t, x = segment.clear.between(max(since_ns, kept.at_ns, kept.asked_ns), upto_ns)
        if len(t) and abs(float(x[-1])) < warn_above:
            kept.cleared, kept.below_value, kept.below_ns = True, float(x[-1]), int(t[-1])

    def run_begins(self, at_ns: int) -> None:
        """The power is on: what was read below before says nothing any more."""
        for kept in self.charged.values():
            kept.cleared, kept.asked_ns = False, at_ns

    def look_loose(self, channel: Channel, rows: Readings, warn_above: float) -> None:
        """A channel whose lead is on no point can show what hurts all the same."""
        volts = (rows.unit == int(Unit.V)) | (rows.unit == int(Unit.VAC))
        some = rows.take(volts & ((rows.flags & int(NO_VALUE)) == 0) & np.isfinite(rows.value))
        name = f"{channel.name} (on no point)"
        above = np.flatnonzero(np.abs(some.value) > warn_above)
        if len(above):
            i = int(above[-1])
            self.charged[name] = Charged(
                name,
                Unit(int(some.unit[i])),
                float(some.value[i]),
                channel.meter,
                int(some.t_ns[i]),
                channel.name,
            )
        kept = self.charged.get(name)
        if kept is None or not len(some):
            return
        newest = len(some) - 1
        same = int(some.unit[newest]) == int(kept.unit) and int(some.flags[newest]) == 0
        if (
            same
            and some.t_ns[newest] > max(kept.at_ns, kept.asked_ns)
            and abs(some.value[newest]) < warn_above
        ):
            kept.cleared, kept.below_value = True, float(some.value[newest])
            kept.below_ns = int(some.t_ns[newest])
