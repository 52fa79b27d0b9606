"""One point with a lead on it, as the placer knows it."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

import numpy as np

from benchtui.chart.chart import Point
from benchtui.model.units import Unit
from benchtui.watch.eyes.line import Line
from benchtui.watch.eyes.segment import Segment
from benchtui.watch.signals import Grain

if TYPE_CHECKING:
    from .desk import Desk

NOT_READING = {"gap", "function", "overload", "frozen"}
"""Troubles of a meter in which it does not read its point."""
SMALL_V = 5.0
"""Fewer volts DC are no supply. Common practice, no source."""
SLIGHT_V = 1.0
"""Less is mostly a difference of larger voltages. Common practice, no source."""
BATTERY_V = 30.0
"""No accumulator of a set has more. Common practice, no source."""


class Track:
    """One point with a lead on it, as the placer knows it."""

    def __init__(self, segment: Segment, desk: Desk) -> None:
        self.segment = segment
        self._desk = desk
        self.point: Point = segment.point
        self.name = segment.point.name
        self.named_mains = segment.point.name.lower() == "mains"
        """Whether it is the mains, if its unit says so too."""
        self.grains: deque[Grain] = deque(maxlen=128)
        self.cold = True
        self.stood_before = False
        """It had its few volts before the run began, as a battery ahead of the switch has."""
        self.settled_ns: int | None = None
        """When it reached its settled level in this run; None while it has not."""
        self.settled_level = 0.0
        self.late_ns = 0
        """How late its meter has shown a common move after the promptest did, at least."""
        self.trouble: set[str] = set()
        """Open kinds of meter trouble."""
        self._level: tuple[tuple[int, int], float | None] = (0, 0), None
        """The newest answer of `level`, and of which readings."""
        self.stood: dict[tuple[int, int], Line | None] = {}
        """Where it stood before some instants, for whoever asks again."""

    @property
    def period_s(self) -> float:
        """The meter's usual time between conversions, as far as it is known by now; 1 until then."""
        segment, now_ns = self.segment, self._desk.now_ns
        silence, repeats = segment.silence, segment.repeats
        if not 0 < silence.known_ns <= now_ns:
            return 1.0
        return silence.period_s * repeats.times if 0 < repeats.known_ns <= now_ns else silence.period_s

    @property
    def sent(self) -> float:
        """How often the meter sends each of its conversions, as far as the data have told it by now."""
        repeats = self.segment.repeats
        return repeats.times if 0 < repeats.known_ns <= self._desk.now_ns else 1.0

    def taken_ns(self, at_ns: int) -> int:
        """When what a reading says was first sent."""
        if self.sent == 1.0:
            return at_ns
        t, x = self.segment.history.between(at_ns - int(1.2e9 * self.period_s), at_ns)
        other = np.flatnonzero(x != x[-1]) if len(x) else t
        return int(t[other[-1] + 1]) if len(other) else at_ns

    @property
    def step(self) -> float:
        """One count of the newest reading's last digit; 0 where unknown."""
        return self.segment.history.step_at(self._desk.now_ns)

    @property
    def unit(self) -> Unit:
        charted, segment = self.point.unit, self.segment
        if charted is not Unit.UNKNOWN or segment.unit_since_ns > self._desk.now_ns:
            return charted
        return segment.unit

    @property
    def is_mains(self) -> bool:
        return self.named_mains and self.unit is Unit.VAC

    @property
    def is_heater(self) -> bool:
        """An AC point that is not the mains: fed by the transformer alone."""
        return self.unit is Unit.VAC and not self.is_mains and self.point.fed_from is None

    @property
    def shows_mains(self) -> bool:
        """Its voltage is the mains', or the mains' through a transformer alone."""
        return self.is_mains or self.is_heater

    @property
    def _usual(self) -> float:
        """What it should read, or without a chart what it read last; 0 where neither is known."""
        return self.point.nominal or (self.grains[-1].level if self.grains else 0.0)

    @property
    def is_small(self) -> bool:
        """A few volts DC: a cathode or a grid, no supply. Common practice, no source."""
        return self.unit is Unit.V and abs(self._usual) < SMALL_V

    @property
    def is_slight(self) -> bool:
        """Less than a volt DC: mostly the small difference of large voltages, as a grid's or a tail's, which
        goes with them in no proportion. Common practice, no source."""
        return self.unit is Unit.V and abs(self._usual) < SLIGHT_V

    @property
    def may_be_battery(self) -> bool:
        """A few positive volts DC that nothing feeds: they stand whether the set is on or off, or are a
        cathode's."""
        return self.unit is Unit.V and 0.0 < self._usual <= BATTERY_V and self.point.fed_from is None

    @property
    def is_supplied(self) -> bool:
        """A point in volts that goes with the mains, and not with the programme."""
        return self.unit is Unit.V and self.point.follows_mains and not self.point.moves

    def newest(self, now_ns: int) -> tuple[int, float] | None:
        return self.segment.history.at(now_ns)

    def reads_nothing(self, now_ns: int) -> bool:
        """Whether it reads next to nothing; False where it has not read."""
        newest = self.newest(now_ns)
        return newest is not None and abs(newest[1]) <= self.segment.course.cold

    def shown(self, now_ns: int) -> tuple[int, float] | None:
        """The newest unflagged reading, those at a change of range included."""
        return self.segment.raw.at(now_ns)

    def line_before(self, t_ns: int, now_ns: int) -> Line | None:
        return self.segment.course.line_before(t_ns, now_ns)

    def fresh(self, now_ns: int) -> bool:
        """Whether a usable reading came lately and it is a reading of this point."""
        newest = self.segment.history.at(now_ns)
        if newest is None or (self.trouble and self.trouble & NOT_READING):
            return False
        age_ns = now_ns - newest[0]
        return age_ns <= 2e9 or age_ns <= 6.0 * self.period_s * 1e9

    def level(self, now_ns: int, count: int = 3) -> float | None:
        """The median of the last few readings up to an instant; between two readings it is the same."""
        asked = self.segment.history.place(now_ns), count
        if asked != self._level[0]:
            values = sorted(self.segment.history.values(now_ns, count))
            self._level = asked, values[len(values) // 2] if values else None
        return self._level[1]
