"""Sets of all sorts, made up from a seed: what stands on their charts and what they really do."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

Rng = np.random.Generator

_NAMES = {
    "stages": (
        ("B+1", "B+2", "B+3"),
        ("HT1", "HT2", "HT3"),
        ("reservoir", "smoothed", "front end"),
        ("TP1", "TP2", "TP3"),
        ("main rail", "screen rail", "early rail"),
    ),
    "anode": ("V{} anode", "plate {}", "a{}", "anode of V{}"),
    "screen": ("V{} screen", "g2 of V{}", "screen {}", "s{}"),
    "cathode": ("V{} cathode", "k{}", "cathode {}", "bias resistor V{}"),
    "bias": ("bias", "C-", "grid supply", "negative rail"),
    "regulated": ("reg 150", "oscillator supply", "stabilised", "VR"),
    "lamp": ("pilot", "neon", "indicator"),
    "heater": ("heater", "LT", "heaters 6 V", "filament winding"),
    "mains": ("mains", "Mains", "MAINS"),
}
_SETS = (
    "Fenland Four", "Harbour Light", "Quarry Table Model", "Lockkeeper", "Chapel Amplifier", "Tern 12",
    "Orchard Three", "Windmill Receiver", "Drove Road", "Slipway Amplifier",
)  # fmt: skip


@dataclass
class Node:
    """A point of the set: what the chart says and what is true."""

    name: str
    kind: str
    """root, stage, anode, screen, cathode, bias, regulated, lamp, heater, mains."""
    unit: str
    nominal: float
    level: float
    """True settled value at nominal mains."""
    parent: str | None = None
    declared: bool = True
    """Whether the chart names the parent."""
    drop: float = 0.0
    """Part of the parent's value that is lost on the way once the valves conduct."""
    lag_s: float = 0.05
    low: float | None = None
    high: float | None = None
    limit: float | None = None
    surge: float | None = None
    surge_s: float = 0.0
    strikes: tuple[float, float] | None = None
    holds: tuple[float, float] | None = None
    ohms: float | None = None
    programme: bool = False
    metered: bool = True
    bleed_s: float | None = None
    tolerance: tuple[float, float] | None = None
    """(below, above) as parts of the nominal."""

    @property
    def follows(self) -> bool:
        return self.kind not in ("regulated", "lamp")


@dataclass
class Plan:
    """A set with its manners of warming, settling and bleeding."""

    name: str
    mains: float
    steady: float
    """The mains of this day, as a factor on the chart's."""
    rectifier: str
    surge: float
    """B+ before the valves conduct, as a factor on its settled value."""
    nodes: dict[str, Node] = field(default_factory=dict)
    heat_s: float = 7.0
    wakes: float = 0.62
    """Heat at which the load valves begin to conduct."""
    cool_s: float = 20.0
    tail: float = 0.005
    """Part by which the levels still rise or fall slowly after warming."""
    tail_s: float = 80.0
    load_s: float = 1.5
    """Time constant of the discharge while the valves conduct."""
    bleed_s: float = 15.0
    """Time constant of the discharge once they do not."""

    def below(self, name: str) -> list[str]:
        """All points that are really fed by this one, at any distance."""
        found: list[str] = []
        for node in self.nodes.values():
            if node.parent is not None and (node.parent == name or node.parent in found):
                found.append(node.name)
        return found

    def of(self, *kinds: str) -> list[Node]:
        return [n for n in self.nodes.values() if n.kind in kinds and n.metered]

    @property
    def measured_mains(self) -> Node | None:
        return next(iter(self.of("mains")), None)

    @property
    def tells_mains(self) -> bool:
        """True if what is measured can set the supply apart from one branch."""
        return bool(self.of("mains", "heater")) or len(self.of("root", "bias")) > 1


def build(rng: Rng, needs: frozenset[str], tolerance: float | None = None) -> Plan:
    """A set that has at least the kinds of points that `needs` names."""
    mains, volts = (
        float(rng.choice([230, 240, 220, 117, 110])),
        float(rng.choice([90, 180, 240, 285, 350, 420])),
    )
    rectifier = _rectifier(rng, needs)
    tol = tolerance if tolerance is not None else float(rng.choice([0.05, 0.1, 0.1, 0.15, 0.2]))
    plan = Plan(
        name=str(rng.choice(_SETS)), mains=mains, rectifier=rectifier,
        steady=1 + tol * rng.uniform(-0.22, 0.22), surge=_surge(rng, rectifier),
        heat_s=rng.uniform(5.0, 9.0), cool_s=rng.uniform(15, 28), wakes=rng.uniform(0.5, 0.72),
        tail=rng.uniform(-0.004, 0.012), tail_s=rng.uniform(40, 130),
        load_s=rng.uniform(0.5, 3.0), bleed_s=rng.uniform(4, 40),
    )  # fmt: skip
    volts = max(volts, 240.0) if "regulated" in needs else volts
    maker = _Maker(rng, plan, tol)
    maker.supply(volts, deep=int(rng.integers(0, 3)), needs=needs)
    maker.leaves(needs)
    maker.others(needs)
    return plan


def _rectifier(rng: Rng, needs: frozenset[str]) -> str:
    for kind in ("solid", "direct", "indirect"):
        if kind in needs:
            return kind
    return str(rng.choice(["solid", "direct", "indirect"]))


def _surge(rng: Rng, rectifier: str) -> float:
    return float(rng.uniform(1.0, 1.04) if rectifier == "indirect" else rng.uniform(1.14, 1.4))


def nice(value: float) -> float:
    """Two or three figures, as a service sheet prints them."""
    if value == 0:
        return 0.0
    step = 10.0 ** (np.floor(np.log10(abs(value))) - 1)
    step = step / 2 if abs(value) / step < 40 else step
    return float(round(value / step) * step)


class _Maker:
    def __init__(self, rng: Rng, plan: Plan, tol: float) -> None:
        self.rng, self.plan, self.tol = rng, plan, tol
        self.stages = _NAMES["stages"][int(rng.integers(len(_NAMES["stages"])))]
        self.off = rng.uniform(-0.25, 0.25) * tol
        self.valve = int(rng.integers(1, 4))

    def supply(self, volts: float, deep: int, needs: frozenset[str]) -> None:
        deep = max(deep, 1 if "chain" in needs or "regulated" in needs else 0)
        peak = volts * self.plan.surge
        root = self._add(self.stages[0], "root", "V", volts, None, lag=0.05)
        limit = nice(max(volts * self.rng.uniform(1.2, 1.35), volts * (1 + 1.5 * self.tol)))
        if self.rng.random() < 0.8 or "limit" in needs:
            root.limit = limit
            if peak * 1.12 > limit:
                root.surge, root.surge_s = nice(peak * self.rng.uniform(1.12, 1.25)), 60.0
        if self.rng.random() < 0.3 or "bleed" in needs:
            root.bleed_s = 5.0 * round((10 + 4.2 * self.plan.bleed_s) / 5)
        for k in range(deep):
            above = self.plan.nodes[self.stages[k]]
            self._add(
                self.stages[k + 1], "stage", "V", nice(above.nominal * self.rng.uniform(0.72, 0.93)),
                above.name, lag=self.rng.uniform(0.05, 0.4),
            )  # fmt: skip

    def leaves(self, needs: frozenset[str]) -> None:
        count = int(self.rng.integers(0, 4))
        kinds = list(self.rng.choice(["anode", "screen", "cathode", "anode"], size=count))
        kinds += ["anode", "cathode"] if "branches" in needs and count < 2 else []
        kinds += ["anode"] if "programme" in needs else []
        for number, kind in enumerate(kinds):
            parent = self._stage()
            part = self.rng.uniform(0.03, 0.06) if kind == "cathode" else self.rng.uniform(0.3, 0.95)
            name = str(self.rng.choice(_NAMES[kind])).format(self.valve + number)
            leaf = self._add(
                name, kind, "V", nice(parent.nominal * part), parent.name, self.rng.uniform(0, 0.2)
            )
            leaf.declared = kind != "cathode" or self.rng.random() < 0.8
            if "programme" in needs and number == len(kinds) - 1:
                self._music(leaf)

    def _music(self, leaf: Node) -> None:
        leaf.programme = True
        leaf.tolerance = None
        leaf.low, leaf.high = nice(leaf.nominal * 0.5), nice(leaf.nominal * 1.45)

    def others(self, needs: frozenset[str]) -> None:
        draw = self.rng.random
        if draw() < 0.3 or "bias" in needs:
            self._add(self._name("bias"), "bias", "V", -nice(self.rng.uniform(8, 50)), None, 0.05)
        if (draw() < 0.2 or "regulated" in needs) and self._regulator_feed() is not None:
            self._regulated()
        if draw() < 0.15 or "lamp" in needs:
            self._lamp(seen=draw() < 0.7 or "lamp" in needs)
        if draw() < 0.35 or "heater" in needs:
            volts = float(self.rng.choice([6.3, 6.3, 12.6, 4.0, 5.0]))
            self._add(self._name("heater"), "heater", "Vac", volts, None, 0.0)
        if (draw() < 0.55 or "mains" in needs) and "no mains" not in needs:
            self._add(self._name("mains"), "mains", "Vac", self.plan.mains, None, 0.0).level = self.plan.mains

    def _regulator_feed(self) -> Node | None:
        stages = [n for n in self.plan.of("root", "stage") if n.nominal >= 170]
        return stages[-1] if stages else None

    def _regulated(self) -> None:
        feed = self._regulator_feed()
        assert feed is not None
        runs = 150.0 if feed.nominal >= 205 else 105.0
        node = self._add(self._name("regulated"), "regulated", "V", runs, feed.name, 0.02)
        node.strikes = (runs * 1.04, runs * 1.12)
        node.holds = (runs * 0.92, runs * 1.0)
        node.level = runs * (1 + self.rng.uniform(-0.01, 0.01))
        node.tolerance = (0.05, 0.05)
        node.drop = min(0.12, 0.6 * (1 - runs / feed.level))
        node.ohms = nice((feed.nominal - runs) / 0.015)

    def _lamp(self, seen: bool) -> None:
        parent = self._stage()
        feed = self._add(
            "lamp feed" if self.rng.random() < 0.5 else "divider", "screen", "V", 110.0, parent.name, 0.1
        )
        if parent.nominal < 120:
            feed.nominal = nice(parent.nominal * 0.95)
            feed.level = feed.nominal * (1 + self.off)
            feed.drop = 1 - feed.level / parent.level
        lamp = self._add(self._name("lamp"), "lamp", "state", 1.0, feed.name, 0.0)
        top = feed.nominal * 0.8
        lamp.strikes, lamp.holds = (nice(top * 0.75), nice(top)), (nice(top * 0.6), nice(top * 0.72))
        lamp.level, lamp.metered, lamp.tolerance, lamp.ohms = 1.0, seen, None, 47e3

    def _stage(self) -> Node:
        stages = [n for n in self.plan.nodes.values() if n.kind in ("root", "stage")]
        return stages[int(self.rng.integers(len(stages)))]

    def _name(self, kind: str) -> str:
        return str(self.rng.choice(_NAMES[kind]))

    def _add(self, name: str, kind: str, unit: str, nominal: float, parent: str | None, lag: float) -> Node:
        off = self.off + self.rng.uniform(-0.08, 0.08) * self.tol
        while name in self.plan.nodes:
            name += "'"
        node = Node(name, kind, unit, nominal, nominal * (1 + off), parent, lag_s=lag)
        if parent is not None and kind not in ("cathode", "lamp"):
            node.drop = max(0.005, 1 - node.level / self.plan.nodes[parent].level)
            node.level = (1 - node.drop) * self.plan.nodes[parent].level
            node.ohms = nice(nominal * self.rng.uniform(15, 60))
        uneven = self.rng.random() < 0.2 and self.tol >= 0.1 and nominal > 0
        node.tolerance = (self.tol * 1.5, self.tol) if uneven else (self.tol, self.tol)
        self.plan.nodes[name] = node
        return node
