"""Scenes with a bad joint; and the slow bring-up."""

from __future__ import annotations

from .bench import Bench, flicker, plain_plan, warm_at
from .plan import Disturbance, Episode, Plan, pulses


def _pulsed(
    b: Bench, plan: Plan, starts: list[float], lengths: list[float], tags: tuple[str, ...] = ()
) -> Plan:
    name, factor = b.joint(*tags)
    spans = [(a, a + n) for a, n in zip(starts, lengths, strict=True)]
    plan.factors[name] = pulses(spans, factor)
    plan.episodes += [Episode("dropout", a, e) for a, e in spans]
    return plan


def joint(b: Bench) -> Plan:
    """A joint opens a few times, once all is warm."""
    plan = plain_plan(b.rng)
    starts = b.times(int(b.rng.integers(1, 5)), warm_at(plan), plan.end_s - 40, 45)
    return _pulsed(b, plan, starts, [b.between(0.3, 12) for _ in starts])


def joint_warming(b: Bench) -> Plan:
    """A joint opens while the set warms."""
    plan = plain_plan(b.rng, cold=True)
    on = plan.on[0][0]
    starts = b.times(2, on + 22, on + 110, 30)
    return _pulsed(b, plan, starts, [b.between(0.6, 5) for _ in starts])


def burst(b: Bench) -> Plan:
    """A joint opens several times within seconds."""
    plan = plain_plan(b.rng)
    at = b.times(1, warm_at(plan), plan.end_s - 60, 1)[0]
    starts, lengths = [], []
    for _ in range(int(b.rng.integers(3, 7))):
        starts.append(at)
        lengths.append(b.between(0.2, 1.5))
        at += lengths[-1] + b.between(0.6, 3)
    return _pulsed(b, plan, starts, lengths)


def periodic(b: Bench) -> Plan:
    """A joint opens at even intervals, as something warms and cools."""
    plan = plain_plan(b.rng)
    every = float(b.rng.uniform(28, 60))
    first = warm_at(plan)
    count = min(7, int((plan.end_s - 20 - first) / every))
    starts = [first + every * (n + 0.04 * float(b.rng.normal())) for n in range(count)]
    length = b.between(0.8, 4)
    return _pulsed(b, plan, starts, [length] * count)


def tapped(b: Bench) -> Plan:
    """A joint opens when the chassis is tapped, and not at every tap."""
    plan = plain_plan(b.rng)
    taps = b.times(6, warm_at(plan), plan.end_s - 40, 30)
    follows = [t for t in taps if b.rng.random() < 0.7] or taps[:1]
    plan.taps = [round(t, 1) for t in taps]
    plan = _pulsed(b, plan, [round(t, 1) + 0.15 for t in follows], [b.between(0.4, 4) for _ in follows])
    plan.episodes = [Episode(e.kind, e.start, e.end, round(e.start - 0.15, 1)) for e in plan.episodes]
    return plan


def chatter(b: Bench) -> Plan:
    """A joint flickers for a while."""
    plan = plain_plan(b.rng)
    start = b.times(1, warm_at(plan), plan.end_s - 80, 1)[0]
    end = start + b.between(12, 45)
    name, _ = b.joint("load", "cathode", "feed")
    plan.factors[name] = flicker(b.rng, start, end)
    plan.episodes.append(Episode("chatter", start, end))
    return plan


def winding_joint(b: Bench) -> Plan:
    """The lead of the HT winding or of a rectifier makes bad contact: all of that supply falls."""
    plan = plain_plan(b.rng)
    starts = b.times(int(b.rng.integers(1, 4)), warm_at(plan), plan.end_s - 40, 60)
    spans = [(a, a + b.between(0.3, 6)) for a in starts]
    names = b.blueprint.fuse
    if b.blueprint.family in ("push-pull", "bench supply") and b.rng.random() < 0.4:
        names = [s.name for s in b.blueprint.circuit.supplies if s.name not in names]
    for name in names:
        plan.factors[name] = pulses(spans, 0.0)
    plan.episodes += [Episode("dropout", *span) for span in spans]
    return plan


def lamp_joint(b: Bench) -> Plan:
    """The neon lamp's resistor loses contact: the lamp goes out, its feed stands."""
    plan = plain_plan(b.rng)
    starts = b.times(3, warm_at(plan), plan.end_s - 40, 50)
    spans = [(a, a + b.between(2, 15)) for a in starts]
    plan.factors[b.blueprint.circuit.tagged("lamp")[0]] = pulses(spans, 1e8)
    plan.episodes += [Episode("dropout", *span) for span in spans]
    return plan


def joint_and_mains(b: Bench) -> Plan:
    """A joint that opens, on an evening with sags."""
    plan = joint(b)
    for at in b.times(3, warm_at(plan), plan.end_s - 60, 50):
        length = b.between(2, 25)
        if all(abs(e.start - x) > 20 for e in plan.episodes for x in (at, at + length)):
            plan.disturbances.append(Disturbance(at, at + length, float(b.rng.uniform(0.03, 0.09))))
    return plan


def raised(b: Bench) -> Plan:
    """A bring-up on a variable transformer, in steps of some volts."""
    plan = plain_plan(b.rng, cold=True, length=float(b.rng.uniform(600, 800)))
    on, share = plan.on[0][0], 0.25
    plan.level = [(on, share)]
    at = on
    while share < 1.0:
        at += float(b.rng.uniform(14, 28))
        plan.level.append((at, share))
        share = min(1.0, share + float(b.rng.uniform(0.03, 0.065)))
        plan.level.append((at + 0.8, share))
    plan.end_s = max(plan.end_s, at + 150)
    return plan
