"""Meters with their manners: rate, delay, averaging, counts, ranges, noise of several kinds."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .course import Array, Mask
from .sets import Node, Rng


@dataclass
class Meter:
    """One meter function on one point (or, when its lead moves, on several in turn)."""

    channel: str
    point: str
    period_s: float
    jitter: float
    """Part of the period."""
    delay_s: float
    window_s: float
    counts: int
    """Counts of full scale: 2000 is a three-and-a-half-digit meter."""
    full_v: float | None
    """Fixed full scale; None: it changes ranges by itself."""
    at_change: str
    """What it shows while changing ranges: nothing, overload, half."""
    white: float
    """Noise as a part of the settled value, or in counts below zero: -0.3 is 0.3 counts."""
    wander: float
    """Slow wander of the reading, as a part of the value."""
    beat: float
    """Ripple beating with the sampling, as a part of the value."""
    beat_s: float = 7.0
    accuracy: tuple[float, float] | None = None
    """(part of reading, counts), where the bench file tells it."""
    gain: float = 1.0
    low_battery: bool = False
    writes_resolution: bool = False

    def resolution_at(self, value: float) -> float:
        """One count on the range that this value needs."""
        return (self.full_v or _full_scale(abs(value), self.counts)) / self.counts

    def noise_at(self, value: float) -> tuple[float, float]:
        """(quick, slow) standard deviations near this settled value, the count's own included."""
        count = self.resolution_at(value)
        quick = self._white(value) ** 2 + (self.beat * value) ** 2 / 2 + count**2 / 12
        return float(np.sqrt(quick)), abs(self.wander * value)

    def _white(self, value: float) -> float:
        return self.white * abs(value) if self.white >= 0 else -self.white * self.resolution_at(value)


@dataclass
class Column:
    """What one meter sent."""

    t: Array
    value: Array
    count: Array
    """Resolution of each reading."""
    unit: list[str]
    flag: list[str]
    keep: Mask = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    point: list[str] = field(default_factory=list)


def choose(rng: Rng, node: Node, peak: float, manner: str = "") -> Meter:
    """A meter fit for this point; `manner` asks for a sort: slow, quick, steady, average."""
    rate = float(rng.choice([0.5, 1, 2, 2, 3, 4, 5, 10, 20]))
    rate = {"slow": 0.5, "soak": float(rng.choice([0.4, 0.5, 0.7])), "quick": 10.0}.get(manner, rate)
    counts = int(
        rng.choice([2000, 4000, 6000, 20000, 60000, 200000, 1000000], p=[0.2, 0.1, 0.2, 0.2, 0.1, 0.1, 0.1])
    )
    period = 1 / (rate * rng.uniform(0.85, 1.15))
    fixed = None
    if rng.random() < 0.45:
        fixed = _full_scale(abs(peak) * 1.05, counts)
    loud = rng.random()
    window = min(1.0, period) * float(rng.choice([0.1, 0.5, 0.95, 1.5]))
    white = -rng.uniform(0.1, 0.5) if loud < 0.4 else rng.uniform(0.0001, 0.002)
    return Meter(
        channel="", point=node.name, period_s=period, jitter=float(rng.choice([0.0, 0.03, 0.15])),
        delay_s=float(rng.choice([0.0, 0.1, 0.3])), window_s=window,
        counts=counts, full_v=fixed, at_change=str(rng.choice(["nothing", "overload", "half"])),
        white=0.0 if manner == "steady" else float(white),
        wander=0.0 if manner == "steady" else float(rng.uniform(0.00002, 0.0005)),
        beat=float(rng.uniform(0.0002, 0.0015)) if rng.random() < 0.2 and manner != "steady" else 0.0,
        beat_s=float(rng.uniform(2.5, 20)), low_battery=rng.random() < 0.05,
        writes_resolution=rng.random() < 0.3,
    )  # fmt: skip


def _full_scale(value: float, counts: int) -> float:
    """The smallest range counts x 10^n that holds the value."""
    lead = counts / 10 ** int(np.floor(np.log10(counts)))
    exponent = np.ceil(np.log10(max(value, 0.02 * lead) / lead) - 1e-9)
    return float(lead * 10.0**exponent)


def sample(meter: Meter, node: Node, grid: Array, values: Array, until_s: float, rng: Rng) -> Column:
    """Reads the course as this meter would: averaged, late, noisy, in counts of a range."""
    count = int((until_s - 0.2) / meter.period_s)
    due = rng.uniform(0, meter.period_s) + meter.period_s * np.arange(count)
    late = np.sort(due + meter.jitter * meter.period_s * rng.uniform(-0.5, 0.5, count))
    t: Array = np.unique(np.round(late[(late > 0) & (late < until_s)], 4)).astype(np.float64)
    seen = _averaged(grid, values, t - meter.delay_s, max(meter.window_s, 0.02))
    shown = seen * meter.gain + _noise(meter, node, seen, t, rng)
    return _in_counts(meter, node, t, shown, rng)


def _averaged(grid: Array, values: Array, end: Array, window: float) -> Array:
    dt = grid[1] - grid[0]
    total = np.concatenate([[0.0], np.cumsum(values) * dt])
    edges = np.concatenate([grid, [grid[-1] + dt]])
    start = np.clip(end - window, edges[0], edges[-1] - dt)
    stop = np.maximum(np.clip(end, edges[0], edges[-1]), start + dt / 2)
    return np.asarray((np.interp(stop, edges, total) - np.interp(start, edges, total)) / (stop - start))


def _noise(meter: Meter, node: Node, seen: Array, t: Array, rng: Rng) -> Array:
    size = np.abs(seen)
    part = np.where(size < 0.02 * abs(node.level), 0.1, 0.25 + 0.75 * np.minimum(size / abs(node.level), 1.5))
    white = meter._white(node.level) * part * rng.standard_normal(len(t))
    slow = meter.wander * size * sum(_wander(t, tau, rng) for tau in (2.0, 20.0, 200.0)) / np.sqrt(3)
    beat = meter.beat * size * np.sin(2 * np.pi * (t / meter.beat_s + rng.random()))
    return np.asarray(white + slow + beat)


def _wander(t: Array, tau: float, rng: Rng) -> Array:
    """A wander of unit deviation that forgets itself in `tau` seconds."""
    keep = np.exp(-np.diff(t) / tau)
    push = np.sqrt(1 - keep**2) * rng.standard_normal(len(keep))
    value, out = float(rng.standard_normal()), []
    for k, p in zip([1.0, *keep.tolist()], [0.0, *push.tolist()], strict=True):
        value = k * value + p
        out.append(value)
    return np.array(out[: len(t)])


def _in_counts(meter: Meter, node: Node, t: Array, shown: Array, rng: Rng) -> Column:
    full = meter.full_v or _full_scale(abs(float(shown[0])), meter.counts)
    column = Column(t, np.zeros(len(t)), np.zeros(len(t)), [], [], np.ones(len(t), dtype=bool))
    for i, steady in enumerate(shown.tolist()):
        value, flag, size = steady, "", abs(steady)
        if meter.full_v is not None:
            flag = "overload" if size > full else ""
        elif size > full or size < 0.08 * full:
            wanted = _full_scale(size * (1.0 if size > full else 1.1), meter.counts)
            if wanted != full:
                value, flag = _changing(meter, steady, wanted > full, rng)
                full = wanted
        resolution = full / meter.counts
        column.value[i] = round(value / resolution) * resolution
        column.count[i] = resolution
        column.unit.append(node.unit)
        column.flag.append(flag)
    column.point = [node.name] * len(t)
    return column


def _changing(meter: Meter, value: float, upward: bool, rng: Rng) -> tuple[float, str]:
    if meter.at_change == "overload" and upward:
        return value, "overload"
    if meter.at_change == "half":
        return value * rng.uniform(0.45, 0.85), ""
    return value, ""
