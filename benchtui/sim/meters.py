"""Meters at work: from what a point did to what a display showed, conversion by conversion."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Bools, Flag, Floats, Ints
from benchtui.model.units import Unit

from .mains import STEPS_PER_S
from .metermodel import MeterModel, While
from .receiver import COLUMNS

_CHUNK = 256
"""Conversions whose random numbers are drawn together, so that they never depend on who asks when."""
_RIPPLE_SHARE = {"B+1": 1.0, "B+2": 0.05}
"""How much of the reservoir's ripple stands on a point; behind the dropper and C32 it is a twentieth."""
_RIPPLE_HZ = 100.3
"""The mains is never quite where the meter's rejection is."""


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """Readings of one meter, in columns."""

    t_ns: Ints
    value: Floats
    """NaN where flagged as overload."""
    decimals: Ints
    """Places after the decimal point; negative where the last digit counts tens."""
    flags: NDArray[np.uint8]
    unit: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.t_ns)

    def where(self, rows: Bools) -> Taken:
        """The rows that a mask names."""
        return Taken(
            self.t_ns[rows], self.value[rows], self.decimals[rows], self.flags[rows], self.unit[rows]
        )


class Meter:
    """A meter at work: `take` gives the readings that have become due, however the time is cut."""

    def __init__(self, model: MeterModel, seed: int) -> None:
        self.model = model
        self.function = model.unit
        """What it is set to measure: a question over the wire can change that."""
        self._key = [seed, zlib.crc32(model.name.encode())]
        self._phase = float(np.random.default_rng(self._key).random()) / model.rate
        self._next = 0
        self._range = len(model.ranges) - 1
        self._busy_until = self._before = -1.0
        self._half: float | None = None
        self._shown: tuple[float, int] | None = None
        self._frozen: tuple[float, int] | None = None
        self._chunk = -1
        self._draws: Floats = np.empty((3, 0))

    def take(self, trace: Floats, first_step: int, upto_step: int) -> Taken:
        """All readings not yet taken whose time lies before the end of step `upto_step` - 1.

        Args:
            trace: rows of the set's steps from `first_step` on, of receiver.COLUMNS; must reach back by the
                meter's averaging window before the last call.
            first_step: the step of the first row.
            upto_step: how many steps have been made.
        """
        model, end_s = self.model, upto_step / STEPS_PER_S
        last = max(self._next, math.ceil((end_s - self._phase) * model.rate))
        ks = np.arange(self._next, last)
        normal, late, phase = self._draw(ks)
        times = self._phase + ks / model.rate + late * model.jitter_s
        many = len(times) if len(times) == 0 or times[-1] < end_s else int(np.argmax(times >= end_s))
        self._next += many
        times, normal, phase = times[:many], normal[:many], phase[:many]
        sheet = _Sheet.blank(times, int(model.unit))
        if many == 0:
            return sheet.taken()
        mean = self._averaged(trace, first_step, times)
        if model.unit is Unit.STATE:
            sheet.value[:] = mean > 0.5
            sheet.keep &= ~_within(times, model.sleeps)
            return sheet.taken()
        seen = self._at_the_input(mean, self._ripple(trace, first_step, times), normal, phase, sheet)
        at = 0
        while at < many:
            at = self._one_range(at, seen, normal, sheet)
        self._moods(sheet)
        return sheet.taken()

    @property
    def due_s(self) -> float:
        """No reading will come before this time."""
        return self._phase + self._next / self.model.rate

    def _draw(self, ks: Ints) -> tuple[Floats, Floats, Floats]:
        """Random numbers that belong to each conversion: normal, and two even between 0 and 1."""
        parts = [np.empty((3, 0))]
        for chunk in range(int(ks[0]) // _CHUNK, int(ks[-1]) // _CHUNK + 1) if len(ks) else ():
            if chunk != self._chunk:
                rng = np.random.default_rng([*self._key, chunk])
                self._draws = np.stack([rng.standard_normal(_CHUNK), rng.random(_CHUNK), rng.random(_CHUNK)])
                self._chunk = chunk
            inside = ks[ks // _CHUNK == chunk] - chunk * _CHUNK
            parts.append(self._draws[:, inside])
        drawn = np.concatenate(parts, axis=1)
        return drawn[0], drawn[1], drawn[2]

    def _averaged(self, trace: Floats, first_step: int, times: Floats) -> Floats:
        """The mean of the point over each reading's window, which ends at the reading's time."""
        window = max(self.model.averages_s, 1.0 / STEPS_PER_S)
        ends = times * STEPS_PER_S
        starts = np.maximum(ends - window * STEPS_PER_S, 0.0)
        low = max(0, math.floor(starts[0]) - first_step)
        column = trace[low:, COLUMNS.index(self.model.point)]
        places = np.arange(len(column) + 1) + first_step + low
        summed = np.concatenate([[0.0], np.cumsum(column)])
        area = np.interp(ends, places, summed) - np.interp(starts, places, summed)
        mean: Floats = area / np.maximum(ends - starts, 1e-9)
        return mean

    def _ripple(self, trace: Floats, first_step: int, times: Floats) -> Floats:
        """Vac rms on the point at each reading."""
        rows = np.clip((times * STEPS_PER_S).astype(np.int64) - first_step, 0, len(trace) - 1)
        ripple: Floats = trace[rows, COLUMNS.index("ripple")] * _RIPPLE_SHARE.get(self.model.point, 0.0)
        return ripple

    def _at_the_input(
        self, mean: Floats, ripple: Floats, normal: Floats, phase: Floats, sheet: _Sheet
    ) -> Floats:
        """What the display would show with digits without end."""
        model, times = self.model, sheet.times
        left = abs(float(np.sinc(_RIPPLE_HZ * model.averages_s)))
        seen = mean + math.sqrt(2.0) * ripple * left * np.sin(2 * math.pi * phase)
        wrong = _within(times, model.wrong) | (self.function is not model.unit)
        if wrong.any():
            dc = model.unit is Unit.V
            seen = np.where(wrong, ripple if dc else 1e-3 * normal, seen)
            if model.says_unit:
                sheet.unit[wrong] = int(Unit.VAC if dc else Unit.V)
        seen = np.where(_within(times, model.lead_off), 2e-3 * np.abs(normal), seen * (1 + model.gain))
        if model.unit is Unit.V:
            seen = np.where(_within(times, model.reversed), -seen, seen)
        return seen

    def _one_range(self, start: int, seen: Floats, normal: Floats, sheet: _Sheet) -> int:
        """Readings from `start` on until the range changes; gives where to go on."""
        model, times = self.model, sheet.times
        scale = model.ranges[self._range]
        at = start + int(np.searchsorted(times[start:], self._busy_until))
        sheet.keep[start:at] = False
        if at >= len(times):
            return at
        if self._half is not None:
            seen[at], self._half = self._half, None
        below = 0.92 * model.ranges[self._range - 1] if self._range else 0.0
        size = np.abs(seen[at:])
        leaves = np.flatnonzero((size > scale) | (size < below))
        end = at + int(leaves[0]) if len(leaves) else len(times)
        places = model.decimals(scale)
        shown = seen[at:end] + normal[at:end] * model.noise * 10.0**-places
        rectified = sheet.unit[at:end] == int(Unit.VAC)
        sheet.show(slice(at, end), np.where(rectified, np.abs(shown), shown), places)
        if end == len(times):
            return end
        if abs(seen[end]) > scale:
            sheet.flags[end], sheet.decimals[end] = int(Flag.OVERLOAD), places
            if self._range == len(model.ranges) - 1:
                return end + 1
            sheet.keep[end] = model.range_manner == "overload"
            if model.range_manner == "half":
                self._half = 0.5 * (scale + float(abs(seen[end]))) * math.copysign(1.0, seen[end])
            self._range += 1
        else:
            sheet.keep[end] = False
            self._range -= 1
        self._busy_until = float(times[end]) + model.range_s
        return end + 1

    def _moods(self, sheet: _Sheet) -> None:
        """A held display, a slipped point, sleep."""
        model, times = self.model, sheet.times
        for start, end in model.held:
            for row in np.flatnonzero((times >= start) & (times < end)).tolist():
                if self._frozen is None:
                    before = (
                        (float(sheet.value[row - 1]), int(sheet.decimals[row - 1])) if row else self._shown
                    )
                    self._frozen = before or (float(sheet.value[row]), int(sheet.decimals[row]))
                sheet.value[row], sheet.decimals[row] = self._frozen
            if times[-1] >= end:
                self._frozen = None
        for slip in model.slips:
            row = int(np.searchsorted(times, slip))
            if row < len(times) and self._before < slip:
                sheet.value[row] *= 10.0
                sheet.decimals[row] = max(0, int(sheet.decimals[row]) - 1)
        sheet.keep &= ~_within(times, model.sleeps)
        self._shown = (float(sheet.value[-1]), int(sheet.decimals[-1]))
        self._before = float(times[-1])


@dataclass(slots=True, eq=False)
class _Sheet:
    """Readings being worked out."""

    times: Floats
    value: Floats
    decimals: Ints
    flags: NDArray[np.uint8]
    unit: NDArray[np.uint8]
    keep: Bools

    @staticmethod
    def blank(times: Floats, unit: int) -> _Sheet:
        n = len(times)
        flags, units = np.zeros(n, np.uint8), np.full(n, unit, np.uint8)
        return _Sheet(times, np.full(n, np.nan), np.zeros(n, np.int64), flags, units, np.ones(n, np.bool_))

    def show(self, rows: slice, value: Floats, places: int) -> None:
        """Puts values on the display; the float is the one that the display's text reads as."""
        shown = np.rint(value * 10.0**places if places >= 0 else value / 10.0**-places)
        self.value[rows] = shown / 10.0**places if places >= 0 else shown * 10.0**-places
        self.decimals[rows] = places

    def taken(self) -> Taken:
        t_ns = np.rint(self.times * 1e9).astype(np.int64)
        return Taken(t_ns, self.value, self.decimals, self.flags, self.unit).where(self.keep)


def _within(times: Floats, whiles: tuple[While, ...]) -> Bools:
    inside = np.zeros(len(times), dtype=np.bool_)
    for start, end in whiles:
        inside |= (times >= start) & (times < end)
    return inside
