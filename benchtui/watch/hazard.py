"""Whether something can hurt: LIVE from power-on whatever the meters read, and how it ends.

It goes only when every point that read above the level has since given a fresh unflagged reading below it, on
the same lead. No gap, overload, moved lead or restart ever clears it.
"""

from __future__ import annotations

from benchtui.model.units import Unit

from .bank import Bank
from .board import Hazard, Interval
from .charged import Charged
from .place.desk import Desk


def hazard(bank: Bank) -> Hazard:
    """What the top bar says as of the bank's watermark."""
    desk = bank.placer.desk
    level = desk.settings.warn_above
    charged = list(bank.hazard.charged.values())
    standing = [c for c in charged if not c.cleared]
    live = desk.running or bool(standing)
    first = _first(desk, standing, charged)
    phase = _phase(desk, charged, live)
    if first is None:
        return Hazard(live=live, phase=phase, warn_above=level)
    fresh = _is_fresh(desk, first)
    value = first.value if not first.cleared else first.below_value
    at = first.at_ns if not first.cleared else first.below_ns
    latest = _latest(bank, standing) if phase == "off" else None
    return Hazard(
        live=live,
        phase=phase,
        point=first.point,
        value=value,
        unit=first.unit,
        meter=first.meter,
        age_s=0.0 if fresh else (desk.now_ns - at) / 1e9,
        not_measured=tuple(c.point for c in standing if not _is_fresh(desk, c)),
        bleed=latest,
        bleed_known=latest is not None,
        warn_above=level,
    )


def _latest(bank: Bank, standing: list[Charged]) -> Interval | None:
    """The latest time at which the measured points are below the level; None where it can't be told."""
    desk = bank.placer.desk
    times: list[Interval] = []
    for c in standing:
        if not _is_fresh(desk, c):
            continue
        found, _ = bank.placer.foresight.bleed(desk.tracks[c.point])
        if found is None:
            return None
        below = found["below"]
        times.append(Interval(below, below, below, found["at_s"], found["at_low_s"], found["at_high_s"]))
    return max(times, key=lambda i: i.at_high_s) if times else None


def _phase(desk: Desk, charged: list[Charged], live: bool) -> str:
    if desk.running:
        return "on"
    if live:
        return "off" if desk.off_ns is not None else "on"
    return "below" if charged else "cold"


def _first(desk: Desk, standing: list[Charged], charged: list[Charged]) -> Charged | None:
    """The highest fresh DC point; else the highest that is known. The mains socket is no news."""
    pool = standing or charged
    inner = [c for c in pool if c.point.lower() != "mains"] or pool
    if not inner:
        return None
    return max(inner, key=lambda c: (_is_fresh(desk, c), c.unit is Unit.V, _size(c)))


def _size(c: Charged) -> float:
    """What is beyond the meter's range may be anything."""
    return abs(c.value) if c.value is not None else float("inf")


def _is_fresh(desk: Desk, c: Charged) -> bool:
    track = desk.tracks.get(c.point)
    return track is not None and track.segment.channel.name == c.channel and track.fresh(desk.now_ns)
