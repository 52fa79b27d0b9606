"""All that the labels of a simulated case are drawn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchtui.chart.chart import Chart, Point
from benchtui.model.readings import Bools, Floats
from benchtui.model.units import Unit
from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.metermodel import MeterModel
from benchtui.sim.meters import Taken
from benchtui.sim.receiver import COLUMNS
from benchtui.sim.truth import Evidence

from .plot import WARM_S, Plot

MOVED = ("dropout", "step")
SLOW = ("drift", "creep")
FREE = ("dropout", "step", "chatter", "drift", "creep")


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One case, gone through."""

    plot: Plot
    evidence: Evidence
    calm: Floats
    """The trace of the healthy set on a mains that stands still."""
    chart: Chart
    told_accuracy: bool
    """True where the program is given a bench file."""

    @property
    def until(self) -> float:
        return self.evidence.duration_s

    @property
    def meters(self) -> dict[str, MeterModel]:
        return {m.point: m for m in self.evidence.meters}

    @property
    def taken(self) -> dict[str, Taken]:
        return {m.point: t for m, t in zip(self.evidence.meters, self.evidence.taken, strict=True)}

    def true(self, point: str) -> Floats:
        """What the point did."""
        return self.evidence.column(point)[0]

    def points(self) -> list[tuple[Point, MeterModel]]:
        """The measured points of the chart that read in volts."""
        found = []
        for name, meter in self.meters.items():
            point = self.chart.point(name)
            if point is not None and meter.unit is not Unit.STATE:
                found.append((point, meter))
        return found

    def runs(self) -> list[tuple[float, float]]:
        """(on, off) of each run; the end of the case where it was not switched off."""
        power = self.evidence.run.power
        runs = []
        for i, (at, on) in enumerate(power):
            if on:
                runs.append((at, next((t for t, state in power[i + 1 :] if not state), self.until)))
        return runs

    def powered(self, warm: bool = False) -> Bools:
        """Steps with power; with `warm`, those in which every healthy point has settled."""
        mask = np.zeros(len(self.evidence.trace), dtype=np.bool_)
        for on, off in self.runs():
            begin = on + (WARM_S if warm else 0.0)
            mask[round(begin * STEPS_PER_S) : round(off * STEPS_PER_S)] = True
        return mask

    def slack(self, point: str | None) -> float:
        """How far a finding may begin from what it tells, for the meter's timing."""
        meters = [self.meters[point]] if point in self.meters else list(self.evidence.meters)
        return max(max(1.5, 4.0 / m.rate) + m.averages_s for m in meters)

    def level(self, point: str) -> float:
        """What the healthy point stands at once settled."""
        return float(np.abs(self.calm[-200:, COLUMNS.index(point)]).mean()) or 1.0

    def count(self, point: str) -> float:
        """One count of the point's meter at its usual level; volts."""
        meter = self.meters[point]
        level = self.level(point)
        scale = next((s for s in meter.ranges if s >= level), meter.ranges[-1])
        return float(10.0 ** -meter.decimals(scale))

    def blur(self, point: str) -> float:
        """Quick noise of the point's readings: the meter's own, and what the mains flutters; volts."""
        flutter = float(self.plot.mains.get("flutter", 0.0)) * self.level(point)
        return self.meters[point].noise * self.count(point) + (0.0 if point == "regulator" else flutter)

    def clear(self, point: str, depth: float) -> bool:
        """True if a move by so many volts stands far out of noise, counts and flutter."""
        if point not in self.meters:
            return False
        if self.meters[point].unit is Unit.STATE:
            return True
        return abs(depth) >= max(8 * self.blur(point), 3 * self.count(point), 0.006 * self.level(point))

    def sure(self, point: str, lasts_s: float) -> bool:
        """True if the point's meter has at least two whole readings in so long a time."""
        meter = self.meters.get(point)
        return meter is not None and lasts_s >= 2.2 * (1.0 / meter.rate + meter.jitter_s) + meter.averages_s

    def read_in(self, point: str, start: float, end: float) -> int:
        """How many readings of the point with a value came between these times, whole windows only."""
        meter, got = self.meters[point], self.taken[point]
        inside = (got.t_ns >= (start + meter.averages_s) * 1e9) & (got.t_ns <= end * 1e9) & (got.flags == 0)
        return int(inside.sum())

    def below(self, point: str) -> list[str]:
        """The points that hang on this one by the chart."""
        return [p.name for p in self.chart.points if point in self.chart.feeds(p.name)]

    def tells_mains(self) -> bool:
        """True if an AC meter shows the mains itself or the heaters."""
        return "mains" in self.meters or "heater" in self.meters
