"""Labels by rule, from the noise-free course and the readings: outside, limit, gaps, settled, meters."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from benchtui.chart.chart import Point
from benchtui.model.readings import Flag, Floats
from benchtui.model.units import Unit
from benchtui.sim.mains import STEPS_PER_S
from benchtui.sim.metermodel import MeterModel
from benchtui.sim.receiver import COLUMNS
from benchtui.sim.truth import stretches

from ..case import Answer, Settling, Truth
from .view import FREE, View


def by_rule(view: View) -> Iterator[Truth]:
    """Everything that follows from course and readings alone."""
    for point, meter in view.points():
        yield from _outside(view, point, meter)
        yield from _limits(view, point)
    for name in view.meters:
        yield from _gaps(view, name)
        yield from _overloads(view, name)
    yield from _moods(view)


def beyond(view: View, point: Point, meter: MeterModel, scaled: bool) -> Floats | None:
    """By how much of the nominal a point stands outside its band, step by step; below zero inside."""
    if point.low is None or point.high is None or point.nominal is None:
        return None
    mains = view.true("mains") / 230.0
    follows = scaled and point.follows_mains and point.name != "mains"
    factor = np.where(mains > 0.5, mains, 1.0) if follows else np.ones(len(mains))
    value = view.true(point.name) * (1 + meter.gain)
    out: Floats = np.maximum(point.low * factor - value, value - point.high * factor) / abs(point.nominal)
    return out


def bound(view: View, point: Point, meter: MeterModel) -> float:
    """The meter's greatest error as a part of the nominal; unknown to the program: two counts."""
    part = meter.accuracy.of_reading if view.told_accuracy else 0.0
    return part + 2 * view.count(point.name) / abs(point.nominal or 1.0)


def _outside(view: View, point: Point, meter: MeterModel) -> Iterator[Truth]:
    scaled, plain = beyond(view, point, meter, True), beyond(view, point, meter, False)
    if scaled is None or plain is None:
        return
    off = np.abs(view.true("mains") / 230.0 - 1)
    judged = (off < 0.095) | (not view.tells_mains())
    edge = bound(view, point, meter)
    blur = 3 * view.blur(point.name) / abs(point.nominal or 1.0)
    sure = (np.minimum(scaled, plain) > edge + 0.01) & judged & view.powered(warm=True)
    maybe = (np.maximum(scaled, plain) > -(edge + blur + 0.005)) & view.powered()
    slack = view.slack(point.name)
    needed = max(20.0, 20.0 / meter.rate)
    for first, last in _joined(stretches(maybe), round(5 * STEPS_PER_S)):
        a, b = first / STEPS_PER_S, last / STEPS_PER_S
        found = [
            (first + s, first + e) for s, e in stretches(sure[first:last]) if (e - s) / STEPS_PER_S >= needed
        ]
        found = [(s, e) for s, e in found if view.read_in(point.name, s / STEPS_PER_S, e / STEPS_PER_S) >= 20]
        if found:
            start, end = found[0][0] / STEPS_PER_S, found[-1][1] / STEPS_PER_S
            accept = (("outside", point.name),)
            yield Truth("outside", accept, start, end, True, start - a + slack, end - start + slack, True)
        else:
            late = b - a + slack + 60
            yield Truth(
                "allowed", (("outside", point.name), ("creep", point.name)), a, b, False, slack, late, True
            )


def _joined(parts: list[tuple[int, int]], gap: int) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for first, last in parts:
        if joined and first - joined[-1][1] < gap:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _limits(view: View, point: Point) -> Iterator[Truth]:
    limit = point.limit
    got = view.taken[point.name]
    at = got.t_ns / 1e9
    if point.glow is not None and point.glow.current is not None:
        amps = view.true("regulator current")
        for i, j in stretches(amps > 0.95 * point.glow.current.high):
            start, end = i / STEPS_PER_S, j / STEPS_PER_S
            late = view.slack(None) + end - start
            yield Truth("current", (("limit", point.name),), start, end, False, view.slack(None), late, True)
    if limit is None:
        return
    rating = np.full(len(at), limit)
    for on, _ in view.runs():
        rating[(at >= on) & (at <= on + point.surge_s)] = point.surge or limit
    size = np.where(got.flags == 0, np.abs(got.value), 0.0)
    fits = (got.unit == int(point.unit)) & (size > rating)
    for first, last in stretches(fits):
        a, b = float(at[first]), float(at[last - 1])
        slipped = bool((size[first:last] > 5 * rating[first:last]).any())
        must = not slipped and bool((size[first:last] > 1.004 * rating[first:last]).any())
        # In the seconds after power-on the program may know of the power later than the model.
        must = must and all(abs(a - on - point.surge_s) > 5 for on, _ in view.runs())
        slack = view.slack(point.name)
        yield Truth("limit", (("limit", point.name),), a, b, must, slack, b - a + slack, True)
    for on, _ in view.runs():
        near = (at >= on) & (at <= on + point.surge_s + 5) & (size > limit)
        if near.any():
            accept = (("limit", point.name),)
            yield Truth(
                "surge over", accept, on + point.surge_s - 5, on + point.surge_s + 5, False, 2.0, 5.0, True
            )


def _gaps(view: View, name: str) -> Iterator[Truth]:
    meter, got = view.meters[name], view.taken[name]
    times = [0.0, *(got.t_ns / 1e9).tolist(), view.until]
    for a, b in pairwise(times):
        if b - a > 2.5 / meter.rate:
            must = b - a > max(8.0, 12.0 / meter.rate) and a > 0
            slack = view.slack(name)
            yield Truth("gap", (("gap", name),), a, b, must, slack, b - a + slack)


def _overloads(view: View, name: str) -> Iterator[Truth]:
    meter, got = view.meters[name], view.taken[name]
    at = got.t_ns / 1e9
    for first, last in stretches(got.flags == int(Flag.OVERLOAD)):
        a, b = float(at[first]), float(at[last - 1])
        must = last - first >= 5 and b - a >= 3.0
        slack = max(1.5, 4.0 / meter.rate)
        yield Truth("overload", (("overload", name),), a, b, must, slack, b - a + slack)


def _moods(view: View) -> Iterator[Truth]:
    """A held display, leads turned, the wrong function: the meter's, not the set's."""
    for name, meter in view.meters.items():
        slack = view.slack(name)
        for a, b in meter.held:
            moved = _moves(view, name, a, b) and b - a > max(30.0, 40.0 / meter.rate)
            late = b - a + slack
            yield Truth("frozen", (("frozen", name),), a, b, moved, slack + 3, late)
            yield Truth("after", tuple((k, name) for k in FREE), a, b, False, slack, late, True)
        for a, b in meter.wrong:
            kinds = ("function",) if meter.says_unit else ("function", *FREE)
            accept: tuple[Answer, ...] = tuple((k, name) for k in kinds)
            yield Truth(
                "wrong function", accept, a, b, meter.says_unit and b - a > 8 / meter.rate, slack, slack
            )
            yield Truth("after", (("gap", name),), a, b, False, slack, b - a + slack, True)
        for a, b in meter.reversed:
            must = b - a > 8 / meter.rate and bool(view.powered(warm=True)[round(a * STEPS_PER_S)])
            yield Truth("reversed", (("reversed", name),), a, b, must, slack, slack)
        for slip in meter.slips:
            accept = tuple((k, name) for k in ("limit", "overload", "dropout"))
            yield Truth("slipped point", accept, slip, slip, False, slack, slack, True)


def _moves(view: View, name: str, a: float, b: float) -> bool:
    """True if the point moved by ten counts or more while its meter did not, and another meter showed it."""
    course = view.true(name)[round(a * STEPS_PER_S) : round(b * STEPS_PER_S)]
    smooth = np.convolve(course, np.ones(50) / 50, mode="valid") if len(course) > 50 else course
    return float(np.ptp(smooth)) > max(10 * view.count(name), 0.02 * view.level(name))


def settlings(view: View) -> dict[str, tuple[Settling, ...]]:
    """For each measured DC point and run: when it settles, by the healthy course on a steady mains."""
    found: dict[str, tuple[Settling, ...]] = {}
    variac = any(a.what == "variac" for a in view.evidence.run.done)
    for point, meter in view.points():
        if point.unit is not Unit.V or point.name == "regulator" or variac:
            continue
        each = [s for on, off in view.runs() if (s := _settling(view, point, meter, on, off)) is not None]
        found[point.name] = tuple(each)
    return found


def _settling(view: View, point: Point, meter: MeterModel, on: float, off: float) -> Settling | None:
    a, b = round(on * STEPS_PER_S), round(off * STEPS_PER_S)
    if b - a < 5 * STEPS_PER_S:
        return None
    calm = view.calm[a:b, COLUMNS.index(point.name)]
    final = float(calm[min(len(calm), 400 * STEPS_PER_S) - 1])
    near = max(0.02 * abs(final), 3 * view.count(point.name))
    at, early = (on + _last(np.abs(calm - final) > w) / STEPS_PER_S for w in (near, 2 * near))
    was, would = view.evidence.column(point.name)
    touched = np.abs(was[a:b] - would[a:b]) > 0.006 * view.level(point.name)
    asleep = [
        s for s in (*meter.sleeps, *meter.held, *meter.wrong, *meter.reversed) if s[0] < at + 60 and s[1] > on
    ]
    long = off - at > max(60.0, 30.0 / meter.rate)
    soon = touched[: round((at - on + 60) * STEPS_PER_S)]
    must = (
        long
        and early > on + 3
        and not soon.any()
        and not asleep
        and abs(final) > 0.3 * view.level(point.name)
    )
    must = must and view.read_in(point.name, at, at + 40) > 10
    return Settling(on, off, at, early, final, must)


def _last(mask: np.ndarray) -> int:
    hits = np.flatnonzero(mask)
    return int(hits[-1]) + 1 if len(hits) else 0


def decisions(view: View) -> dict[str, frozenset[str]]:
    """What may be said of each point at the end, where the set is then powered, settled and left alone."""
    if not view.runs() or view.runs()[-1][1] < view.until or view.runs()[-1][0] + 130 > view.until:
        return {}
    found = {}
    tail = slice(len(view.evidence.trace) - 25 * STEPS_PER_S, None)
    mains = view.true("mains")[tail] / 230.0
    if float(np.ptp(mains)) > 0.006 or any(a.what == "variac" for a in view.evidence.run.done):
        return {}
    for point, meter in view.points():
        was = view.true(point.name)[tail]
        ends = view.taken[point.name].t_ns
        busy = float(np.ptp(was)) > 0.01 * view.level(point.name) or not len(ends)
        held = any(
            b > view.until - 40 for a, b in (*meter.held, *meter.wrong, *meter.reversed, *meter.sleeps)
        )
        if (
            busy
            or held
            or ends[-1] / 1e9 < view.until - 6.0 / meter.rate
            or view.taken[point.name].flags[-20:].any()
        ):
            continue
        right = _decision(view, point, meter, tail)
        if right:
            found[point.name] = right
    return found


def _decision(view: View, point: Point, meter: MeterModel, tail: slice) -> frozenset[str]:
    course = beyond(view, point, meter, view.tells_mains())
    if course is None:
        return frozenset({"not judged"})
    if float(np.abs(view.true("mains")[tail] / 230.0 - 1).max()) > 0.09:
        return frozenset()
    by = float(course[tail].mean())
    edge = bound(view, point, meter)
    side = "outside" if by > 0 else "inside"
    blur = 3 * view.blur(point.name) / abs(point.nominal or 1.0)
    if abs(by) > 1.3 * edge + blur + 0.006:
        return frozenset({side})
    if view.told_accuracy and abs(by) < 0.5 * edge - float(np.ptp(course[tail])):
        return frozenset({"undecided"})
    return frozenset({side, "undecided"})
