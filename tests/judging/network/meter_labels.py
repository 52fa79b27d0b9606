"""Labels of the meters' own faults, of the mains and of the switch."""

from __future__ import annotations

import math

import numpy as np

from ..case import Answer, Truth
from .blueprint import MAINS
from .plan import Disturbance
from .reading import Taken
from .record import Record, shown

RAILS = frozenset({"bias", "negative raw", "negative"})
"""Points on a rectifier of their own: where they move with the others, it is the mains."""


def meter_truths(record: Record) -> list[Truth]:
    """Gaps, overloads, and what the plan did to a meter."""
    found: list[Truth] = []
    for taken in record.taken:
        if taken.meter.spot.unit == "state" or not len(taken.t):
            continue
        found += _gaps(record, taken) + _overloads(record, taken)
    for trouble in record.plan.troubles:
        taken = next(k for k in record.taken if k.meter.spot.name == trouble.spot)
        start, end = max(trouble.start, 0.0), min(trouble.end, record.plan.end_s)
        inside = (taken.t >= start) & (taken.t < end)
        slack = 2 * taken.meter.slack_s + 2
        late = min(end - start, 60.0) if trouble.kind != "frozen" else end - start
        if trouble.kind in ("frozen", "function", "reversed"):
            must = int(inside.sum()) >= 6 if trouble.kind != "frozen" else _stiff(record, taken, inside)
            accept: tuple[Answer, ...] = ((trouble.kind, trouble.spot),)
            found.append(Truth(trouble.kind, accept, start, end, must, slack, late, True))
        if trouble.kind == "frozen":
            back = tuple((k, trouble.spot) for k in ("step", "dropout"))
            found.append(Truth("thaws", back, end, end, False, 1 + slack, 8 + slack, True))
        if trouble.kind == "function":
            found.append(Truth("other unit", (("gap", trouble.spot),), start, end, False, slack, late, True))
    return found


def _stiff(record: Record, taken: Taken, inside: np.ndarray) -> bool:
    """Whether the sound meter would have shown many counts of change while this one stood still."""
    if int(inside.sum()) < 30 or taken.meter.converts_s > taken.meter.period_s:
        return False
    res = float(np.median(taken.resolution))
    moved = float(np.ptp(taken.clean[inside, 0])) / res
    return taken.meter.noise_counts >= 0.8 or moved >= 8


def _gaps(record: Record, taken: Taken) -> list[Truth]:
    """Silence much longer than this meter's own pace."""
    m, end = taken.meter, record.plan.end_s
    if m.typed:  # until a few have been typed nobody knows at which pace they come
        return [Truth("first looks", (("gap", m.spot.name),), 0.0, float(taken.t[min(5, len(taken.t) - 1)]),
                      False, 1.0, float(taken.t[min(5, len(taken.t) - 1)]), True)]  # fmt: skip
    t = np.concatenate([[0.0], taken.t, [end]])
    found = []
    for a, b in zip(t[:-1].tolist(), t[1:].tolist(), strict=True):
        if b - a > 4 * m.period_s + 2.5:
            must = b - a > max(35.0, 20 * m.period_s) and a > 0
            late = min(b - a, 60.0)
            found.append(Truth("silent", (("gap", m.spot.name),), a, b, must, 2 + m.period_s, late, True))
    return found


def _overloads(record: Record, taken: Taken) -> list[Truth]:
    over = np.isnan(taken.shown).astype(int)
    cuts = np.flatnonzero(np.diff(np.concatenate([[0], over, [0]])))
    found = []
    for a, b in zip(cuts[::2].tolist(), cuts[1::2].tolist(), strict=True):
        start, end = float(taken.t[a]), float(taken.t[b - 1])
        must = b - a >= 5 and end - start > 4
        late, accept = 4.0 + 4 * taken.meter.period_s, (("overload", taken.meter.spot.name),)
        found.append(Truth("overload", accept, start, end, must, 2.0, late, True))
    return found


def mains_truths(record: Record) -> list[Truth]:
    """Moves of the mains: those put in, and the stretches in which it wanders by itself."""
    found = [truth for d in record.plan.disturbances for truth in _moved(record, d)]
    grid, wander = record.grid, record.mains[:, 2]
    live = (record.mains[:, 3] > 0) & (grid > 0)
    even = np.arange(0.0, record.plan.end_s, 2.0)
    w = np.interp(even, grid, np.where(live, wander, np.nan))
    acts = [x for e in record.plan.episodes for x in (e.start, e.end) if e.kind != "drift"]
    for k in range(0, len(even), 5):
        part, at = w[max(0, k - 10) : k + 15], float(even[k])
        if any(at - 15 < x < at + 15 for x in acts):
            continue  # there a move of the mains would be the fault's, misnamed
        if np.isfinite(part).any() and np.nanmax(part) - np.nanmin(part) > 0.004 * np.nanmean(part):
            found.append(Truth("wander", (("mains", None),), at, at + 10, False, 0.0, 10.0, True))
    if record.plan.level:
        first, last = record.plan.level[0][0], record.plan.level[-1][0]
        raised: tuple[Answer, ...] = (("mains", None), ("power_on", None))
        found.append(Truth("raised", raised, first, last, False, 5.0, last - first + 20, True))
    return found


def _moved(record: Record, d: Disturbance) -> list[Truth]:
    end = min(d.end, record.plan.end_s)
    pair = (1, 2)
    shows = [shown(record, k, d.start, d.end, pair) for k in record.taken]
    clear = [s for s in shows if s.count >= 2 and s.spot.unit != "state" and not s.spot.programme]
    volts = [s for s in clear if s.spot.unit == "V"]
    direct = any(s.spot.node == MAINS and s.count > 2 for s in clear)
    slack = max((s.slack_s for s in shows if not _typed(record, s.spot.name)), default=1.0)
    must = d.edge_s < 100 and (direct or len(volts) >= 3) and abs(d.share) >= 0.018
    must &= d.edge_s < 5 or abs(d.share) > 7 * record.plan.wander
    accept: tuple[Answer, ...] = (("mains", None),)
    if not record.has_ac and len(volts) < 3:
        seen = [s for s in shows if s.spot.unit == "V" and s.most > 0.5]
        accept += tuple((kind, s.spot.name) for s in seen for kind in ("step", "dropout"))
    accept += _top(record, [s.spot.name for s in volts], d.edge_s > 5)
    first = max((s.first - d.start for s in clear), default=0.0)
    late = max(2 * slack + 3 + first, d.edge_s + slack + 3)
    found = [Truth("mains", accept, d.start, end, must, slack + 2 + min(d.edge_s, 10), late, False)]
    if math.isfinite(d.end) and d.end - d.start > 2:
        back = 3 * slack + 10 + d.edge_s
        found.append(Truth("mains returns", accept, d.end, d.end, False, slack + 2, back, True))
    if d.edge_s > 5:
        found.append(Truth("mains goes on", accept, d.start, end, False, slack, d.edge_s + 20, True))
    for s in shows:
        if s.spot.tube and s.most > 1:
            tube = tuple((k, s.spot.name) for k in ("dropout", "step", "starved", "fed_but_out"))
            found.append(
                Truth("sag at a tube", tube, d.start, end, False, slack + 2, end - d.start + 20, True)
            )
    return found


def _top(record: Record, moved: list[str], slow: bool) -> tuple[Answer, ...]:
    """Where all that is read hangs on one rectifier, with no meter on AC, its first point can be told."""
    if record.has_ac or any(RAILS & {name} for name in moved):
        return ()
    by_name = {s.name: s for s in record.blueprint.spots}
    feeds = {by_name[name].fed_from for name in moved}
    kinds = ("step", "dropout", "drift", "creep") if slow else ("step", "dropout")
    tops = [n for n in moved if n in feeds and by_name[n].fed_from not in moved]
    return tuple((kind, name) for name in tops for kind in kinds)


def _typed(record: Record, name: str) -> bool:
    return any(k.meter.typed for k in record.taken if k.meter.spot.name == name)


def power_truths(record: Record) -> list[Truth]:
    """On and off; what the record begins with, warm, may be told as on."""
    found = []
    told = record.plan.marked or record.has(MAINS)
    for n, (a, b) in enumerate(record.plan.on):
        short = n > 0 and a - record.plan.on[n - 1][1] < 20
        if a >= 0:
            late = 30.0 if not record.plan.level else 200.0
            sure = told and not short and not (record.plan.level and not record.plan.marked)
            found.append(Truth("on", (("power_on", None),), a, b, sure, 4.0, late))
        else:
            found.append(Truth("on before", (("power_on", None),), 0.0, 0.0, False, 1.0, 60.0))
        if math.isfinite(b):
            quick = n + 1 < len(record.plan.on) and record.plan.on[n + 1][0] - b < 20
            found.append(Truth("off", (("power_off", None),), b, b, told and not quick, 4.0, 30.0))
            if not told or quick:
                fall = tuple(
                    (k, m.meter.spot.name) for m in record.taken for k in ("dropout", "step", "outside")
                )
                found.append(Truth("falls", (*fall, ("mains", None)), b, b, False, 4.0, 40.0, True))
    return found
