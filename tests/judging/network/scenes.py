"""Which scene a seed plays, and the scenes in which the set is sound."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import faults, joints
from .bench import Bench, plain_plan, warm_at
from .plan import Disturbance, Plan, Trouble

ALL = (0, 1, 2, 3, 4)


@dataclass(frozen=True, slots=True)
class Scene:
    """A scene and the families that can play it."""

    name: str
    play: Callable[[Bench], Plan]
    families: tuple[int, ...] = ALL


def cold_start(b: Bench) -> Plan:
    return plain_plan(b.rng, cold=True)


def warm_record(b: Bench) -> Plan:
    return plain_plan(b.rng, cold=False)


def wandering(b: Bench) -> Plan:
    plan = plain_plan(b.rng, length=float(b.rng.uniform(600, 900)))
    plan.wander, plan.flutter = float(b.rng.uniform(0.006, 0.012)), float(b.rng.uniform(0.0005, 0.0015))
    return plan


def sags(b: Bench) -> Plan:
    plan = plain_plan(b.rng)
    for at in b.times(4, warm_at(plan), plan.end_s - 60, 55):
        share = float(b.rng.uniform(0.02, 0.11)) * (1 if b.rng.random() < 0.8 else -0.6)
        plan.disturbances.append(Disturbance(at, at + b.between(0.4, 25), share))
    return plan


def mains_steps(b: Bench) -> Plan:
    plan = plain_plan(b.rng)
    for at in b.times(2, warm_at(plan), plan.end_s - 90, 110):
        share = float(b.rng.uniform(0.02, 0.055)) * (1 if b.rng.random() < 0.5 else -1)
        plan.disturbances.append(Disturbance(at, math.inf, share))
    return plan


def mains_ramp(b: Bench) -> Plan:
    plan = plain_plan(b.rng)
    at = b.times(1, warm_at(plan), plan.end_s - 180, 1)[0]
    share = float(b.rng.uniform(0.03, 0.07)) * (1 if b.rng.random() < 0.7 else -1)
    plan.disturbances.append(Disturbance(at, math.inf, share, float(b.rng.uniform(20, 90))))
    return plan


def range_changes(b: Bench) -> Plan:
    plan = plain_plan(b.rng, cold=True)
    plan.ranging = True
    return plan


def sleepers(b: Bench) -> Plan:
    plan = plain_plan(b.rng)
    plan.sleepers = True
    return plan


def power_off(b: Bench) -> Plan:
    plan = plain_plan(b.rng)
    plan.on = [(plan.on[0][0], plan.end_s - float(b.rng.uniform(80, 200)))]
    plan.bleeds = bool(b.rng.random() < 0.5)
    return plan


def warm_restart(b: Bench) -> Plan:
    plan = plain_plan(b.rng, length=float(b.rng.uniform(480, 640)))
    off = float(b.rng.uniform(200, 300))
    plan.on = [(plan.on[0][0], off), (off + b.between(5, 60), math.inf)]
    return plan


def evening_dip(b: Bench) -> Plan:
    plan = plain_plan(b.rng, cold=False, length=float(b.rng.uniform(2400, 3000)))
    plan.slow = True
    plan.disturbances.append(Disturbance(300, math.inf, float(b.rng.uniform(0.025, 0.045)), 1700))
    return plan


def fading(b: Bench) -> Plan:
    plan = plain_plan(b.rng)
    rate = float(b.rng.uniform(0.02, 0.2))
    plan.fading = lambda t: 0.75 + 0.25 * np.sin(rate * t) * np.sin(0.31 * rate * t + 1)
    return plan


def _troubled(kind: str) -> Callable[[Bench], Plan]:
    def play(b: Bench) -> Plan:
        plan = plain_plan(b.rng)
        spot = str(b.rng.choice([s.name for s in b.spots if s.unit == "V"]))
        start = b.times(1, warm_at(plan), plan.end_s - 160, 1)[0]
        whole = kind in ("function", "reversed") and b.rng.random() < 0.5
        end = start + float(b.rng.uniform(40, 120))
        if kind == "frozen":
            plan.wander, plan.flutter = 0.006, 0.0012
            end = start + float(b.rng.uniform(90, 150))
        plan.troubles.append(Trouble(kind, spot, -1.0 if whole else start, math.inf if whole else end))
        return plan

    return play


QUIET = (
    *(
        Scene(play.__name__, play)
        for play in (
            cold_start, sags, warm_record, mains_steps, wandering, joints.raised, sleepers, power_off,
            mains_ramp, range_changes, warm_restart, evening_dip,
        )
    ),
    Scene("fading", fading, (3,)),
)  # fmt: skip
_FAMILY = {
    "regulator_out": (4,), "regulator_starved": (4,), "lamp_joint": (1, 4), "coupling_leak": (0, 1, 2, 3),
    "open_bleeder": (1,),
}  # fmt: skip
FAULTS = (
    *(
        Scene(play.__name__, play, _FAMILY.get(play.__name__, ALL))
        for play in (
            joints.joint, faults.part_changes, joints.burst, faults.coupling_leak, faults.heater_opens,
            joints.joint_warming, faults.regulator_out, joints.chatter, faults.rectifier_fails,
            joints.tapped, faults.part_opens, faults.cathode_creep, joints.periodic, faults.fuse_blows,
            joints.joint_and_mains, joints.lamp_joint, faults.part_shorts, faults.open_bleeder,
            faults.heater_joint, faults.valve_fades, joints.winding_joint, faults.regulator_starved,
            faults.load_lost, faults.never_settles, faults.departs, faults.fault_and_step,
        )
    ),
    *(
        Scene(f"meter_{kind}", _troubled(kind))
        for kind in ("gap", "overload", "frozen", "function", "reversed")
    ),
)  # fmt: skip


def scene_of(seed: int) -> tuple[Scene, bool]:
    """The scene of a seed, and whether nothing is wrong in it: so in every third."""
    third, place = divmod(seed, 3)
    if place == 0:
        return QUIET[third % len(QUIET)], True
    return FAULTS[(2 * third + place - 1) % len(FAULTS)], False


def family_of(seed: int, scene: Scene) -> int:
    """The family that plays it."""
    choice = np.random.default_rng([seed, 11]).integers(len(scene.families))
    return scene.families[int(choice)]
