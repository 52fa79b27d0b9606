"""All scenes in a row, with what each needs of the set and the meters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from . import faults_meter, faults_part, faults_quick, faults_slow, quiet
from .stage import Stage


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
    _scene(faults_quick.dropouts_of_one, "branches"),
    _scene(faults_quick.dropouts_of_a_feed, "chain"),
    _scene(faults_slow.outside_at_settle, "branches"),
    _scene(faults_quick.dropouts_after_taps),
    _scene(faults_quick.step_of_one, "branches"),
    _scene(faults_part.lamp_out_fed, "lamp"),
    _scene(faults_quick.dropout_in_warm_up, manner="quick"),
    _scene(faults_quick.bad_contact, "branches"),
    _scene(faults_slow.slow_walk, "branches,mains", 700),
    _scene(faults_meter.frozen, "chain,mains"),
    _scene(faults_quick.long_and_deep),
    _scene(faults_part.regulator_opens, "regulated,chain"),
    _scene(faults_quick.step_of_a_feed, "chain"),
    _scene(faults_meter.knob_on_ac, "mains"),
    _scene(faults_quick.shallow, "branches,mains"),
    _scene(faults_part.true_peak, "limit"),
    _scene(faults_quick.fault_and_mains, "branches,mains", 500),
    _scene(faults_part.rectifier_opens, "mains,heater", extras=False),
    _scene(faults_meter.leads_reversed),
    _scene(faults_quick.small_step, "branches,mains"),
    _scene(faults_slow.creeps_out, "branches,heater", 800),
    _scene(faults_quick.jumps, "branches"),
    _scene(faults_meter.over_range),
    _scene(faults_part.lamp_starved, "lamp"),
    _scene(faults_quick.grows_restless, "branches"),
    _scene(faults_part.above_the_surge, "limit,solid", extras=False),
    _scene(faults_quick.unmetered_feed, "branches,heater"),
    _scene(faults_part.regulator_starved, "regulated,chain"),
    _scene(faults_slow.slow_bleed, "bleed", 500, extras=False),
    _scene(faults_slow.two_outside, "branches,chain"),
    _scene(faults_quick.sleeps_and_drops, "branches"),
    _scene(faults_slow.slow_walk_of_a_feed, "chain,mains", 700),
    _scene(faults_slow.unsettled, "branches", 800, extras=False),
    _scene(faults_part.load_lost, "limit"),
    _scene(faults_quick.fault_in_a_restless_mains, "branches,mains"),
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
    _scene(quiet.sags, "branches,bias,no mains"),
    _scene(quiet.evening, "heater,bias,no mains,branches", 4000, "soak", False),
)
SCENES = {s.name: s for s in (*FAULTS, *QUIET)}
