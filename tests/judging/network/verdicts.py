"""Labels of levels: settled, outside, ratings passed, and the decision at the end."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ..case import Settling, Truth
from .bench import warm_at
from .blueprint import MAINS
from .reading import Taken
from .record import Record

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


def settlings(record: Record) -> dict[str, tuple[Settling, ...]]:
    """Each point's instant of settling in each run, by the course without fault, sag or wander."""
    found = {}
    for taken in record.taken:
        if taken.meter.spot.unit == "V":
            listed = [_settling(record, taken, n) for n in range(len(record.plan.on))]
            found[taken.meter.spot.name] = tuple(s for s in listed if s is not None)
    return found


def _settling(record: Record, taken: Taken, run: int) -> Settling | None:
    plan, grid = record.plan, record.grid
    on, off = plan.on[run][0], min(plan.on[run][1], plan.end_s)
    if on < 0 or off - on < 60:
        return None
    inside = (grid >= on) & (grid < off - 0.01)
    t, calm = grid[inside], record.courses[taken.meter.spot.name][inside, 3]
    final = float(calm[-1])
    tol = max(0.02 * abs(final), 3 * float(np.median(taken.resolution)))
    away = np.abs(calm - final)
    at = float(t[np.flatnonzero(away > tol)[-1]]) if (away > tol).any() else on
    twice = float(t[np.flatnonzero(away > 2 * tol)[-1]]) if (away > 2 * tol).any() else on
    disturbed = [e.start for e in plan.episodes] + [d.start for d in plan.disturbances]
    disturbed += [x.start for x in plan.troubles]
    m = taken.meter
    after = (taken.t > at + 5) & (taken.t < off)
    asleep = m.sleeps is not None and m.sleeps[0] < at + 100
    must = (
        off - at > 110 and run == 0 and not plan.level and not m.typed and not m.spot.programme
        and not asleep and int(after.sum()) > 40 and all(x > at + 70 for x in disturbed)
        and abs(final) > 30 * float(np.median(taken.resolution)) and plan.fading is None
        and 8 * taken.sigma < 0.02 * abs(final) and plan.wander <= 0.005 and m.spot.tube is None
    )  # fmt: skip
    return Settling(on, off, at, twice, final * m.gain, must)


def _margin(record: Record, taken: Taken) -> Array:
    """By how much a value has to be beyond the band before nobody doubts it."""
    name = taken.meter.spot.name
    size = abs(record.sheet.nominal.get(name, 0.0))
    counts: Array = 4 * taken.resolution + 4 * taken.sigma
    return counts + (0.015 + taken.meter.accuracy) * size


def _outside(record: Record, taken: Taken) -> tuple[Bools, Bools]:
    """(surely outside, perhaps outside) at each reading, whether or not the mains is reckoned with."""
    name = taken.meter.spot.name
    low, high = record.sheet.band[name]
    value, margin = taken.clean[:, 0] * taken.meter.gain, _margin(record, taken)
    mains = np.clip(record.at(taken.t), 0.3, 1.3)
    scale = mains if record.sheet.follows[name] else np.ones(len(mains))
    sure = np.ones(len(value), dtype=np.bool_)
    perhaps = np.zeros(len(value), dtype=np.bool_)
    for by in (np.ones(len(mains)), scale):
        sure &= (value < low * by - margin) | (value > high * by + margin)
        perhaps |= (value < low * by + margin) | (value > high * by - margin)
    return sure, perhaps


def level_truths(record: Record) -> list[Truth]:
    """Outside the chart's band, and past a rating."""
    found: list[Truth] = []
    for taken in record.taken:
        name = taken.meter.spot.name
        if taken.meter.spot.unit == "state" or not len(taken.t):
            continue
        if name in record.sheet.band and not taken.meter.spot.programme:
            found += _outsides(record, taken)
        if name in record.sheet.limit:
            found += _limits(record, taken)
    return found


def _outsides(record: Record, taken: Taken) -> list[Truth]:
    name, t = taken.meter.spot.name, taken.t
    sure, perhaps = _outside(record, taken)
    since = record.on_since(t)
    whole = record.at(t)
    troubled = any(x.spot == name for x in record.plan.troubles)
    sure &= (since > 150) & (np.abs(whole - 1) < 0.08) & ~np.isnan(taken.shown)
    if record.plan.level:
        sure &= t > record.plan.level[-1][0] + 150
    perhaps &= since > 40
    slack = 2 + 2 * taken.meter.slack_s
    gone = not record.has(MAINS) and record.dark()  # nobody can tell it from the switch
    found = []
    doubtful = _stretches(t, perhaps, 6.0 + 3 * taken.meter.period_s)
    for a, b in doubtful:
        found.append(Truth("perhaps outside", (("outside", name), ("creep", name)), a, b, False,
                           slack + 60.0, b - a + slack + 60.0, True))  # fmt: skip
    for a, b in _stretches(t, sure, 2.0 + 3 * taken.meter.period_s):
        count = int(((t >= a) & (t <= b)).sum())
        if b - a > 75 and count > 25 and not taken.meter.typed and not troubled and not gone:
            early = 60.0 + slack + a - min((p for p, q in doubtful if p <= a <= q), default=a)
            found.append(Truth("outside", (("outside", name),), a, b, True, early, 75.0 + slack, True))
    return found


def _stretches(t: Array, mask: Bools, apart: float) -> list[tuple[float, float]]:
    """First and last time of each run of true readings; short pauses do not end one."""
    found: list[tuple[float, float]] = []
    for at in t[mask].tolist():
        if found and at - found[-1][1] <= apart:
            found[-1] = (found[-1][0], at)
        else:
            found.append((at, at))
    return found


def _limits(record: Record, taken: Taken) -> list[Truth]:
    name, t = taken.meter.spot.name, taken.t
    limit, surge, surge_s = record.sheet.limit[name]
    allowed = np.where(record.on_since(t) < surge_s, surge, limit)
    value = np.abs(np.nan_to_num(taken.shown))
    sure = np.abs(taken.clean[:, 0] * taken.meter.gain) > 1.008 * allowed + 3 * taken.sigma
    sure &= ~np.isnan(taken.shown)
    slack = 3 + 3 * taken.meter.slack_s
    found = []
    for a, b in _stretches(t, value > 0.985 * allowed, 20.0):
        found.append(Truth("near a rating", (("limit", name),), a, b, False, slack, b - a + slack, True))
    first = _stretches(t, sure, 30.0)
    if first and int(sure.sum()) >= 3 and not taken.meter.typed:
        a, b = first[0]
        if not any(x.spot == name for x in record.plan.troubles):
            found.append(Truth("limit", (("limit", name),), a, b, True, slack + 5, slack + 10, True))
    return found


def decisions(record: Record) -> dict[str, frozenset[str]]:
    """Points of which someone would say, at the end, that they are inside or outside."""
    plan, found = record.plan, {}
    end = plan.end_s
    acts = [x for e in plan.episodes for x in (e.start, e.end if e.kind != "bleed" else e.start)]
    acts += [x for d in plan.disturbances for x in (d.start, d.end) if d.edge_s < 100]
    if plan.on[-1][1] <= end or end - max(plan.on[-1][0], -200) < 180 or end < warm_at(plan) + 60:
        return {}
    if any(end - 60 < x <= end for x in acts if math.isfinite(x)) or plan.level or plan.fading:
        return {}
    if record.dark() and not record.has(MAINS):
        return {}
    drifting = any(e.kind == "drift" and e.end > end - 60 for e in plan.episodes)
    for taken in record.taken:
        spot = taken.meter.spot
        late = taken.t > end - 30
        if (
            spot.unit != "V" or spot.programme or spot.name not in record.sheet.band or taken.meter.typed
            or int(late.sum()) < 8 or any(x.spot == spot.name for x in plan.troubles) or drifting
            or np.isnan(taken.shown[late]).any() or (np.abs(record.at(taken.t[late]) - 1) > 0.08).any()
        ):  # fmt: skip
            continue
        sure, perhaps = _outside(record, taken)
        if sure[late].all():
            found[spot.name] = frozenset({"outside"})
        elif not perhaps[late].any():
            found[spot.name] = frozenset({"inside"})
    return found
