"""Scenes with dropouts, steps and restless points."""

from __future__ import annotations

from . import events, shapes
from .events import depth, dropout, lasting, moved
from .stage import Stage


def dropouts_of_one(stage: Stage) -> None:
    stage.start()
    winding = ["heater"] if stage.plan.measured_mains is not None else []
    node = stage.some("stage", "anode", "screen", "cathode", "bias", *winding)
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
    meter = stage.meters[node.name]
    smeared = mean < 1.2 * (meter.period_s + meter.window_s)
    _told_as_chatter(stage, node.name, at, length, ("chatter", "dropout") if smeared else ("chatter",))


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


def _told_as_chatter(
    stage: Stage, point: str, at: float, length: float, kinds: tuple[str, ...] = ("chatter",)
) -> None:
    early = max(6.0, 12 * stage.meters[point].period_s)
    late = length * 0.6 + 5
    stage.tell("chatter", point, kinds, at, at + length, True, late_s=late, many=True, early_s=early)
    stage.may(point, ("dropout", "step"), at, at + length + 5)
    if not stage.sure(point, length / 8):
        for child in stage.plan.below(point):
            stage.may(child, ("dropout", "step", "chatter"), at, at + length)


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
    stage.tell("dropout", feed.name, ("dropout",), at, at + length, sure)


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


def fault_in_a_restless_mains(stage: Stage) -> None:
    """The mains never rests; one point drops out and, later, steps."""
    for tau, size in ((4.0, 0.003), (40.0, 0.005), (300.0, 0.005)):
        stage.supply.append(shapes.wander(size, tau, int(stage.rng.integers(2**31))))
    stage.start()
    node = stage.some("stage", "anode", "screen", "cathode")
    for _ in range(2):
        length = lasting(stage, node.name, 1, 15)
        dropout(stage, node, stage.slot(length, before=40), length, depth(stage, node, 0.08))
    moved(stage, node, stage.slot(30, before=40, after=40), 1 - depth(stage, node, 0.05, 0.2))
    stage.tell_mains("restless mains", 0.0, stage.cursor + 60, False, many=True, loose=False)
