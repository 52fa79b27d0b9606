"""Scenes in which a meter is used wrongly or shows what is not so."""

from __future__ import annotations

import numpy as np

from . import events, shapes
from .case import Truth
from .stage import Stage


def frozen(stage: Stage) -> None:
    """The display stands still while the mains moves everything else."""
    stage.start()
    nodes = [n for n in stage.plan.of("root", "stage", "anode", "screen") if not n.programme]
    node = nodes[int(stage.rng.integers(len(nodes)))]
    meter = stage.meters[node.name]
    meter.white = max(meter.white, 2.0 * meter.resolution_at(node.level) / node.level)
    length = float(stage.rng.uniform(60, 120)) + 40 * meter.period_s
    at = stage.slot(length, after=30)
    stage.supply.append(shapes.dip(at + 0.5 * length, at + 0.8 * length, 1 - 0.05, 0.1))
    stage.tell_mains("mains sag", at + 0.5 * length, at + 0.8 * length, events.shows_mains(stage, 20, 0.05))
    events.trouble(stage, node.name, "frozen", at, length, events.repeats(at, at + length))
    stage.may(node.name, ("step", "dropout"), at + length - 2, at + length + 2)


def knob_on_ac(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage", "anode")
    length = float(stage.rng.uniform(8, 40)) + 8 * stage.meters[node.name].period_s
    at = stage.slot(length, after=30)
    ripple = float(stage.rng.uniform(0.1, 3))
    events.trouble(stage, node.name, "function", at, length, events.as_ac(at, at + length, stage.rng, ripple))
    stage.may(node.name, ("gap",), at, at + length)


def leads_reversed(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage", "anode", "bias")
    always = stage.rng.random() < 0.4
    length = float(stage.rng.uniform(15, 60)) + 15 * stage.meters[node.name].period_s
    at = stage.slot(length, after=30)
    if always:
        stage.touches.append((node.name, events.turned(0, np.inf)))
        stage.unjudged.add(node.name)
        end = at + length
        stage.truths.append(Truth("reversed", (("reversed", node.name),), 0.0, end, True, 1.0, end, True))
        return
    stage.touches.append((node.name, events.silent(at - 1.5, at)))
    events.trouble(stage, node.name, "reversed", at, length, events.turned(at, at + length))


def over_range(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage", "anode", "screen", "cathode")
    length = float(stage.rng.uniform(3, 20)) + 6 * stage.meters[node.name].period_s
    at = stage.slot(length, after=30)
    stage.touches.append((node.name, events.overloads(at, at + length)))
    stage.disturbed.append((node.name, at, at + length))
