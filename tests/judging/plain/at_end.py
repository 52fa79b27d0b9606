"""When points settled, and what may be said of them at the end."""

from __future__ import annotations

import numpy as np

from .case import Settling
from .course import Mask
from .labels import View, accuracy_bound, beyond_band
from .meters import Meter
from .sets import Node


def settlings(view: View) -> dict[str, tuple[Settling, ...]]:
    """For each measured DC point and each run: when it settles."""
    found: dict[str, tuple[Settling, ...]] = {}
    for node, meter in view.measured():
        if node.unit != "V" or node.kind == "regulated" or node.programme or node.name in view.stage.unjudged:
            continue
        each = [s for run in view.stage.runs if run.off_s > 0
                if (s := _settling(view, node, meter, run.on_s, min(run.off_s, view.until)))]  # fmt: skip
        found[node.name] = tuple(each)
    return found


def _settling(view: View, node: Node, meter: Meter, on: float, off: float) -> Settling | None:
    calm = view.calm[node.name]
    inside = (view.grid >= max(on, 0)) & (view.grid < off)
    if not inside.any():
        return None
    t, value = view.grid[inside], calm[inside]
    final = float(value[-1])
    near = max(0.02 * abs(final), 3 * meter.resolution_at(final))
    at, early = (float(t[0] if (k := _last(abs(value - final) > w)) < 0 else t[min(k + 1, len(t) - 1)])
                 for w in (near, 2 * near))  # fmt: skip
    touched = any(p == node.name and a < at + 60 and b > on - 1 for p, a, b in view.stage.disturbed)
    long = off - at > max(60, 30 * meter.period_s)
    cold = on > 0 and early > on + 3 and abs(final) > 0.3 * abs(node.level)
    return Settling(on, off, at, early, final, long and cold and not touched)


def _last(mask: Mask) -> int:
    hits = np.flatnonzero(mask)
    return int(hits[-1]) if len(hits) else -1


def decisions(view: View) -> dict[str, frozenset[str]]:
    """What may be said of each point at the end, where the set is then powered, settled and left alone."""
    if not view.stage.runs or view.stage.runs[-1].off_s < np.inf:
        return {}
    if view.stage.runs[-1].on_s + view.stage.settling_s + 40 > view.until:
        return {}
    found = {}
    for node, meter in view.measured():
        column = view.columns[node.name]
        busy = any(
            p == node.name and b > view.until - 25 and a < view.until for p, a, b in view.stage.disturbed
        )
        gone = node.name in view.stage.unjudged or any(a == node.name for a, _, _ in view.stage.moves)
        if node.programme or busy or gone or column.t[column.keep][-1] < view.until - 6 * meter.period_s:
            continue
        right = _decision(view, node, meter)
        if right:
            found[node.name] = right
    return found


def _decision(view: View, node: Node, meter: Meter) -> frozenset[str]:
    measured = view.stage.plan.measured_mains is not None
    off = float(abs(view.mains[-1] - 1))
    if node.low is None or node.high is None:
        return frozenset({"not judged"})
    if measured and off > 0.097:
        return frozenset({"not judged"}) if off > 0.103 and node.follows else frozenset()
    beyond = beyond_band(view, node, measured)
    assert beyond is not None
    tail = beyond[-round(5 / view.stage.grid_s) :]
    by = float(np.mean(tail))
    side = "outside" if by > 0 else "inside"
    bound = accuracy_bound(node, meter)
    if abs(by) > 1.3 * bound + 3 * sum(meter.noise_at(node.level)) / abs(node.nominal) + 0.004:
        return frozenset({side})
    if meter.accuracy is not None and abs(by) < 0.5 * bound - float(np.ptp(tail)):
        return frozenset({"undecided"})
    return frozenset({side, "undecided"})
