"""Scenes in which a part fails: rectifier, regulator, lamp, load."""

from __future__ import annotations

from . import events, shapes
from .case import Truth
from .events import dropout, lasting, moved
from .stage import Stage


def rectifier_opens(stage: Stage) -> None:
    """B+ is gone while the heaters and the mains go on: no power-off."""
    stage.start()
    node = stage.plan.of("root")[0]
    at = stage.slot(40, after=40)
    stage.edits[node.name].append(shapes.step(at, 0.0, 0.02))
    extra = () if stage.plan.of("mains", "heater", "bias") else (("power_off", None), ("mains", None))
    stage.tell("B+ gone", node.name, ("dropout", "step"), at, at + 20, True, late_s=6, extra=extra)
    if extra:
        stage.may(node.name, ("outside",), at, at + 60)


def regulator_opens(stage: Stage) -> None:
    """The tube no longer conducts: its point rises to what the feed gives."""
    stage.start()
    node = stage.plan.of("regulated")[0]
    once = stage.rng.random() < 0.5
    length = lasting(stage, node.name, 3, 30)
    at = stage.slot(length if once else 40, after=40)
    shape = shapes.dip(at, at + length, 0.0, 0.001) if once else shapes.step(at, 0.0, 0.001)
    stage.edits[node.name].append(shape)
    kinds = ("dropout", "fed_but_out") if once else ("step", "dropout", "fed_but_out")
    stage.tell(
        "regulator opens", node.name, kinds, at, at + (length if once else 30), stage.sure(node.name, length)
    )
    stage.may(node.name, ("fed_but_out", "step" if not once else "fed_but_out"), at, at + length)


def regulator_starved(stage: Stage) -> None:
    """The feed falls so far that the tube has no current: its point falls with the feed."""
    stage.start()
    node = stage.plan.of("regulated")[0]
    feed = stage.plan.nodes[str(node.parent)]
    length = max(lasting(stage, node.name, 4, 20), lasting(stage, feed.name, 4, 20))
    at = stage.slot(length, after=30)
    part = 1 - node.level * 0.75 / feed.level
    dropout(stage, feed, at, length, part)
    accept = tuple((k, node.name) for k in ("starved",))
    slack = stage.slack(node.name)
    stage.truths.append(Truth("starved", accept, at, at + length, True, slack, slack + length / 2))


def lamp_out_fed(stage: Stage) -> None:
    """The lamp goes out while its feed is as it should be."""
    stage.start(warm=False)
    lamp = stage.plan.of("lamp")[0]
    length = float(stage.rng.uniform(20, 60))
    at = stage.slot(length, after=40)
    stage.edits[lamp.name].append(shapes.dip(at, at + length, 0.0, 0.001))
    for name, kinds in (("lamp out", ("dropout", "step")), ("fed but out", ("fed_but_out",))):
        accept = tuple((k, lamp.name) for k in kinds)
        stage.truths.append(Truth(name, accept, at, at + length, True, 75.0, 4.0))


def lamp_starved(stage: Stage) -> None:
    """The feed of the lamp falls below what holds it."""
    stage.start(warm=False)
    lamp = stage.plan.of("lamp")[0]
    feed = stage.plan.nodes[str(lamp.parent)]
    assert lamp.holds is not None
    length = max(lasting(stage, feed.name, 8, 30), 8.0)
    at = stage.slot(length, after=40)
    part = 1 - float(stage.rng.uniform(0.5, 0.85)) * lamp.holds[0] / feed.level
    dropout(stage, feed, at, length, part)
    accept = (("starved", lamp.name),)
    stage.truths.append(
        Truth("lamp starved", accept, at, at + length, stage.sure(feed.name, length), 75.0, 6.0)
    )
    stage.may(lamp.name, ("dropout", "step"), at - 70, at + length)


def true_peak(stage: Stage) -> None:
    """One true reading above the rating."""
    stage.start()
    node = stage.plan.of("root")[0]
    assert node.limit is not None
    at = stage.slot(2)
    stage.touches.append(
        (node.name, events.one_reading(at, node.limit * float(stage.rng.uniform(1.02, 1.15)), False))
    )
    stage.may(node.name, ("dropout",), at, at + 2)


def above_the_surge(stage: Stage) -> None:
    """Before the valves conduct B+ passes what the capacitor stands."""
    node = stage.plan.of("root")[0]
    node.limit = node.nominal * 1.02 * max(1.06, (stage.plan.surge - 0.03))
    node.limit = round(min(node.limit, node.level * stage.plan.surge * 0.97) / 5) * 5.0
    node.surge = None
    stage.start(warm=False)
    stage.slot(30)


def load_lost(stage: Stage) -> None:
    """The load is gone: B+ rises above its rating and stays there."""
    stage.start()
    node = stage.plan.of("root")[0]
    assert node.limit is not None
    factor = 1.06 * node.limit / (node.level * min(stage.plan.steady, 1.0))
    moved(stage, node, stage.slot(30, after=40), factor)
