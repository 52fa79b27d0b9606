"""One segment: one channel's readings while its lead is on one point, and the eyes that look at it."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from benchtui.chart.chart import Point
from benchtui.model.readings import NO_VALUE, Bools, Channel, Flag, Ints, Readings
from benchtui.model.units import Unit
from benchtui.watch.signals import Signal

from .course import LEAST_MOVE, NEAR_PART, Course
from .divisions import Divisions
from .grains import CAUTION, caution
from .history import History
from .lamp import Lamp
from .manners import Frozen, Repeated, Silence
from .rating import Rating
from .repeats import Repeats
from .turned import Turned

CHUNK = 4096
GREATEST, GREATEST_V = 1e12, 1e5
"""No reading on a bench is beyond the first in any unit, nor beyond the second in volts; what is, is none."""
OVERLOAD_S = 3.0
"""A meter that looks for its range shows overload for less."""
SURELY_FELL = 0.7
"""Below this part of its level a point whose meter changed the range did not just stand at its edge."""
STALE_S = 20.0
"""After so long without a usable reading nothing is known of the course between."""
TUBE_JUMPS = 0.02
"""A gas regulator tube jumps by one or two volts while it runs: part of its level that is no news. Memory of
tube tables for 150 V tubes."""
COLD_PART = 0.03
"""Part of the nominal value at or below which a point counts as cold. Common practice, no source."""


class Segment:
    """The eyes on one channel while its lead stays on one point."""

    def __init__(self, channel: Channel, point: Point, since_ns: int, false_alarms_per_h: float) -> None:
        self.channel = channel
        self.point = point
        self.since_ns = since_ns
        self.unit = point.unit
        self.unit_since_ns = since_ns
        """When a reading told the unit, where the chart does not."""
        self.history = History()
        self.volts = History()
        """Every voltage that came, flagged or in another setting: what can hurt."""
        self.over_ns = -1
        """The newest voltage beyond the meter's range."""
        self.clear = History()
        """Unflagged readings of the point's own quantity: what alone can say that it no longer does."""
        self.raw = History()
        """Every unflagged reading of the right unit: what the hazard is judged by."""
        self.silence = Silence(since_ns)
        self.repeats = Repeats()
        self._divisions = Divisions()
        self.lamp = Lamp()
        bold = caution(false_alarms_per_h) / CAUTION
        least = TUBE_JUMPS if point.glow is not None else bold * LEAST_MOVE
        self.course = Course(self.history, self.cold_level(), false_alarms_per_h, least)
        limit = point.limit if point.limit is not None else point.surge
        surge = max(point.surge or 0.0, limit or 0.0)
        self.rating = Rating(limit, surge) if limit is not None else None
        self.wrong_unit = Repeated("function", 2)
        self.overload = Repeated("overload", 3, OVERLOAD_S)
        self.hold = Repeated("frozen", 8)
        self.turned = Turned(point.nominal) if point.nominal else None
        self.frozen = Frozen(self.repeats_at)
        self._step = 0.0
        self._lower = False
        """The newest reading came on a lower range than the one before."""
        self._fell: Readings | None = None
        """The newest reading, left out because its meter has just gone to a lower range."""
        self._named_other = False

    @property
    def charted(self) -> float:
        """The greatest magnitude that the chart gives for the point; 0 without one."""
        p = self.point
        return max(abs(v) for v in (p.nominal, p.low, p.high, 0.0) if v is not None)

    def cold_level(self) -> float:
        """The magnitude at or below which the point counts as cold."""
        p, size = self.point, self.charted
        if p.name.lower() == "mains" and p.unit is Unit.VAC:
            return 0.04 * size if size else 8.0
        return COLD_PART * size if size else 1.0

    def take(self, rows: Readings, upto_ns: int) -> list[Signal]:
        """All readings of this channel up to an instant; gives what the eyes say, in order of time."""
        out: list[Signal] = []
        self.course.forget_old()
        a = 0
        while a < len(rows):
            b = self._chunk_end(rows, a)
            self._take(rows if b - a == len(rows) else rows.take(slice(a, b)), out)
            a = b
        if not self.channel.eye:
            out.extend(self.silence.nothing_until(upto_ns))
        return out

    def _chunk_end(self, rows: Readings, a: int) -> int:
        """Where a chunk ends: not between equal times, and where the unit becomes known."""
        b = min(a + CHUNK, len(rows))
        if b < len(rows):
            b = int(np.searchsorted(rows.t_ns, rows.t_ns[b - 1], side="right"))
        if self.unit is Unit.UNKNOWN:
            known = np.flatnonzero(rows.unit[a:b] != int(Unit.UNKNOWN))
            if len(known) and known[0]:
                return a + int(known[0])
        return b

    def _take(self, rows: Readings, out: list[Signal]) -> None:
        t = rows.t_ns
        if self.unit is Unit.UNKNOWN:
            self.unit = Unit(int(rows.unit[0]))
            self.unit_since_ns = int(t[0])
        if not self.channel.eye:
            out.extend(self.silence.take(t))
        usable, over_ns = self._all(rows, out) if self._are_plain(rows) else self._sifted(rows, out)
        if len(usable) and not (usable.resolution.min() >= 0 and usable.resolution.max() <= GREATEST):
            usable = replace(usable, resolution=np.nan_to_num(usable.resolution.clip(0.0, GREATEST)))
        if len(usable):
            self.raw.add(usable.t_ns, usable.value, usable.resolution)
        if self.unit is Unit.STATE and len(usable):
            self.history.add(usable.t_ns, usable.value, usable.resolution)
            out.extend(self.lamp.take(usable.t_ns, usable.value))
        elif self.unit is not Unit.STATE:
            self._between_overloads(usable, over_ns, out)

    @property
    def _greatest(self) -> float:
        return GREATEST_V if self.unit.is_voltage else GREATEST

    def _are_plain(self, rows: Readings) -> bool:
        """Whether all readings are usable and name the point's own unit: the usual case."""
        if self.unit is Unit.UNKNOWN or np.count_nonzero(rows.flags):
            return False
        plain = (rows.unit == int(self.unit)) & (np.abs(rows.value) <= self._greatest)
        return bool(np.count_nonzero(plain) == len(rows))

    def _all(self, rows: Readings, out: list[Signal]) -> tuple[Readings, Ints]:
        """The same as `_sifted`, for plain readings."""
        self._named_other = False
        none = np.zeros(len(rows), dtype=bool)
        for trouble in (self.wrong_unit, self.overload, self.hold):
            out.extend(trouble.take(rows.t_ns, none))
        if self.unit.is_voltage:
            self.volts.add(rows.t_ns, rows.value, rows.resolution)
            self.clear.add(rows.t_ns, rows.value, rows.resolution)
        return rows, rows.t_ns[:0]

    def _sifted(self, rows: Readings, out: list[Signal]) -> tuple[Readings, Ints]:
        """The usable readings, and when the others were beyond the meter's range."""
        t, wrong = rows.t_ns, self._wrong_unit(rows)
        over = (rows.flags & int(Flag.OVERLOAD)) != 0
        held = (rows.flags & int(Flag.HOLD)) != 0
        absurd = ~(np.abs(rows.value) <= self._greatest)
        valued = (rows.flags & int(NO_VALUE)) == 0
        out.extend(self.wrong_unit.take(t, wrong | (absurd & valued & np.isfinite(rows.value))))
        out.extend(self.overload.take(t, over & ~wrong))
        out.extend(self.hold.take(t, held & ~wrong))
        self._hazards(rows, wrong)
        bad = wrong | held | ~valued | absurd
        return rows.take(~bad), t[over & ~wrong]

    def _between_overloads(self, rows: Readings, over_ns: Ints, out: list[Signal]) -> None:
        """A meter that went to a lower range and must leave it at once has seen the point low in between."""
        a = 0
        for at, b in zip(over_ns.tolist(), rows.t_ns.searchsorted(over_ns, "right").tolist(), strict=True):
            if b > a:
                self._values(rows.take(slice(a, b)), out)
                a = b
            fell, line = self._fell, self.course.line
            self._fell = None
            if fell is None or line is None or at <= int(fell.t_ns[0]):
                continue
            if abs(float(fell.value[0])) < SURELY_FELL * abs(line.level):
                self._follow(replace(fell, t_ns=np.array([at], dtype=np.int64)), out)
        if a < len(rows):
            self._values(rows.take(slice(a, None)) if a else rows, out)

    def _hazards(self, rows: Readings, wrong: Bools) -> None:
        """Keeps what the hazard is judged by, apart from all other judging."""
        value = ((rows.flags & int(NO_VALUE)) == 0) & np.isfinite(rows.value)
        named = (rows.unit == int(Unit.V)) | (rows.unit == int(Unit.VAC))
        bare = (rows.unit == int(Unit.UNKNOWN)) & (self.unit.is_voltage or self.unit is Unit.UNKNOWN)
        live = rows.take(value & (named | bare))
        self.volts.add(live.t_ns, live.value, live.resolution)
        over = ((rows.flags & int(Flag.OVERLOAD)) != 0) & (named | bare)
        if over.any():
            self.over_ns = int(rows.t_ns[over][-1])
        own = (rows.unit == int(self.unit)) & ~wrong & (named | bare)
        clear = rows.take(value & own & (rows.flags == 0))
        self.clear.add(clear.t_ns, clear.value, clear.resolution)

    def _wrong_unit(self, rows: Readings) -> Bools:
        """Readings of another quantity. One that names no unit is taken for what its meter named last."""
        named = rows.unit != int(Unit.UNKNOWN)
        other = rows.unit != int(self.unit)
        newest = np.maximum.accumulate(np.where(named, np.arange(len(rows)), -1))
        wrong: Bools = np.where(newest >= 0, other[np.maximum(newest, 0)], self._named_other)
        self._named_other = bool(wrong[-1])
        return wrong

    def _values(self, rows: Readings, out: list[Signal]) -> None:
        if self.rating is not None:
            out.extend(self.rating.take(rows.t_ns, rows.value))
        if self.turned is not None and self.unit in (Unit.V, Unit.A, Unit.VAC):
            out.extend(self.turned.take(rows.t_ns, rows.value))
        rows = self._settled_ranges(rows)
        if not len(rows):
            return
        stale = self._after_long(rows.t_ns)
        if not stale:
            self._follow(rows, out)
            return
        for a, b in pairwise([0, *stale, len(rows)]):
            if b > a:
                if a in stale:
                    out.extend(self.course.after_gap(int(rows.t_ns[a])))
                self._follow(rows.take(slice(a, b)), out)

    def _after_long(self, t: Ints) -> list[int]:
        """Which readings come so long after the one before that nothing is known of the course between."""
        before, long = self.history.newest_ns, int(STALE_S * 1e9)
        late = [0] if before is not None and int(t[0]) - before > long else []
        if len(t) > 1:
            late.extend(((t[1:] - t[:-1] > long).nonzero()[0] + 1).tolist())
        return late

    def _follow(self, rows: Readings, out: list[Signal]) -> None:
        step = self._divisions.coarser(rows.value, rows.resolution)
        self.history.add(rows.t_ns, rows.value, step)
        self.repeats.take(rows.t_ns, rows.value)
        out.extend(self.course.take(len(rows)))
        cold = np.abs(rows.value) <= self.course.cold
        out.extend(self.frozen.take(rows.t_ns, np.where(cold, np.nan, rows.value)))

    def repeats_at(self, t_ns: int, value: float) -> float:
        """The part of readings that repeat the one before, as known near this value; 1 where it is not.

        At least the part that lies within one count where the level is at the middle of one: noise that is
        small against the last digit shows or not as the level drifts from one count to the next.
        """
        line, step = self.course.line_before(t_ns, t_ns), self.history.step_at(t_ns)
        if line is None or step > 1.5 * line.step or abs(value - line.level) > NEAR_PART * abs(line.level):
            return 1.0
        return max(line.same, math.erf(step / (8.0**0.5 * line.noise)) if line.noise else 1.0)

    def _settled_ranges(self, rows: Readings) -> Readings:
        """Leaves out the first reading after a change of range: it may be half settled.

        A meter that goes down a second time at once has seen with the first reading that the point is low.
        """
        step = rows.resolution
        if not np.count_nonzero(step != self._step):
            self._lower, self._fell = False, None
            return rows
        before = np.concatenate(([self._step], step[:-1]))
        changed = (step != before) & (before > 0)
        self._step, self._fell = float(step[-1]), None
        if not changed.any():
            self._lower = False
            return rows
        lower = changed & (step < before)
        again = lower & np.concatenate(([self._lower], lower[:-1]))
        self._lower = bool(lower[-1])
        if lower[-1] and not again[-1]:
            self._fell = rows.take(slice(len(rows) - 1, None))
        return rows.take(~changed | again)
