"""The plain generator: textbook shapes in synthetic noise; it shares nothing with the simulated set."""

from __future__ import annotations

import numpy as np

from . import events
from .case import Case
from .play import play
from .scenes import FAULTS, QUIET, SCENES, Scene
from .sets import Plan, Rng, build
from .stage import Stage

__all__ = ["SCENES", "Case", "make", "scene_of"]


def make(seed: int) -> Case:
    """The case of this seed; every third is fault-free. The same seed gives the same case, byte for byte."""
    scene, free = scene_of(seed)
    rng = np.random.default_rng([1957, seed])
    plan = build(rng, scene.needs)
    _leave_out(plan, scene, rng)
    stage = Stage(rng, plan, scene.long_s, scene.manner)
    stage.fault_free = free
    scene.play(stage)
    if scene.extras:
        _extras(stage, free)
    return play(stage, seed, scene.name)


def scene_of(seed: int) -> tuple[Scene, bool]:
    """The scene that this seed plays, and whether it is fault-free."""
    third, place = divmod(seed, 3)
    if place == 0:
        return QUIET[third % len(QUIET)], True
    return FAULTS[(2 * third + place - 1) % len(FAULTS)], False


def _leave_out(plan: Plan, scene: Scene, rng: Rng) -> None:
    """Not every point of a chart has a meter on it."""
    optional = [n for n in plan.nodes.values() if n.kind in ("anode", "screen", "cathode", "stage")]
    if scene.name == "unmetered_feed":
        next(iter(plan.nodes.values())).metered = False
        return
    if scene.name == "lead_moves" and len(optional) > 1:
        optional[-1].metered = False
        return
    feeds = {n.parent for n in plan.nodes.values() if n.kind in ("lamp", "regulated")}
    for node in optional[2:]:
        if rng.random() < 0.15 and node.name not in feeds and not node.programme:
            node.metered = False


def _extras(stage: Stage, free: bool) -> None:
    """Something else in the same record: another mains move or, where there are faults, another fault."""
    for _ in range(int(stage.rng.integers(0, 3))):
        what = stage.rng.random()
        if what < 0.35 or (free and what < 0.7):
            length = max(events.lasting(stage, n, 1, 5) for n in stage.meters)
            events.sag(stage, stage.slot(length), length, float(stage.rng.uniform(0.04, 0.12)))
        elif not free:
            node = stage.some("root", "stage", "anode", "screen", "cathode")
            length = events.lasting(stage, node.name, 0.5, 10)
            events.dropout(stage, node, stage.slot(length), length, events.depth(stage, node, 0.1))
