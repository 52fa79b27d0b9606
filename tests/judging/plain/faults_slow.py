"""Scenes with points that walk, creep, stand outside or never settle."""

from __future__ import annotations

from . import shapes
from .case import Truth
from .sets import Node
from .stage import SLOW, Stage


def slow_walk(stage: Stage) -> None:
    _walks(stage, stage.some("anode", "screen", "cathode", "stage", "bias"))


def slow_walk_of_a_feed(stage: Stage) -> None:
    _walks(stage, stage.some("root", "stage"))


def _walks(stage: Stage, node: Node) -> None:
    stage.start(warm=False)
    length = float(stage.rng.uniform(240, 500))
    at = stage.slot(length, before=60)
    meter = stage.meters[node.name]
    quick, slow = meter.noise_at(node.level)
    least = max(
        0.04, 12 * (quick + slow) / abs(node.level), 6 * meter.resolution_at(node.level) / abs(node.level)
    )
    part = max(least, float(stage.rng.uniform(0.04, 0.15))) * float(stage.rng.choice([-1, 1]))
    stage.edits[node.name].append(shapes.ramp(at, at + length, 1 + part))
    stage.tell("drift", node.name, SLOW, at, at + length, True, late_s=length + 30, many=True, early_s=30)
    stage.tail_s = 60


def creeps_out(stage: Stage) -> None:
    """Moves outward until it leaves its band."""
    stage.start(warm=False)
    node = stage.some("anode", "screen", "cathode")
    length = float(stage.rng.uniform(300, 600))
    at = stage.slot(length, before=60, after=60)
    assert node.low is not None or node.tolerance is not None
    reach = 2.2 * max(node.tolerance or (0.1, 0.1))
    stage.edits[node.name].append(shapes.ramp(at, at + length, 1 + reach * float(stage.rng.choice([-1, 1]))))
    stage.tell("drift", node.name, SLOW, at, at + length, True, late_s=length + 30, many=True, early_s=30)


def outside_at_settle(stage: Stage) -> None:
    _out(stage, 1)


def two_outside(stage: Stage) -> None:
    _out(stage, 2)


def _out(stage: Stage, count: int) -> None:
    leaves = stage.plan.of("anode", "screen", "cathode", "bias", "stage", "root")
    order = stage.rng.permutation(len(leaves))[:count]
    for k in order.tolist():
        node = leaves[k]
        tol = max(node.tolerance or (0.1, 0.1))
        factor = 1 + float(stage.rng.choice([-1, 1])) * float(stage.rng.uniform(1.7, 3.2)) * tol
        stage.nature[node.name].append(shapes.constant(factor))
    stage.start()
    stage.slot(60)


def unsettled(stage: Stage) -> None:
    """Still on its way many minutes after power-on."""
    stage.start(warm=False)
    node = stage.some("root", "stage", "anode", "screen", "cathode")
    on = stage.runs[-1].on_s
    part = float(stage.rng.uniform(0.15, 0.3)) * float(stage.rng.choice([-1, 1]))
    stage.nature[node.name].append(shapes.approach(on, float(stage.rng.uniform(200, 400)), 1 + part))
    end = on + float(stage.rng.uniform(500, 700))
    stage.cursor = end
    accept = ("unsettled", "drift", "creep")
    stage.tell("unsettled", node.name, accept, on + 40, end, True, late_s=end - on, many=True, early_s=40)


def slow_bleed(stage: Stage) -> None:
    """The bleeder is open: far slower than the chart's time, most of all where the valves take nothing."""
    stage.start(marked=True)
    node = stage.plan.of("root")[0]
    assert node.bleed_s is not None
    stage.plan.bleed_s *= 8
    if stage.rng.random() < 0.6:
        stage.plan.load_s *= 60
    off = stage.slot(1)
    stage.power_off(off)
    late = off + node.bleed_s
    stage.cursor = off + 2.5 * node.bleed_s + 20
    accept, wait = (("slow_bleed", node.name),), 2 * node.bleed_s
    stage.truths.append(Truth("slow bleed", accept, off, late, True, 3.0, wait, True))
    for child in stage.plan.below(node.name):
        stage.may(child, ("slow_bleed",), off, late + node.bleed_s)
