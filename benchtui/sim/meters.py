"""Meters as they are: digits, ranges, an averaging window, noise, an input that loads the point, and moods."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Accuracy, Flag, Floats
from benchtui.model.units import Unit

from .mains import STEPS_PER_S
from .receiver import COLUMNS, POINTS

_CHUNK = 256
Spell = tuple[float, float]
"""From and to, in seconds."""


@dataclass(frozen=True, slots=True)
class MeterModel:
    """What a meter is, and what befalls it. Volts, ohms, seconds."""

    name: str
    point: str
    unit: Unit = Unit.V
    rate: float = 2.0
    """Readings a second."""
    counts: int = 6000
    """The display goes to this many counts in each range."""
    ranges: tuple[float, ...] = (6.0, 60.0, 600.0)
    """Full scales; one alone is a fixed range."""
    window_s: float | None = None
    """Averaging window; None: the whole time from one reading to the next."""
    input_ohms: float = 10e6
    accuracy: Accuracy = field(default_factory=lambda: Accuracy(0.005, 2))
    gain: float = 0.0
    """Its own error, as a part of the reading; inside the stated accuracy."""
    noise: float = 0.4
    """Standard deviation in counts of the last digit."""
    jitter_s: float = 0.0
    """Irregularity of the reading rate: each reading is late by up to this."""
    range_manner: str = "overload"
    """What a range change upwards shows: overload, half (a half-settled reading) or skip."""
    range_s: float = 0.6
    """How long a range change takes; no readings in that time."""
    sleeps: tuple[Spell, ...] = ()
    """Times in which it sends nothing."""
    held: tuple[Spell, ...] = ()
    """Times in which it repeats one reading, and does not say so."""
    lead_off: tuple[Spell, ...] = ()
    """Times in which its lead has fallen off."""
    reversed: tuple[Spell, ...] = ()
    """Times in which its leads are the wrong way round."""
    wrong: tuple[Spell, ...] = ()
    """Times in which it stands on AC for DC, or on DC for AC."""
    slips: tuple[float, ...] = ()
    """Moments at which one reading comes with its decimal point a place too far right."""


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """Readings of one meter, in columns."""

    t_ns: NDArray[np.int64]
    value: Floats
    """NaN where flagged as overload."""
    decimals: NDArray[np.int64]
    """Places after the decimal point."""
    flags: NDArray[np.uint8]
    unit: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.t_ns)


def input_siemens(model: MeterModel) -> float:
    """What the meter puts on its point."""
    return 0.0 if model.unit is Unit.STATE or model.point in ("mains", "heater") else 1.0 / model.input_ohms


class Meter:
    """A meter at work: `take` gives the readings that have become due, whatever the cut."""

    def __init__(self, model: MeterModel, seed: int) -> None:
        self.model = model
        self._key = [seed, zlib.crc32(model.name.encode())]
        first = np.random.default_rng(self._key)
        self._phase = float(first.random()) / model.rate
        self._k = 0
        self._range = len(model.ranges) - 1
        self._busy_until = -1.0
        self._half: float | None = None
        self._last: tuple[float, int] | None = None
        self._frozen: tuple[float, int] | None = None
        self._chunk = -1
        self._draws: NDArray[np.float64] = np.empty((3, 0))

    def take(self, trace: NDArray[np.float64], first_step: int, upto_step: int) -> Taken:
        """All readings whose time is before the end of step `upto_step`.

        Args:
            trace: rows of the set's steps from `first_step` on; must reach a second further back than the last call.
            first_step: the step of the first row.
            upto_step: one after the last step that has been made.
        """
        model = self.model
        end_s = upto_step / STEPS_PER_S
        last = math.ceil((end_s - self._phase) * model.rate)
        ks = np.arange(self._k, max(self._k, last))
        normal, late, phase = self._draw(ks)
        times = self._phase + ks / model.rate + late * model.jitter_s
        due = times < end_s
        if not due.all():
            ks, normal, phase, times = ks[due], normal[due], phase[due], times[due]
        if not len(ks):
            return _nothing()
        self._k = int(ks[-1]) + 1
        analog, ripple = self._windowed(trace, first_step, times)
        return self._shown(times, analog, ripple, normal, phase)

    def _draw(self, ks: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
        """Random numbers that belong to each conversion, drawn a chunk at a time."""
        parts = []
        for chunk in range(int(ks[0]) // _CHUNK, int(ks[-1]) // _CHUNK + 1) if len(ks) else ():
            if chunk != self._chunk:
                rng = np.random.default_rng([*self._key, chunk])
                self._draws = np.stack([rng.standard_normal(_CHUNK), rng.random(_CHUNK), rng.random(_CHUNK)])
                self._chunk = chunk
            inside = ks[(ks >= chunk * _CHUNK) & (ks < (chunk + 1) * _CHUNK)] - chunk * _CHUNK
            parts.append(self._draws[:, inside])
        if not parts:
            none: Floats = np.empty(0)
            return none, none, none
        drawn = np.concatenate(parts, axis=1)
        return drawn[0], drawn[1], drawn[2]

    def _windowed(self, trace: NDArray[np.float64], first_step: int, times: Floats) -> tuple[Floats, Floats]:
        """The mean of the point over each reading's window; and the ripple there, Vac rms."""
        model = self.model
        column = trace[:, COLUMNS.index(model.point)]
        window = model.window_s if model.window_s is not None else 1.0 / model.rate
        window = max(window, 1.0 / STEPS_PER_S)
        summed = np.concatenate([[0.0], np.cumsum(column)])
        places = np.arange(len(summed)) + first_step
        ends = times * STEPS_PER_S
        starts = np.maximum(ends - window * STEPS_PER_S, first_step)
        mean = (np.interp(ends, places, summed) - np.interp(starts, places, summed)) / np.maximum(
            ends - starts, 1e-9
        )
        rows = np.clip(times * STEPS_PER_S - first_step, 0, len(column) - 1).astype(np.int64)
        share = {"B+1": 1.0, "B+2": 0.05}.get(model.point, 0.0)
        ripple = trace[rows, COLUMNS.index("ripple")] * share
        if model.unit is Unit.STATE:
            mean = np.where(mean > 0.5, 1.0, 0.0)
        return mean, ripple

    def _shown(self, times: Floats, analog: Floats, ripple: Floats, normal: Floats, phase: Floats) -> Taken:
        model = self.model
        units = np.full(len(times), int(model.unit), dtype=np.uint8)
        if model.unit is Unit.STATE:
            awake = ~_within(times, model.sleeps)
            zero = np.zeros(len(times), dtype=np.int64)
            return _pick(Taken(_ns(times), analog, zero, zero.astype(np.uint8), units), awake)
        window = model.window_s if model.window_s is not None else 1.0 / model.rate
        # What is left of the ripple after averaging over a window: at 100 Hz, sampled where it happens to fall.
        left = abs(float(np.sinc(100.0 * 1.003 * window)))
        seen = (analog + 1.414 * ripple * left * np.sin(2 * math.pi * phase)) * (1 + model.gain)
        off = _within(times, model.lead_off)
        seen = np.where(off, 2e-3 * normal, seen)
        seen = np.where(_within(times, model.reversed), -seen, seen)
        wrong = _within(times, model.wrong)
        if wrong.any():
            is_dc = model.unit is Unit.V
            seen = np.where(wrong, ripple if is_dc else 1e-3 * normal, seen)
            units[wrong] = int(Unit.VAC if is_dc else Unit.V)
        return self._ranged(times, seen, normal, units)

    def _ranged(self, times: Floats, seen: Floats, normal: Floats, units: NDArray[np.uint8]) -> Taken:
        """Ranges, the display, sleep and a held display, in the order in which they happen."""
        model = self.model
        n = len(times)
        value = np.full(n, np.nan)
        decimals = np.zeros(n, dtype=np.int64)
        flags = np.zeros(n, dtype=np.uint8)
        keep = ~_within(times, model.sleeps)
        i = 0
        while i < n:
            i = self._stretch(i, times, seen, normal, value, decimals, flags, keep)
        self._hold(times, value, decimals)
        for slip in model.slips:
            at = int(np.searchsorted(times, slip))
            if at < n and times[0] <= slip:
                value[at], decimals[at] = value[at] * 10, max(0, decimals[at] - 1)
        if n and keep.any():
            at = int(np.nonzero(keep)[0][-1])
            self._last = (float(value[at]), int(decimals[at]))
        return _pick(Taken(_ns(times), value, decimals, flags, units), keep)

    def _stretch(
        self, i: int, times: Floats, seen: Floats, normal: Floats, value: Floats,
        decimals: NDArray[np.int64], flags: NDArray[np.uint8], keep: NDArray[np.bool_],
    ) -> int:  # fmt: skip
        """Readings from i on in one range; gives where the next stretch begins."""
        model = self.model
        scale = model.ranges[self._range]
        j = i + int(np.searchsorted(times[i:], self._busy_until)) if self._busy_until > times[i] else i
        keep[i:j] = False
        if j >= len(times):
            return j
        if self._half is not None:
            seen[j], self._half = self._half, None
        top, bottom = self._range == len(model.ranges) - 1, self._range == 0
        over = np.abs(seen[j:]) > scale
        under = np.abs(seen[j:]) < (0.0 if bottom else 0.92 * model.ranges[self._range - 1])
        leaves = np.nonzero(over | under)[0]
        end = j + int(leaves[0]) if len(leaves) else len(times)
        places = _decimals(scale, model.counts)
        count = 10.0**-places
        shown = np.rint((seen[j:end] + normal[j:end] * model.noise * count) / count)
        value[j:end] = shown / 10.0**places if places >= 0 else shown * 10.0**-places
        decimals[j:end] = places
        if end == len(times):
            return end
        if over[end - j]:
            flags[end], decimals[end] = int(Flag.OVERLOAD), places
            if top:
                return end + 1
            keep[end] = keep[end] and model.range_manner == "overload"
            self._half = scale + 0.5 * (float(seen[end]) - scale) if model.range_manner == "half" else None
            self._range += 1
        else:
            keep[end] = False
            self._range -= 1
        self._busy_until = float(times[end]) + model.range_s
        return end + 1

    def _hold(self, times: Floats, value: Floats, decimals: NDArray[np.int64]) -> None:
        for start, end in self.model.held:
            inside = np.nonzero((times >= start) & (times < end))[0]
            if not len(inside):
                continue
            first = int(inside[0])
            if self._frozen is None or (first > 0 and times[first - 1] < start):
                before = self._last if first == 0 else (float(value[first - 1]), int(decimals[first - 1]))
                self._frozen = before if before is not None else (float(value[first]), int(decimals[first]))
            value[inside], decimals[inside] = self._frozen
            if times[-1] >= end:
                self._frozen = None


def _decimals(scale: float, counts: int) -> int:
    """Places after the point that a display of so many counts has in this range."""
    return math.floor(math.log10(counts / scale) + 1e-9)


def _within(times: Floats, spells: tuple[Spell, ...]) -> NDArray[np.bool_]:
    inside = np.zeros(len(times), dtype=np.bool_)
    for start, end in spells:
        inside |= (times >= start) & (times < end)
    return inside


def _ns(times: Floats) -> NDArray[np.int64]:
    return np.rint(times * 1e9).astype(np.int64)


def _pick(taken: Taken, rows: NDArray[np.bool_]) -> Taken:
    return Taken(
        taken.t_ns[rows], taken.value[rows], taken.decimals[rows], taken.flags[rows], taken.unit[rows]
    )


def _nothing() -> Taken:
    none = np.empty(0, dtype=np.int64)
    return Taken(none, none.astype(np.float64), none, none.astype(np.uint8), none.astype(np.uint8))


def bench_of(
    rate: float = 2.0, counts: int = 6000, points: tuple[str, ...] = POINTS
) -> tuple[MeterModel, ...]:
    """One meter on each point, all alike but for their ranges."""
    made = []
    for point in points:
        if point == "pilot":
            made.append(MeterModel("pilot", point, Unit.STATE, rate=max(rate, 2.0), window_s=0.1))
        elif point in ("mains", "heater"):
            made.append(MeterModel(point, point, Unit.VAC, rate=rate, counts=counts, ranges=_ranges(counts)))
        else:
            made.append(MeterModel(point, point, Unit.V, rate=rate, counts=counts, ranges=_ranges(counts)))
    return tuple(made)


def _ranges(counts: int) -> tuple[float, ...]:
    """Full scales of an autoranging meter of so many counts: 6, 60, 600 V for 6000."""
    lead = counts / 10 ** math.floor(math.log10(counts))
    scales = [lead * 10.0**k for k in range(0, 3)]
    return tuple([*scales, 1000.0] if scales[-1] < 500 else scales)
