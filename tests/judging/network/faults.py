"""Scenes in which a part, a valve or a supply goes wrong."""

from __future__ import annotations

import math

from .bench import Bench, plain_plan, warm_at
from .joints import raised
from .plan import Disturbance, Episode, Plan, held, pulses, sliding


def _stepped(b: Bench, name: str, factor: float) -> Plan:
    plan = plain_plan(b.rng)
    at = b.times(1, warm_at(plan), plan.end_s - 120, 1)[0]
    plan.factors[name] = held(at, factor)
    plan.episodes.append(Episode("step", at))
    return plan


def part_opens(b: Bench) -> Plan:
    """A resistor opens for good."""
    listed = b.blueprint.circuit.tagged(
        "feed", "load", "cathode", "bias", "screen_down", "divider", "bias_down"
    )
    return _stepped(b, b.pick(listed, 1e6), 1e6)


def part_changes(b: Bench) -> Plan:
    """A resistor jumps to another value."""
    listed = b.blueprint.circuit.tagged(
        "feed", "load", "cathode", "bias", "screen_down", "divider", "bias_up"
    )
    factor = float(b.rng.choice([b.between(0.3, 0.75), b.between(1.3, 4)]))
    return _stepped(b, b.pick(listed, factor, 0.03), factor)


def part_shorts(b: Bench) -> Plan:
    """A capacitor begins to leak at once, by little or much."""
    listed = b.blueprint.circuit.tagged("leak")
    factor = b.between(2e-4, 2e-2)
    return _stepped(b, b.pick(listed, factor, 0.04), factor)


def _slid(b: Bench, name: str, factor: float) -> Plan:
    plan = plain_plan(b.rng, length=float(b.rng.uniform(600, 900)))
    start = b.times(1, warm_at(plan) + 40, plan.end_s * 0.55, 1)[0]
    end = min(start + b.between(100, 300), plan.end_s - 20)
    plan.factors[name] = sliding(start, end, factor)
    plan.episodes.append(Episode("drift", start, end))
    return plan


def coupling_leak(b: Bench) -> Plan:
    """A coupling capacitor warms and leaks: the next grid goes positive."""
    listed = b.blueprint.circuit.tagged("coupling")
    factor = b.between(2e-6, 1.5e-5)
    return _slid(b, b.pick(listed, factor), factor)


def cathode_creep(b: Bench) -> Plan:
    """A cathode or bias resistor drifts."""
    factor = float(b.rng.choice([b.between(0.5, 0.75), b.between(1.35, 2.2)]))
    return _slid(b, b.pick(b.blueprint.circuit.tagged("cathode", "bias", "bias_up", "load"), factor), factor)


def valve_fades(b: Bench) -> Plan:
    """A valve loses emission over minutes."""
    factor = b.between(0.35, 0.75)
    valves = sorted({s.valve for s in b.blueprint.circuit.streams})
    return _slid(b, b.pick(valves, factor), factor)


def heater_opens(b: Bench) -> Plan:
    """A heater opens for good; in a chain it takes all with it."""
    plan = plain_plan(b.rng)
    at = b.times(1, warm_at(plan), plan.end_s - 150, 1)[0]
    plan.heaters[_heater(b)] = held(at, 0.0)
    plan.episodes.append(Episode("step", at))
    return plan


def heater_joint(b: Bench) -> Plan:
    """A heater loses contact for some seconds; its cathode cools, and warms again."""
    plan = plain_plan(b.rng)
    starts = b.times(2, warm_at(plan), plan.end_s - 100, 110)
    spans = [(a, a + b.between(6, 20)) for a in starts]
    plan.heaters[_heater(b)] = pulses(spans, 0.0)
    plan.episodes += [Episode("dropout", *span) for span in spans]
    return plan


def _heater(b: Bench) -> int:
    tried = [int(n) for n in b.rng.permutation(len(b.blueprint.circuit.valves))]
    return next((n for n in tried if b.most({}, {n: 0.0}) > 0.08), tried[0])


def rectifier_fails(b: Bench) -> Plan:
    """The HT rectifier opens, or weakens at once (half of it open)."""
    plan = plain_plan(b.rng)
    at = b.times(1, warm_at(plan), plan.end_s - 120, 1)[0]
    factor = 0.0 if b.rng.random() < 0.5 else b.between(0.2, 0.5)
    for name in b.blueprint.fuse:
        plan.factors[name] = held(at, factor)
    plan.episodes.append(Episode("step", at))
    return plan


def fuse_blows(b: Bench) -> Plan:
    """The mains fuse opens: heaters and all supplies go, the mains at its socket stays."""
    plan = plain_plan(b.rng)
    at = b.times(1, warm_at(plan), plan.end_s - 100, 1)[0]
    for supply in b.blueprint.circuit.supplies:
        plan.factors[supply.name] = held(at, 0.0)
    plan.heaters[-1] = held(at, 0.0)
    plan.episodes.append(Episode("step", at))
    return plan


def load_lost(b: Bench) -> Plan:
    """The great load goes (screens or cathode open): the supply rises, past a rating here and there."""
    valves = sorted({s.valve for s in b.blueprint.circuit.streams})
    return _stepped(b, b.pick(valves, 1e-3, 0.15), 1e-3)


def regulator_out(b: Bench) -> Plan:
    """The regulator tube goes out, for good or some times: its point rises."""
    plan = plain_plan(b.rng)
    if b.rng.random() < 0.4:
        at = b.times(1, warm_at(plan), plan.end_s - 90, 1)[0]
        plan.factors["V2"] = held(at, 0.0)
        plan.episodes.append(Episode("step", at))
        return plan
    starts = b.times(3, warm_at(plan), plan.end_s - 40, 50)
    spans = [(a, a + b.between(0.5, 8)) for a in starts]
    plan.factors["V2"] = pulses(spans, 0.0)
    plan.episodes += [Episode("dropout", *span) for span in spans]
    return plan


def regulator_starved(b: Bench) -> Plan:
    """The dropper's value jumps until the tube no longer gets its current."""
    return _stepped(b, "R2", b.between(2.5, 6))


def open_bleeder(b: Bench) -> Plan:
    """The bleeder is open. Switched off again before a valve conducts, the reservoir keeps its charge."""
    plan = plain_plan(b.rng, cold=True)
    on = plan.on[0][0]
    off = on + float(b.rng.uniform(1.2, 2.0))
    plan.on = [(on, off)]
    plan.end_s = off + float(b.rng.uniform(140, 220))
    plan.bleeds, plan.marked = True, True
    for name in b.blueprint.circuit.tagged("bleeder"):
        plan.factors[name] = held(-1e9, 1e6)
    plan.episodes.append(Episode("bleed", off))
    return plan


def never_settles(b: Bench) -> Plan:
    """From its cold start on a part drifts, and goes on doing so."""
    plan = plain_plan(b.rng, cold=True, length=float(b.rng.uniform(420, 600)))
    listed = b.blueprint.circuit.tagged("leak", "feed", "cathode")
    name = b.pick([n for n in listed if "leak" not in n] if b.rng.random() < 0.5 else listed, 3.0, 0.05)
    factor = 3e-3 if name.endswith("leak") else float(b.rng.uniform(1.8, 3.0))
    start = plan.on[0][0] + 20
    plan.factors[name] = sliding(start, plan.end_s, factor)
    plan.episodes.append(Episode("drift", start, plan.end_s))
    return plan


def departs(b: Bench) -> Plan:
    """On a slow bring-up a capacitor breaks down at some voltage and leaks from then on."""
    plan = raised(b)
    at = plan.on[0][0] + float(b.rng.uniform(0.55, 0.85)) * (plan.level[-1][0] - plan.on[0][0])
    factor = b.between(2e-4, 3e-3)
    plan.factors[b.pick(b.blueprint.circuit.tagged("leak"), factor, 0.08)] = held(at, factor)
    plan.episodes.append(Episode("departs", at))
    return plan


def fault_and_step(b: Bench) -> Plan:
    """A part jumps, and some time off the mains steps."""
    plan = part_changes(b)
    at = plan.episodes[0].start
    first, last = warm_at(plan), plan.end_s - 60
    for when in b.times(1, first, last, 1):
        if abs(when - at) > 30:
            plan.disturbances.append(Disturbance(when, math.inf, float(b.rng.uniform(-0.05, 0.07))))
    return plan
