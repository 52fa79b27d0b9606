"""The stage on which a scene is played: a set, its meters, what happens when, what is to be told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

import numpy as np

from . import shapes
from .case import Answer, Truth
from .course import Run, Shape
from .meters import Column, Meter, choose
from .sets import Node, Plan, Rng

Touch = Callable[[Column], None]
MOVED = ("dropout", "step")
SLOW = ("drift", "creep")
MOST_READINGS = 17_000


class Stage:
    """Events are put one after another with quiet between; `cursor` is where the next may begin."""

    def __init__(self, rng: Rng, plan: Plan, long_s: float, manner: str = "") -> None:
        self.rng, self.plan = rng, plan
        self.runs: list[Run] = []
        self.marks: list[tuple[float, str, str, str]] = []
        self.truths: list[Truth] = []
        self.edits: dict[str, list[Shape]] = defaultdict(list)
        self.nature: dict[str, list[Shape]] = defaultdict(list)
        self.supply: list[Shape] = []
        self.touches: list[tuple[str, Touch]] = []
        self.disturbed: list[tuple[str, float, float]] = []
        self.unjudged: set[str] = set()
        """Points whose readings are not what they stand at."""
        self.moves: list[tuple[str, str, float]] = []
        self.cursor, self.tail_s, self.marked, self.fault_free = 0.0, 45.0, True, False
        self.unlooked: list[tuple[float, float]] = []
        self.grid_s = 0.02
        self.meters: dict[str, Meter] = self._meters(long_s, manner)
        self._wandering()

    def _meters(self, long_s: float, manner: str) -> dict[str, Meter]:
        chosen = {n.name: choose(self.rng, n, self._peak(n), manner) for n in self.plan.nodes.values()
                  if n.metered and n.kind != "lamp"}  # fmt: skip
        rates = sorted(1 / m.period_s for m in chosen.values())
        most = MOST_READINGS / long_s
        quickest = next(
            (r for k, r in enumerate(rates) if sum(rates[:k]) + r * (len(rates) - k) > most), None
        )
        for name, meter in chosen.items():
            meter.channel = name
            if quickest is not None and 1 / meter.period_s >= quickest:
                slower = [r for r in rates if r < quickest]
                meter.period_s = (len(rates) - len(slower)) / (most - sum(slower))
                meter.window_s = max(meter.window_s, 0.2 * min(1.0, meter.period_s))
        return chosen

    def _peak(self, node: Node) -> float:
        """The most that a person expects there: before the valves conduct there is no drop on the way."""
        if node.unit != "V" or node.kind in ("bias", "cathode"):
            return node.level * 1.15
        if node.kind == "regulated" or self.rng.random() < 0.1:
            return node.level * 1.3
        return self.plan.nodes[next(iter(self.plan.nodes))].level * self.plan.surge * 1.05

    def _wandering(self) -> None:
        big = 0.002 if self.plan.tells_mains else 0.0004
        for tau in (15.0, 150.0):
            size = float(self.rng.uniform(0.1, 1.0)) * big
            self.supply.append(shapes.wander(size, tau, int(self.rng.integers(2**31))))

    # --- time

    def start(self, warm: bool | None = None, marked: bool | None = None) -> None:
        """Power on soon, or long ago; the cursor goes to where the set has settled."""
        draw = self.rng.random
        if warm if warm is not None else draw() < 0.15:
            self.runs.append(Run(-3000.0, np.inf))
            self.cursor = 25.0 + 8 * self.slowest
            return
        on = float(self.rng.uniform(5, 20)) + 2 * self.slowest
        self.marked = marked if marked is not None else draw() < 0.6
        self.power_on(on)
        self.cursor = on + self.settling_s

    def power_on(self, at: float) -> None:
        self.runs.append(Run(at, np.inf))
        self._mark_power(at, "on")

    def power_off(self, at: float) -> None:
        self.runs[-1] = Run(self.runs[-1].on_s, at)
        self._mark_power(at, "off")

    def _mark_power(self, at: float, kind: str) -> None:
        if self.marked:
            self.mark(at + float(self.rng.uniform(-0.2, 0.6)), kind)

    def mark(self, at: float, kind: str, note: str = "", what: str = "") -> float:
        """What the technician did; gives the time as it is written."""
        at = round(max(at, 0.0), 3)
        self.marks.append((at, kind, note, what))
        return at

    @property
    def settling_s(self) -> float:
        return 8 * self.plan.heat_s + 25 + 10 * self.slowest

    @property
    def slowest(self) -> float:
        return max(m.period_s for m in self.meters.values())

    def slot(self, length: float, before: float = 20.0, after: float = 15.0) -> float:
        """The start of a stretch of this length that nothing else touches."""
        periods = float(np.median([m.period_s for m in self.meters.values()]))
        at = self.cursor + max(before * self.rng.uniform(0.8, 1.6), 15 * periods)
        self.cursor = at + length + max(after, 12 * periods)
        return float(at)

    # --- points

    def some(self, *kinds: str) -> Node:
        """A measured point of one of these kinds; any that follows the supply if none is named or there."""
        found = [n for n in self.plan.of(*kinds) if not n.programme and n.name not in self.unjudged]
        found = found or [
            n for n in self.plan.of("root", "stage", "anode", "screen", "cathode") if not n.programme
        ]
        return found[int(self.rng.integers(len(found)))]

    def slack(self, point: str) -> float:
        meter = self.meters.get(point)
        if meter is None:
            return 3.0
        return max(1.5, 4 * meter.period_s) + meter.window_s + meter.delay_s

    def sure(self, point: str, length_s: float) -> bool:
        """True if this meter has at least two whole readings in a stretch of this length."""
        meter = self.meters.get(point)
        return meter is not None and length_s >= 2.2 * meter.period_s * (1 + meter.jitter) + meter.window_s

    def clear(self, point: str, depth: float) -> bool:
        """True if a move by this part of the level stands far out of noise, counts and slow wander."""
        meter = self.meters.get(point)
        if meter is None:
            return False
        node = self.plan.nodes[point]
        quick, slow = meter.noise_at(node.level)
        least = max(8 * quick, 3 * meter.resolution_at(node.level), 6 * slow)
        return abs(depth * node.level) >= max(least, 0.006 * abs(node.level) if node.follows else 0)

    # --- telling

    def answers(self, point: str, kinds: tuple[str, ...], length_s: float) -> list[Answer]:
        """Who may be named for what happened at `point`, and how."""
        named: list[Answer] = [(k, point) for k in kinds]
        if not self.sure(point, length_s):
            named += [(k, p) for p in self.plan.below(point) for k in kinds]
        if self.plan.nodes[point].kind == "root" and not self.plan.tells_mains:
            named.append(("mains", None))
        return named

    def tell(
        self, name: str, point: str, kinds: tuple[str, ...], start: float, end: float, must: bool,
        late_s: float | None = None, many: bool = False, after_mark: float | None = None,
        extra: tuple[Answer, ...] = (), early_s: float = 0.0,
    ) -> None:  # fmt: skip
        """A truth about a point, and what may be said of those that hang on it."""
        length = end - start
        slack = self.slack(point)
        accept = (*self.answers(point, kinds, length), *extra)
        late = slack if late_s is None else late_s
        early = max(slack, early_s)
        self.truths.append(Truth(name, accept, start, end, must, early, late, many, after_mark))
        self.disturbed.append((point, start, end))
        self._consequences(point, start, end, late)

    def _consequences(self, point: str, start: float, end: float, late: float) -> None:
        length = end - start
        for child in self.plan.below(point):
            node = self.plan.nodes[child]
            self.disturbed.append((child, start, end))
            loose = not node.declared or any(
                not self.plan.nodes[p].declared for p in self._path(child, point)
            )  # fmt: skip
            if loose or node.kind in ("regulated", "lamp"):
                self.may(child, (*MOVED, *SLOW, "chatter", "starved"), start, end, late + length)

    def _path(self, child: str, top: str) -> list[str]:
        path, node = [], self.plan.nodes[child]
        while node.name != top and node.parent is not None:
            path.append(node.name)
            node = self.plan.nodes[node.parent]
        return path

    def may(
        self, point: str, kinds: tuple[str, ...], start: float, end: float, late: float | None = None
    ) -> None:
        """What may be said of a point then, and need not."""
        slack = self.slack(point) + (75.0 if self.plan.nodes[point].kind == "lamp" else 0.0)
        late_s = slack + (end - start if late is None else late)
        accept = tuple((k, point) for k in kinds)
        self.truths.append(Truth("allowed", accept, start, end, False, slack, late_s, True))

    def tell_mains(
        self, name: str, start: float, end: float, sure: bool, many: bool = False, loose: bool | None = None
    ) -> None:
        """A move of the supply: told once, of no point; `loose`: its points may be named, unsure as it is."""
        slack = max(self.slack(p) for p in self.meters)
        accept: list[Answer] = [("mains", None)]
        roots = [n.name for n in self.plan.of("root", "bias")]
        if not self.plan.tells_mains:
            accept += [(k, p) for p in roots for k in MOVED]
        late = slack + (end - start if many else 0)
        self.truths.append(Truth(name, tuple(accept), start, end, sure, slack, late, many))
        for node in self.plan.nodes.values():
            if loose is not False:
                self.disturbed.append((node.name, start, end))
            if node.kind in ("regulated", "lamp"):
                self.may(node.name, (*MOVED, "starved"), start, end)
            elif node.metered and (not sure if loose is None else loose):
                self.may(node.name, MOVED, start, end)
