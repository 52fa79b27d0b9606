"""What stands for each point at the end of what is known: state, decision, values."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.units import Unit

from .bank import Bank
from .place.banding import band, decide, guard
from .place.desk import Desk
from .place.track import NOT_READING, Track


@dataclass(frozen=True, slots=True)
class PointSummary:
    """One point. Values in the point's unit, times in seconds since the session began."""

    point: str
    unit: Unit
    state: str
    """cold, rising, settling, settled, falling, below or unknown."""
    decision: str
    """inside, outside, undecided or `not judged`."""
    value: float | None
    settled: dict[str, float] | None
    drift_per_h: float | None
    predicted: dict[str, float] | None
    bleed: dict[str, float] | None
    why: str | None


def summarise(bank: Bank) -> list[PointSummary]:
    """All points of the chart, in its order, then the points that only the readings name."""
    desk = bank.placer.desk
    names = [p.name for p in bank.chart.points]
    names += [name for name in desk.tracks if name not in names]
    return [_one(bank, name) for name in names]


def _one(bank: Bank, name: str) -> PointSummary:
    desk = bank.placer.desk
    track = desk.tracks.get(name)
    if track is None:
        point = bank.chart.point(name)
        unit = point.unit if point is not None else Unit.UNKNOWN
        why = "not measured"
        return PointSummary(name, unit, "unknown", "not judged", None, None, None, None, None, why)
    if track.unit is Unit.STATE:
        return _lamp(bank, track)
    if track.shown(desk.now_ns) is None and track.newest(desk.now_ns) is None and not track.trouble:
        why = "not read yet"
        return PointSummary(name, track.unit, "unknown", "not judged", None, None, None, None, None, why)
    state = point_state(desk, track)
    decision, why = decision_of(bank, track)
    settled = None
    if track.settled_ns is not None and desk.running:
        tol = bank.placer.settling.tolerance(track, track.settled_level)
        level = track.settled_level
        settled = {
            "value": level, "low": level - tol, "high": level + tol, "at_s": track.settled_ns / 1e9,
        }  # fmt: skip
    value = track.level(desk.now_ns) if track.fresh(desk.now_ns) else None
    if settled is None and not why:
        why = "not settled yet"
    predicted, on_what = bank.placer.foresight.predicted(track)
    bleed, on_what_else = bank.placer.foresight.bleed(track, guess=True)
    why = "; ".join(said for said in (why, on_what, on_what_else) if said)
    drift = drift_per_h(desk, track)
    return PointSummary(
        name, track.unit, state, decision, value, settled, drift, predicted, bleed, why or None
    )


def _lamp(bank: Bank, track: Track) -> PointSummary:
    desk = bank.placer.desk
    lit = bank.placer.lamps.lit(track.name)
    newest = track.newest(desk.now_ns)
    looked = newest is not None and (
        not track.segment.channel.eye or desk.now_ns - newest[0] < LOOKED_S * 1e9
    )
    decision, why = "not judged", None
    if not looked:
        why = "nobody looked lately" if newest is not None else "not looked at yet"
    elif not desk.running:
        why = "the set is off"
    elif lit is not None and track.point.nominal is not None:
        decision = "inside" if lit == (track.point.nominal == 1) else "outside"
        if decision == "outside" and not bank.placer.lamps.outside(track.name):
            decision, why = "not judged", "still warming up"
    value = float(lit) if lit is not None and looked else None
    return PointSummary(track.name, Unit.STATE, "unknown", decision, value, None, None, None, None, why)


WARM_S = 150.0
"""So long after power-on the tail of warming up is no drift."""
STANDS = 0.15
"""A settled point this far from its level, as a part of it, is on its way somewhere."""
LOOKED_S = 60.0
"""So long after the last look a seen state still counts."""


def point_state(desk: Desk, track: Track) -> str:
    """cold, rising, settling, settled, falling, below or unknown."""
    if not track.fresh(desk.now_ns):
        return "unknown"
    level = track.level(desk.now_ns)
    if level is None:
        return "unknown"
    cold = track.cold and abs(level) <= track.segment.course.cold
    if not desk.running:
        if desk.off_ns is None:
            return "cold" if cold else "unknown"
        if abs(level) <= desk.settings.warn_above:
            return "below"
        return "falling"
    if track.settled_ns is not None and abs(level - track.settled_level) <= STANDS * abs(track.settled_level):
        return "settled"
    if cold:
        return "cold"
    if len(track.grains) < 2:
        return "rising" if desk.on_ns is not None else "unknown"
    newest = track.grains[-1]
    part = newest.slope / max(abs(level), 1e-9) * (1.0 if level > 0 else -1.0)
    if part > 0.005:
        return "rising"
    return "falling" if part < -0.05 else "settling"


def decision_of(bank: Bank, track: Track) -> tuple[str, str]:
    """The newest decision and, where there is none, why; a meter that shows no reading first."""
    banding = bank.placer.banding
    desk = bank.placer.desk
    amiss = track.trouble & NOT_READING
    why = "the meter: " + ", ".join(sorted(amiss)) if amiss else ""
    why = why or ("the set is off" if not desk.running else band(desk, track).why)
    why = why or banding.judged(track, desk.now_ns)
    if why:
        return "not judged", why
    known = bank.chart.point(track.name) is not None or not bank.chart.points
    if not known:
        return "not judged", "the chart has no such point"
    if track.name not in banding.decision:
        return "not judged", banding.why.get(track.name, "")
    level = track.level(desk.now_ns) or 0.0
    return decide(band(desk, track), level, guard(track, level)), ""


def drift_per_h(desk: Desk, track: Track) -> float | None:
    """Units per hour over the newest quarter of what the grains remember; None while it can't be told."""
    if track.settled_ns is None or not desk.running or desk.up_s(desk.now_ns) < WARM_S:
        return None
    since = desk.now_ns - 60_000_000_000
    grains = [g for g in track.grains if g.first_ns >= max(since, track.settled_ns)]
    if any(g.away for g in grains):
        return None
    if len(grains) < 4 or grains[-1].at_ns - grains[0].at_ns < 20_000_000_000:
        return None
    half = len(grains) // 2
    early, late = grains[:half], grains[half:]
    rise = sum(g.level for g in late) / len(late) - sum(g.level for g in early) / len(early)
    span = (late[0].at_ns + late[-1].at_ns - early[0].at_ns - early[-1].at_ns) / 2e9
    spread = 3.0 * max(g.noise for g in grains) / half**0.5
    return 0.0 if abs(rise) <= spread else rise / span * 3600.0
