"""Scenes in which nothing is wrong with the set, and much may tempt a hasty person to say so."""

from __future__ import annotations

import numpy as np

from . import events, shapes
from .course import Run
from .events import mains_step, sag
from .stage import Stage


def plain_start(stage: Stage) -> None:
    stage.start(warm=False)
    stage.slot(180)


def soak(stage: Stage) -> None:
    stage.grid_s = 0.1
    stage.start()
    stage.slot(float(stage.rng.uniform(3500, 7000)))


def sags(stage: Stage) -> None:
    stage.start()
    for _ in range(int(stage.rng.integers(2, 5))):
        slowest = max(events.lasting(stage, n, 0.3, 6) for n in stage.meters)
        sag(
            stage,
            stage.slot(slowest),
            slowest,
            float(stage.rng.uniform(0.04, 0.2)) * float(stage.rng.choice([1, 1, -0.5])),
        )


def mains_steps(stage: Stage) -> None:
    stage.start()
    factor = 1 + float(stage.rng.uniform(0.02, 0.05)) * float(stage.rng.choice([-1, 1]))
    mains_step(stage, stage.slot(30, after=50), factor)
    mains_step(stage, stage.slot(30, after=50), 1 / factor)


def evening(stage: Stage) -> None:
    """The mains goes down by 4 % within an hour, and some of it comes back."""
    stage.grid_s = 0.1
    stage.start()
    at = stage.slot(3600)
    stage.supply.append(shapes.ramp(at, at + 3600, 0.96))
    stage.tell_mains("evening dip", at, at + 3600, False, many=True, loose=False)
    if not stage.plan.tells_mains:
        stage.may(stage.plan.of("root")[0].name, ("drift", "creep"), at, at + 3600)


def sags_close_together(stage: Stage) -> None:
    stage.start()
    count = int(stage.rng.integers(3, 6))
    gap = float(stage.rng.uniform(2, 8)) + 3 * stage.slowest
    length = 1.0 + 3.5 * stage.slowest
    at = stage.slot(count * (gap + length), after=30)
    part = float(stage.rng.uniform(0.04, 0.12))
    for k in range(count):
        start = at + k * (gap + length)
        stage.supply.append(
            shapes.dip(start, start + length, 1 - part * float(stage.rng.uniform(0.6, 1.4)), 0.05)
        )
    end = at + count * (gap + length)
    stage.tell_mains("mains sags, close", at, end, events.shows_mains(stage, length, part * 0.6), many=True)


def music(stage: Stage) -> None:
    stage.start()
    at = stage.slot(180)
    for node in stage.plan.nodes.values():
        if node.programme:
            loud = shapes.music(float(stage.rng.uniform(0.1, 0.3)), int(stage.rng.integers(2**31)))
            stage.edits[node.name].append(shapes.between(at, at + 170, loud))


def warm_restart(stage: Stage) -> None:
    stage.start(warm=False)
    off = stage.slot(8, before=40)
    stage.power_off(off)
    stage.power_on(off + float(stage.rng.uniform(6, 10)))
    stage.cursor += stage.settling_s
    stage.slot(20)


def second_run(stage: Stage) -> None:
    stage.start(warm=False)
    off = stage.slot(30)
    stage.power_off(off)
    stage.cursor = off + float(stage.rng.uniform(60, 150))
    stage.power_on(stage.cursor)
    stage.cursor += stage.settling_s
    stage.slot(40)


def switched_off(stage: Stage) -> None:
    """Bleeds down and stays at zero for minutes."""
    stage.start()
    stage.power_off(stage.slot(10))
    stage.slot(240)


def sleeping_meter(stage: Stage) -> None:
    stage.start()
    names = list(stage.meters)
    name = names[int(stage.rng.integers(len(names)))]
    at = stage.slot(60)
    length = float(stage.rng.uniform(20, 60)) + 15 * stage.meters[name].period_s
    stage.touches.append((name, events.silent(at, at + length)))
    stage.disturbed.append((name, at, at + length))
    stage.cursor = max(stage.cursor, at + length + 15)


def sleeps_through_settling(stage: Stage) -> None:
    stage.start(warm=False)
    name = stage.some("stage", "anode", "screen", "root").name
    on = stage.runs[-1].on_s
    stage.touches.append((name, events.silent(on + 6, on + stage.settling_s - 5)))
    stage.disturbed.append((name, on, on + stage.settling_s))
    stage.slot(60)


def range_edge(stage: Stage) -> None:
    """A meter that hovers about the end of its range, and changes to and fro."""
    stage.start(warm=False)
    for node in stage.plan.of("root", "stage", "anode", "screen"):
        meter = stage.meters[node.name]
        if abs(node.nominal) > 100:
            lead = abs(node.level) * stage.plan.steady
            meter.counts = int(
                lead * float(stage.rng.uniform(0.999, 1.001)) / 10 ** np.floor(np.log10(lead)) * 1000
            )
            meter.full_v = None
            meter.white = max(meter.white, 0.0008)
            meter.at_change = str(stage.rng.choice(["half", "overload"]))
            break
    stage.slot(150)


def lead_moves(stage: Stage) -> None:
    stage.start()
    at = stage.slot(4, after=60)
    free = [
        n
        for n in stage.plan.nodes.values()
        if not n.metered and n.kind in ("anode", "screen", "cathode", "stage")
    ]
    taken = [n.name for n in stage.plan.of("anode", "screen", "cathode", "stage")]
    if free and taken:
        stage.moves.append((taken[0], free[0].name, at))
        stage.may(taken[0], ("gap",), at - 1, at + 3)
        stage.may(free[0].name, ("outside",), at, stage.cursor + 300)
        stage.disturbed += [(taken[0], at, np.inf), (free[0].name, 0.0, np.inf)]
    stage.slot(60)


def held(stage: Stage) -> None:
    stage.start()
    name = stage.some("root", "stage", "anode").name
    length = float(stage.rng.uniform(10, 60)) + 8 * stage.meters[name].period_s
    at = stage.slot(length)
    stage.touches.append((name, events.repeats(at, at + length, "hold")))
    stage.may(name, ("frozen", "gap"), at, at + length)


def quiet_numbers(stage: Stage) -> None:
    """Few digits, no noise, and a mains that hardly moves: the same number for minutes, with right."""
    stage.supply = [shapes.wander(0.00005, 100, int(stage.rng.integers(2**31)))]
    for meter in stage.meters.values():
        meter.counts, meter.white, meter.wander, meter.beat = 2000, 0.0, 0.0, 0.0
        meter.full_v = None
    stage.start()
    stage.slot(400)


def slipped_point(stage: Stage) -> None:
    stage.start()
    for _ in range(2):
        name = stage.some("root", "stage", "anode", "screen").name
        at = stage.slot(3)
        factor = float(stage.rng.choice([10.0, 10.0, 0.1]))
        stage.touches.append((name, events.one_reading(at, factor, True)))
        if factor < 1:
            stage.may(name, ("dropout",), at, at + 2)


def bring_up(stage: Stage) -> None:
    """A valve-rectified set on a variable transformer, 10 V at a time."""
    stage.marked = True
    stage.power_on(10.0)
    volts = np.append(np.arange(10, stage.plan.mains, 10), stage.plan.mains) / stage.plan.mains
    each = float(stage.rng.uniform(18, 35))
    starts = 10 + each * np.arange(len(volts))

    def supply(t: np.ndarray) -> np.ndarray:
        k = np.clip(np.searchsorted(starts, t, side="right") - 1, 0, len(volts) - 1)
        return np.asarray(np.minimum(volts[k], 1.0) / stage.plan.steady)

    def knee(t: np.ndarray) -> np.ndarray:
        part = supply(t) * stage.plan.steady
        return np.asarray(np.clip((part - 0.45) / 0.25, 0.0, 1.0) ** 0.7)

    stage.supply.append(supply)
    for node in stage.plan.of("root"):
        stage.nature[node.name].append(knee)
    end = float(starts[-1] + each)
    stage.tell_mains("bring-up", 0.0, end, False, many=True, loose=False)
    for node in stage.plan.nodes.values():
        stage.may(node.name, ("unsettled",), 60.0, end)
    stage.cursor = end + stage.settling_s
    stage.slot(60)


def long_flat_top(stage: Stage) -> None:
    """A solid or directly heated rectifier leads by long: a plateau that is not settled."""
    stage.plan.heat_s, stage.plan.wakes, stage.plan.tail = 10.5, 0.78, 0.001
    stage.start(warm=False)
    stage.slot(60)


def nobody_looks(stage: Stage) -> None:
    stage.start(warm=False)
    at = stage.slot(620)
    stage.unlooked.append((at, at + 610))


def restless_mains(stage: Stage) -> None:
    """A mains that never rests; all points follow."""
    for tau, size in ((4.0, 0.004), (40.0, 0.006), (300.0, 0.006)):
        if stage.plan.tells_mains:
            stage.supply.append(shapes.wander(size, tau, int(stage.rng.integers(2**31))))
    stage.start()
    end = stage.slot(300) + 300
    if stage.plan.tells_mains:
        stage.tell_mains("restless mains", 0.0, end + 60, False, many=True, loose=False)


def noisy_points(stage: Stage) -> None:
    for meter in stage.meters.values():
        meter.white = float(stage.rng.uniform(0.002, 0.006))
        meter.wander = float(stage.rng.uniform(0.0005, 0.0015))
        meter.beat = float(stage.rng.uniform(0.0005, 0.003))
    stage.start()
    stage.slot(300)


def joined(stage: Stage) -> None:
    """The record begins with a warm set."""
    stage.runs.append(Run(-3000.0, np.inf))
    stage.cursor = 10.0
    stage.slot(250)
