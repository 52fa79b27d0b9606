"""The plain generator: textbook shapes added to synthetic noise, with nothing in common with the simulated set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import events, faults, quiet
from .case import Answer, Case, Settling, Stream, Truth
from .play import play
from .sets import Plan, Rng, build
from .stage import Stage

__all__ = ["SCENES", "Answer", "Case", "Settling", "Stream", "Truth", "make"]


@dataclass(frozen=True, slots=True)
class Scene:
    """A scene and what it needs of the set and the meters."""

    play: Callable[[Stage], None]
    needs: frozenset[str] = frozenset()
    long_s: float = 400.0
    manner: str = ""
    extras: bool = True

    @property
    def name(self) -> str:
        return self.play.__name__


def _scene(play: Callable[[Stage], None], needs: str = "", long_s: float = 400.0, manner: str = "",
           extras: bool = True) -> Scene:  # fmt: skip
    return Scene(play, frozenset(n for n in needs.split(",") if n), long_s, manner, extras)


FAULTS = (
    _scene(faults.dropouts_of_one, "branches"),
    _scene(faults.dropouts_of_a_feed, "chain"),
    _scene(faults.outside_at_settle, "branches"),
    _scene(faults.dropouts_after_taps),
    _scene(faults.step_of_one, "branches"),
    _scene(faults.lamp_out_fed, "lamp"),
    _scene(faults.dropout_in_warm_up, manner="quick"),
    _scene(faults.bad_contact, "branches"),
    _scene(faults.slow_walk, "branches,mains", 700),
    _scene(faults.frozen, "chain"),
    _scene(faults.long_and_deep),
    _scene(faults.regulator_opens, "regulated,chain"),
    _scene(faults.step_of_a_feed, "chain"),
    _scene(faults.knob_on_ac, "mains"),
    _scene(faults.shallow, "branches,mains"),
    _scene(faults.true_peak, "limit"),
    _scene(faults.fault_and_mains, "branches,mains", 500),
    _scene(faults.rectifier_opens, "mains,heater"),
    _scene(faults.leads_reversed),
    _scene(faults.small_step, "branches,mains"),
    _scene(faults.creeps_out, "branches,heater", 800),
    _scene(faults.jumps, "branches"),
    _scene(faults.over_range),
    _scene(faults.lamp_starved, "lamp"),
    _scene(faults.grows_restless, "branches"),
    _scene(faults.above_the_surge, "limit,solid", extras=False),
    _scene(faults.unmetered_feed, "branches,heater"),
    _scene(faults.regulator_starved, "regulated,chain"),
    _scene(faults.slow_bleed, "bleed", 500, extras=False),
    _scene(faults.two_outside, "branches,chain"),
    _scene(faults.sleeps_and_drops, "branches"),
    _scene(faults.slow_walk_of_a_feed, "chain,mains", 700),
    _scene(faults.unsettled, "branches", 800, extras=False),
    _scene(faults.load_lost, "limit"),
)
QUIET = (
    _scene(quiet.plain_start),
    _scene(quiet.sags),
    _scene(quiet.soak, "branches", 5000, "soak"),
    _scene(quiet.mains_steps, "branches"),
    _scene(quiet.warm_restart, extras=False),
    _scene(quiet.music, "programme"),
    _scene(quiet.evening, "mains,branches", 4000, "soak", False),
    _scene(quiet.sleeping_meter),
    _scene(quiet.range_edge),
    _scene(quiet.switched_off, extras=False),
    _scene(quiet.bring_up, "mains,indirect", 700, extras=False),
    _scene(quiet.lead_moves, "branches,chain"),
    _scene(quiet.slipped_point, "limit"),
    _scene(quiet.quiet_numbers, long_s=500, manner="steady", extras=False),
    _scene(quiet.long_flat_top, "solid"),
    _scene(quiet.sags_close_together, "branches"),
    _scene(quiet.held),
    _scene(quiet.second_run, extras=False),
    _scene(quiet.noisy_points, "branches"),
    _scene(quiet.restless_mains, "mains,branches"),
    _scene(quiet.nobody_looks, "lamp", 800),
    _scene(quiet.joined),
    _scene(quiet.sleeps_through_settling),
    _scene(quiet.soak, "mains,heater", 5000, "soak"),
)
SCENES = {s.name: s for s in (*FAULTS, *QUIET)}


def make(seed: int) -> Case:
    """The case of this seed; every third is fault-free. The same seed gives the same case, byte for byte."""
    third, place = divmod(seed, 3)
    free = place == 0
    scene = QUIET[third % len(QUIET)] if free else FAULTS[(2 * third + place - 1) % len(FAULTS)]
    rng = np.random.default_rng([1957, seed])
    plan = build(rng, scene.needs)
    _leave_out(plan, scene, rng)
    stage = Stage(rng, plan, scene.long_s, scene.manner)
    stage.fault_free = free
    scene.play(stage)
    if scene.extras:
        _extras(stage, free)
    return play(stage, seed, scene.name)


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
