"""The labels that follow from the noise-free course and the readings alone, by one rule for every scene.

The rule. A *must* is what a skilled and patient person who has all of the record before them would write
down; an *allowed* is what such a person may write or leave. All else is a false alarm.

- Dropout, step, chatter, drift: must where it is at least 8 times the quick noise, 3 counts and 6 times the
  slow wander of that point as its meter reads it, and the meter has two whole readings inside (`Stage.sure`,
  `Stage.clear`). A step of 4 to 6 times the noise is a must where some forty readings stand on either side.
  Told once, at the point where it happened; points fed by it are not to be told again, except where the
  chart does not say that they hang on it, or the feed's own meter could not show it.
  Of chatter, drift and unsettled the beginning is wide: 12 readings, 30 s and 40 s early are right.
- Mains: must where at least two points that share nothing but the mains, or an AC point, show it as above.
  With one branch and no AC point nobody can tell the mains from its first point: either is right.
- Mains wandering by itself: allowed where it moved by half a percent within 90 s; never of a point.
- Outside: must where the point, powered and settled, stands beyond its band by more than the meter's
  accuracy (unknown: 2 counts) and 1 % of the nominal for at least 20 s and 20 readings, whether or not the
  band is scaled with the mains; allowed from half a percent inside the edge on, where scaling decides, and
  of the mains itself.
- Limit: must where a reading passes the rating (after power-on: the surge); for a slipped decimal point
  allowed.
- Settled: must once a point is within 2 % of where it will stay; false before it is within 4 %.
- Gap: must where nothing comes for more than 8 s and 12 periods, allowed from 2.5 periods on. Overload: must
  from 5 readings and 3 s on, allowed for one.
- Slow bleed: must where the point is clearly charged (45 V) at the chart's time.
- Power: must where marked or where the mains is measured; else allowed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from .case import Truth
from .course import Array, Mask
from .meters import Column, Meter
from .sets import Node
from .stage import Stage

CLEARLY_CHARGED_V = 45.0
"""The program's default warning level is 30 V."""


@dataclass(frozen=True, slots=True)
class View:
    """All that the labels are drawn from."""

    stage: Stage
    grid: Array
    mains: Array
    true: dict[str, Array]
    calm: dict[str, Array]
    """The course without events and with a steady mains."""
    columns: dict[str, Column]
    until: float

    def measured(self) -> Iterator[tuple[Node, Meter]]:
        for point, meter in self.stage.meters.items():
            yield self.stage.plan.nodes[point], meter


def truths(view: View) -> list[Truth]:
    """Everything that is told by rule: power, outside, limit, gap, overload and the mains' own wandering."""
    found = [*_power(view), *_wandering(view)]
    for node, meter in view.measured():
        found += [*_outside(view, node, meter), *_limits(view, node)]
    for key, column in view.columns.items():
        found += [*_gaps(view, view.stage.meters[key], column), *_overloads(view.stage.meters[key], column)]
    return found


def bled(view: View, truth: Truth) -> Truth:
    """A slow bleed is a must where the point is still well above the warning level at its time."""
    if truth.name != "slow bleed":
        return truth
    at = int(np.searchsorted(view.grid, truth.end_s))
    point = truth.accept[0][1]
    still = min(at, len(view.grid) - 1)
    assert point is not None
    return replace(truth, must=bool(abs(view.true[point][still]) > CLEARLY_CHARGED_V))


def _joined(parts: list[tuple[int, int]], gap: int) -> list[tuple[int, int]]:
    """Stretches with less than `gap` between them are one."""
    joined: list[tuple[int, int]] = []
    for first, last in parts:
        if joined and first - joined[-1][1] < gap:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def stretches(mask: Mask) -> list[tuple[int, int]]:
    """(first, past last) of each unbroken stretch of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _power(view: View) -> Iterator[Truth]:
    told = view.stage.marked or view.stage.plan.measured_mains is not None
    slack = 3.0 + 2 * view.stage.slowest
    for run in view.stage.runs:
        for kind, at in (("power_on", run.on_s), ("power_off", run.off_s)):
            if 0 < at < view.until:
                yield Truth(kind, ((kind, None),), at, at, told, slack, slack if told else slack + 40)
                if not told and kind == "power_off":
                    yield from _unmarked_off(view, at)
            elif kind == "power_on" and at <= 0:
                yield Truth("joined", ((kind, None),), 0.0, view.until, False, 1.0, slack)


def _unmarked_off(view: View, at: float) -> Iterator[Truth]:
    """Nobody said so: the fall may be told as one of the mains or of the first point of a branch."""
    names = [n.name for n in view.stage.plan.nodes.values()]
    kinds = ("dropout", "step", "outside", "starved")
    accept = (("mains", None), *((k, n) for k in kinds for n in names))
    yield Truth("power off, unmarked", accept, at, view.until, False, 3.0, 30.0, True)


def _wandering(view: View) -> Iterator[Truth]:
    every = max(1, round(0.25 / view.stage.grid_s))
    mains = view.mains[::every] * 1.0
    t = view.grid[::every]
    wide = max(3, round(90 / (every * view.stage.grid_s)))
    moved = (maximum_filter1d(mains, wide) - minimum_filter1d(mains, wide)) / mains > 0.005
    for first, last in stretches(moved):
        a, b = float(t[first]), float(t[last - 1])
        yield Truth("mains wander", (("mains", None),), a, b, False, 8.0, b - a + 8.0, True)


def _powered(view: View) -> Mask:
    on = np.zeros(len(view.grid), dtype=bool)
    for run in view.stage.runs:
        on |= (view.grid >= run.on_s) & (view.grid < run.off_s)
    return on


def _warm(view: View) -> Mask:
    """Powered, and long enough for every point to have settled."""
    warm = np.zeros(len(view.grid), dtype=bool)
    for run in view.stage.runs:
        warm |= (view.grid >= run.on_s + view.stage.settling_s) & (view.grid < run.off_s)
    return warm


def _ripe(view: View) -> Mask:
    """Powered, and so long that most points have settled."""
    ripe = np.zeros(len(view.grid), dtype=bool)
    for run in view.stage.runs:
        ripe |= (view.grid >= run.on_s + 4 * view.stage.plan.heat_s + 10) & (view.grid < run.off_s)
    return ripe


def _by_event(view: View, node: Node, beyond: Array) -> Mask:
    """Outside because of an event, while without it the point would be inside."""
    calm = view.calm[node.name]
    assert node.low is not None
    assert node.high is not None
    return (beyond > 0) & (calm > node.low) & (calm < node.high) & _powered(view)


def _edges(view: View, node: Node, scaled: bool) -> tuple[Array, Array] | None:
    if node.low is None or node.high is None or node.kind == "lamp":
        return None
    factor = view.mains if scaled and node.follows and node.kind != "mains" else np.ones(len(view.grid))
    return node.low * factor, node.high * factor


def beyond_band(view: View, node: Node, scaled: bool) -> Array | None:
    """By how much of the nominal the point stands outside its band; below zero inside."""
    edges = _edges(view, node, scaled)
    if edges is None:
        return None
    low, high = edges
    value = view.true[node.name] * view.stage.meters[node.name].gain
    return np.maximum(low - value, value - high) / abs(node.nominal)


def accuracy_bound(node: Node, meter: Meter) -> float:
    """The meter's greatest error, as a part of the nominal."""
    part, counts = meter.accuracy or (0.0, 2)
    return part + counts * meter.resolution_at(node.level) / abs(node.nominal)


def _outside(view: View, node: Node, meter: Meter) -> Iterator[Truth]:
    scaled, plain = beyond_band(view, node, True), beyond_band(view, node, False)
    if scaled is None or plain is None:
        return
    quick, slow = meter.noise_at(node.level)
    blur = 3 * (quick + slow) / abs(node.nominal)
    bound = accuracy_bound(node, meter)
    least, most = np.minimum(scaled, plain), np.maximum(scaled, plain)
    judged = abs(view.mains - 1) < 0.095 if view.stage.plan.measured_mains is not None else True
    sure = (least > bound + 0.01 + blur / 3) & judged & _warm(view)
    maybe = (most > -(bound + blur + 0.005)) & _powered(view)
    slack = view.stage.slack(node.name)
    needed = max(20.0, 20 * meter.period_s)
    for first, last in _joined(stretches(maybe), round(needed / view.stage.grid_s)):
        a, b = float(view.grid[first]), float(view.grid[last - 1])
        must = [
            s
            for s in stretches(sure[first:last] & (node.kind != "mains"))
            if (s[1] - s[0]) * view.stage.grid_s >= needed
        ]
        if must:
            start = float(view.grid[first + must[0][0]])
            end = float(view.grid[first + must[-1][1] - 1])
            late = b - start + slack
            yield Truth("outside", (("outside", node.name),), start, end, True, start - a + slack, late, True)
        elif (_ripe(view) | _by_event(view, node, plain))[first:last].any():
            yield Truth("allowed", (("outside", node.name),), a, b, False, slack, b - a + slack, True)


def _limits(view: View, node: Node) -> Iterator[Truth]:
    if node.limit is None:
        return
    column = view.columns[node.name]
    rating = np.full(len(column.t), node.limit)
    for run in view.stage.runs:
        if node.surge is not None:
            rating[(column.t >= run.on_s) & (column.t <= run.on_s + node.surge_s)] = node.surge
    rows = zip(column.flag, column.unit, column.point, strict=True)
    fit = column.keep & np.array([not f.startswith("overload") and u == node.unit and p == node.name
                                  for f, u, p in rows])  # fmt: skip
    over = fit & (np.abs(column.value) > rating)
    slipped = over & (np.abs(column.value) > 5 * rating)
    for first, last in stretches(over):
        a, b = float(column.t[first]), float(column.t[last - 1])
        must = not bool(slipped[first:last].any()) and bool(
            (abs(column.value[first:last]) > 1.004 * rating[first:last]).any()
        )
        slack = view.stage.slack(node.name)
        yield Truth("limit", (("limit", node.name),), a, b, must, slack, b - a + slack, True)


def _gaps(view: View, meter: Meter, column: Column) -> Iterator[Truth]:
    for point in dict.fromkeys(column.point):
        here = np.array([p == point for p in column.point]) & column.keep
        times = column.t[here]
        if not len(times):
            continue
        leaves = [at for a, _, at in view.stage.moves if a == point]
        ends = times if leaves or point != column.point[-1] else np.append(times, view.until)
        for a, b in zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True):
            if b - a > 2.5 * meter.period_s:
                must = b - a > max(8.0, 12 * meter.period_s)
                slack = view.stage.slack(point)
                yield Truth("gap", (("gap", point),), a, b, must, slack, b - a + slack)


def _overloads(meter: Meter, column: Column) -> Iterator[Truth]:
    flagged = np.array([f.startswith("overload") for f in column.flag], dtype=bool)[column.keep]
    times, points = column.t[column.keep], [p for p, k in zip(column.point, column.keep, strict=True) if k]
    for first, last in stretches(flagged):
        a, b = float(times[first]), float(times[last - 1])
        must = last - first >= 5 and b - a >= 3
        slack = max(1.5, 4 * meter.period_s)
        yield Truth("overload", (("overload", points[first]),), a, b, must, slack, b - a + slack)
