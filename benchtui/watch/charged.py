"""Which points were above the warning level, and which of them have been read below it since."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.model.units import Unit

from .place.desk import Track


@dataclass(slots=True)
class Charged:
    """A point that read above the level: where, how much, when, and whether it was read below since."""

    point: str
    unit: Unit
    value: float
    meter: str
    at_ns: int
    channel: str
    cleared: bool = False
    below_value: float = 0.0
    below_ns: int = 0


class Watch:
    """Keeps the points that were above the level; fed with all readings, block by block."""

    def __init__(self) -> None:
        self.charged: dict[str, Charged] = {}

    def look(self, track: Track, since_ns: int, upto_ns: int, warn_above: float) -> None:
        """Takes a track's readings of a stretch of time. They must not be skipped."""
        if not track.unit.is_voltage:
            return
        t, x = track.segment.raw.between(since_ns, upto_ns)
        if not len(t):
            return
        above = np.abs(x) > warn_above
        name, channel = track.name, track.segment.channel.name
        if above.any():
            i = int(len(above) - 1 - np.argmax(above[::-1]))
            self.charged[name] = Charged(
                name, track.unit, float(x[i]), track.segment.channel.meter, int(t[i]), channel
            )
        kept = self.charged.get(name)
        if kept is None or above[-1] or kept.channel != channel:
            return
        kept.cleared, kept.below_value, kept.below_ns = True, float(x[-1]), int(t[-1])
