"""Scenes in which something is wrong with the set or a meter is used wrongly."""

from __future__ import annotations

import numpy as np

from . import events, shapes
from .case import Truth
from .events import depth, dropout, lasting, moved
from .stage import SLOW, Stage


def dropouts_of_one(stage: Stage) -> None:
    stage.start()
    node = stage.some("stage", "anode", "screen", "cathode", "bias")
    for _ in range(int(stage.rng.integers(1, 4))):
        length = lasting(stage, node.name)
        dropout(stage, node, stage.slot(length), length, depth(stage, node))


def dropouts_of_a_feed(stage: Stage) -> None:
    stage.start()
    node = stage.some(str(stage.rng.choice(["root", "stage"])))
    for _ in range(int(stage.rng.integers(1, 3))):
        length = lasting(stage, node.name)
        dropout(stage, node, stage.slot(length), length, depth(stage, node))


def dropouts_after_taps(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage", "anode", "screen", "cathode")
    for _ in range(int(stage.rng.integers(3, 6))):
        length = lasting(stage, node.name, most=8)
        at = stage.slot(length)
        tapped = stage.mark(at - stage.rng.uniform(0.05, 0.5), "tap", "", "valve")
        dropout(stage, node, at, length, depth(stage, node, 0.1), tapped)
    stage.mark(stage.slot(0.1), "tap", "nothing this time", "valve")


def dropout_in_warm_up(stage: Stage) -> None:
    stage.start(warm=False)
    node = stage.some("root", "stage")
    on = stage.runs[-1].on_s
    at = on + float(stage.rng.uniform(6.5, 8.5)) * stage.plan.heat_s
    length = lasting(stage, node.name, 0.5, 6)
    dropout(stage, node, at, length, depth(stage, node, 0.15, 0.9))
    stage.cursor = max(stage.cursor, at + length + 20)
    again = lasting(stage, node.name, 0.5, 6)
    dropout(stage, node, stage.slot(again), again, depth(stage, node, 0.1))


def long_and_deep(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage", "anode", "screen")
    length = float(stage.rng.uniform(10, 30)) + 6 * stage.meters[node.name].period_s
    dropout(stage, node, stage.slot(length), length, float(stage.rng.choice([0.5, 0.9, 1.0])))


def shallow(stage: Stage) -> None:
    stage.start()
    node = stage.some("stage", "anode", "screen", "cathode", "root")
    for _ in range(2):
        length = lasting(stage, node.name, 2, 20)
        dropout(stage, node, stage.slot(length), length, depth(stage, node, 0.012, 0.08))


def jumps(stage: Stage) -> None:
    stage.start()
    node = stage.some("anode", "screen", "stage")
    length = lasting(stage, node.name, 1, 20)
    dropout(stage, node, stage.slot(length), length, -depth(stage, node, 0.05, 0.25))


def step_of_one(stage: Stage) -> None:
    stage.start()
    node = stage.some("stage", "anode", "screen", "cathode", "bias")
    sign = stage.rng.choice([-1, 1])
    moved(stage, node, stage.slot(30, after=40), 1 + sign * depth(stage, node, 0.03, 0.25))


def step_of_a_feed(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage")
    moved(stage, node, stage.slot(30, after=40), 1 - depth(stage, node, 0.03, 0.2))


def small_step(stage: Stage) -> None:
    """Four to six times the noise: a patient person sees it on forty readings either side."""
    stage.start()
    node = stage.some("anode", "screen", "cathode", "stage")
    meter = stage.meters[node.name]
    quick, slow = meter.noise_at(node.level)
    size = max(
        stage.rng.uniform(4, 6) * quick, 2.5 * meter.resolution_at(node.level), 8 * slow, 0.006 * node.level
    )
    at = stage.slot(40 * meter.period_s + 20, before=30 + 30 * meter.period_s)
    moved(stage, node, at, 1 + float(stage.rng.choice([-1, 1])) * size / node.level, True)


def bad_contact(stage: Stage) -> None:
    stage.start()
    node = stage.some("root", "stage", "anode", "screen", "cathode")
    mean = max(stage.rng.uniform(0.15, 1.5), 0.8 * stage.meters[node.name].period_s)
    length = max(stage.rng.uniform(10, 50), 20 * mean)
    at = stage.slot(length, after=30)
    part = depth(stage, node, 0.08, 0.6)
    stage.edits[node.name].append(shapes.telegraph(at, at + length, 1 - part, mean, stage.rng))
    _told_as_chatter(stage, node.name, at, length)


def grows_restless(stage: Stage) -> None:
    stage.start()
    node = stage.some("anode", "screen", "cathode", "stage")
    meter = stage.meters[node.name]
    quick, slow = meter.noise_at(node.level)
    size = max(
        stage.rng.uniform(7, 12) * quick, 3 * meter.resolution_at(node.level), 8 * slow, 0.008 * node.level
    )
    length = float(stage.rng.uniform(25, 60)) + 30 * meter.period_s
    at = stage.slot(length, after=30)
    tau = max(0.3, 0.7 * meter.period_s)
    stage.edits[node.name].append(shapes.restless(at, at + length, size / node.level, tau, stage.rng))
    _told_as_chatter(stage, node.name, at, length)


def _told_as_chatter(stage: Stage, point: str, at: float, length: float) -> None:
    stage.tell("chatter", point, ("chatter",), at, at + length, True, late_s=length * 0.6 + 5, many=True)
    stage.may(point, ("dropout", "step"), at, at + length + 5)
    if not stage.sure(point, length / 8):
        for child in stage.plan.below(point):
            stage.may(child, ("dropout", "step", "chatter"), at, at + length)


def slow_walk(stage: Stage) -> None:
    _walks(stage, stage.some("anode", "screen", "cathode", "stage", "bias"))


def slow_walk_of_a_feed(stage: Stage) -> None:
    _walks(stage, stage.some("root", "stage"))


def _walks(stage: Stage, node) -> None:  # type: ignore[no-untyped-def]
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
    stage.tell("drift", node.name, SLOW, at, at + length, True, late_s=length + 30, many=True)
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
    stage.tell("drift", node.name, SLOW, at, at + length, True, late_s=length + 30, many=True)


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
        stage.nature[node.name].append(lambda t, f=factor: np.full(len(t), f))
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
    stage.tell("unsettled", node.name, accept, on + 40, end, True, late_s=end - on, many=True)


def slow_bleed(stage: Stage) -> None:
    """The bleeder is open: far slower than the chart's time."""
    stage.start(marked=True)
    node = stage.plan.of("root")[0]
    assert node.bleed_s is not None
    stage.plan.bleed_s *= 4
    off = stage.slot(1)
    stage.power_off(off)
    late = off + node.bleed_s
    stage.cursor = off + 2.5 * node.bleed_s + 20
    sure = abs(node.level) * np.exp(-1.6 * node.bleed_s / stage.plan.bleed_s) > 45
    stage.tell(
        "slow bleed", node.name, ("slow_bleed",), off, late, bool(sure), late_s=2 * node.bleed_s, many=True
    )
    for child in stage.plan.below(node.name):
        stage.may(child, ("slow_bleed",), off, late + node.bleed_s)


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


def unmetered_feed(stage: Stage) -> None:
    """No meter stands on the feed, but two of its points fall together."""
    stage.start()
    feed = stage.plan.nodes[next(iter(stage.plan.nodes))]
    children = [c for c in stage.plan.below(feed.name) if c in stage.meters]
    length = max([lasting(stage, c, 2, 15) for c in children] or [5.0])
    at = stage.slot(length, after=30)
    part = 0.4
    stage.edits[feed.name].append(shapes.dip(at, at + length, 1 - part, 0.03))
    sure = any(stage.sure(c, length) for c in children)
    stage.tell("dropout", feed.name, ("dropout",), at, at + length, sure, many=True)


def fault_and_mains(stage: Stage) -> None:
    """Dropouts of one point among moves of the mains."""
    stage.start()
    node = stage.some("stage", "anode", "screen", "cathode")
    for _ in range(3):
        length = max(lasting(stage, n, 2, 8) for n in stage.meters)
        events.sag(stage, stage.slot(length), length, float(stage.rng.uniform(0.05, 0.14)))
        length = lasting(stage, node.name, 1, 15)
        dropout(stage, node, stage.slot(length), length, depth(stage, node, 0.08))


def sleeps_and_drops(stage: Stage) -> None:
    """One meter sleeps; another point drops out meanwhile."""
    stage.start()
    names = list(stage.meters)
    sleeper = names[int(stage.rng.integers(len(names)))]
    node = stage.some("stage", "anode", "screen", "root")
    length = lasting(stage, node.name, 2, 10)
    at = stage.slot(length + 40 + 30 * stage.meters[sleeper].period_s, after=30)
    stage.touches.append((sleeper, events.silent(at, stage.cursor - 25)))
    if sleeper == node.name or node.name in stage.plan.below(sleeper):
        return
    dropout(stage, node, at + 25, length, depth(stage, node, 0.1))
