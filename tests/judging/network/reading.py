"""What the meters make of the solved network: readings as rows, and what they would say without noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .meters import Meter
from .plan import Plan, Trouble

Array = NDArray[np.float64]
Row = tuple[float, str, str, str, str, str, str]
"""t_s, point, value, unit, flag, channel, resolution."""


@dataclass(slots=True)
class Taken:
    """All readings of one meter."""

    meter: Meter
    t: Array
    shown: Array
    """As displayed; NaN for an overload."""
    clean: Array
    """(reading, variant): the window's mean of each variant, without noise, gain or count."""
    resolution: Array
    rows: list[Row]

    @property
    def sigma(self) -> float:
        """Noise of a reading, its count included."""
        level = float(np.median(np.abs(self.clean[:, 1]))) if len(self.t) else 1.0
        res = float(np.median(self.resolution)) if len(self.t) else 1.0
        m = self.meter
        return float(np.hypot(max(m.noise_counts, 0.3) * res, m.noise_share * level))


def take(meter: Meter, grid: Array, course: Array, plan: Plan, rng: np.random.Generator) -> Taken:
    """The readings of one meter on its point, whose course (time, variant) was solved on the grid."""
    if meter.spot.unit == "state":
        return _seen(meter, grid, course, plan, rng)
    count = int(plan.end_s / meter.period_s * 1.2) + 20
    gaps = meter.period_s * (1 + meter.jitter * np.clip(rng.normal(size=count), -2.5, 2.5))
    t = rng.uniform(0.02, meter.period_s) + np.concatenate([[0.0], np.cumsum(gaps)])
    t = np.round(t[t < plan.end_s], 4)
    t = t[rng.random(len(t)) > 0.0008]
    trouble = next((x for x in plan.troubles if x.spot == meter.spot.name), None)
    away = [meter.sleeps] if meter.sleeps else []
    away += [(trouble.start, trouble.end)] if trouble and trouble.kind == "gap" else []
    for a, b in away:
        t = t[(t < a) | (t > b)]
    made = _converted(meter, t, rng)
    clean = windowed(grid, course, made - meter.delay_s, meter.window_s)
    noisy = clean[:, 0] * meter.gain
    if meter.converts_s <= meter.period_s:
        kicks = rng.normal(size=len(t))
    else:
        kicks = rng.normal(size=len(t) + 1)[np.unique(made, return_inverse=True)[1]]
    return _displayed(meter, t, noisy, kicks, clean, trouble, rng)


def _converted(meter: Meter, t: Array, rng: np.random.Generator) -> Array:
    """When each reading's conversion ended: at once, or some repeats ago."""
    if meter.converts_s <= meter.period_s or not len(t):
        return t
    phase = rng.uniform(0, meter.converts_s)
    made: Array = np.floor((t - phase) / meter.converts_s) * meter.converts_s + phase
    return made


def windowed(grid: Array, course: Array, ends: Array, width: float) -> Array:
    """Means of the course over the windows that end then."""
    steps = np.diff(grid)[:, None] * (course[1:] + course[:-1]) / 2
    area = np.concatenate([np.zeros((1, course.shape[1])), np.cumsum(steps, axis=0)])
    width = max(width, 0.02)

    def upto(x: Array) -> Array:
        x = np.clip(x, grid[0], grid[-1])
        k = np.clip(np.searchsorted(grid, x, side="right") - 1, 0, len(grid) - 2)
        part = ((x - grid[k]) / (grid[k + 1] - grid[k]))[:, None]
        here = course[k] + part * (course[k + 1] - course[k])
        found: Array = area[k] + (x - grid[k])[:, None] * (course[k] + here) / 2
        return found

    return (upto(ends) - upto(ends - width)) / width


def _displayed(
    m: Meter, t: Array, noisy: Array, kicks: Array, clean: Array, trouble: Trouble | None,
    rng: np.random.Generator,
) -> Taken:  # fmt: skip
    place = len(m.ranges) - 1
    if len(t) and len(m.ranges) > 1:
        place = next((k for k, r in enumerate(m.ranges) if abs(noisy[0]) < r), place)
    kept, shown, counts, texts, flags, units = [], [], [], [], [], []
    frozen: tuple[float, str] | None = None
    for i, (at, clear) in enumerate(zip(t.tolist(), noisy.tolist(), strict=True)):
        was, value = place, clear
        while place < len(m.ranges) - 1 and abs(value) > m.ranges[place]:
            place += 1
        while place > 0 and abs(value) < 0.85 * m.ranges[place - 1] and abs(value) < 0.085 * m.ranges[place]:
            place -= 1
        res = m.ranges[place] / m.digits
        over = abs(value) > 1.02 * m.ranges[place]
        unit = m.spot.unit
        if place != was and m.manner != "none" and i:
            if m.manner == "missing":
                continue
            over |= m.manner == "overload"
            if m.manner == "half":
                value *= rng.uniform(0.3, 0.9)
        value += max(m.noise_counts * res, m.noise_share * abs(value)) * float(kicks[i])
        if trouble and trouble.start <= at < trouble.end:
            over |= trouble.kind == "overload"
            if trouble.kind == "reversed":
                value = -value
            if trouble.kind == "function":
                value, unit = abs(0.004 * value + 0.02 * rng.normal()), "Vac"
        text, number = _text(value, res)
        if trouble and trouble.kind == "frozen" and trouble.start <= at < trouble.end:
            frozen = frozen or (number, text)
            (number, text), over = frozen, False
        if m.spot.unit == "Vac" and number < 0:
            text, number = _text(0.0, res)
        kept.append(i)
        shown.append(np.nan if over else number)
        counts.append(res)
        texts.append("" if over else text)
        flags.append("overload" if over else "")
        units.append(unit)
    rows = [
        (float(t[i]), m.spot.name, text, unit, flag, m.channel, f"{res:.6g}")
        for i, text, unit, flag, res in zip(kept, texts, units, flags, counts, strict=True)
    ]
    return Taken(m, t[kept], np.array(shown), clean[kept], np.array(counts), rows)


def _text(value: float, res: float) -> tuple[str, float]:
    counted = round(value / res) * res
    places = max(0, -int(np.floor(np.log10(res * 1.0000001))))
    if abs(res * 10**places - round(res * 10**places)) > 1e-6:
        places += 1
    text = f"{counted:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text, float(text)


def _seen(meter: Meter, grid: Array, course: Array, plan: Plan, rng: np.random.Generator) -> Taken:
    """A lamp watched by eye: a key at each change, and now and then one that says the same."""
    state = np.interp(np.arange(0, plan.end_s, 0.05), grid, course[:, 0]) > 0.5
    turns = np.flatnonzero(np.diff(state.astype(int))) + 1
    at, value = [0.5], [bool(state[0])]
    for turn in turns.tolist():
        still = turn + 6 >= len(state) or state[turn + 6] == state[turn]
        if still:
            at.append(turn * 0.05 + float(rng.uniform(0.3, 0.9)))
            value.append(bool(state[turn]))
    now = 0.5
    while (now := now + float(rng.uniform(6, 25))) < plan.end_s - 1:
        at.append(now)
        value.append(bool(state[max(0, int((now - 0.4) / 0.05))]))
    order = np.argsort(at)
    t = np.round(np.array(at)[order], 3)
    keep = t < plan.end_s
    t, states = t[keep], np.array(value)[order][keep].astype(float)
    clean = np.stack([np.interp(t - 0.4, grid, course[:, k]) for k in range(course.shape[1])], axis=1)
    rows = [
        (float(a), meter.spot.name, str(int(s)), "state", "", meter.channel, "")
        for a, s in zip(t, states, strict=True)
    ]
    return Taken(meter, t, states, clean, np.ones(len(t)), rows)
