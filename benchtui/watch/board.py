"""What a person is shown, as frozen records: made whole at one instant, drawn by the dashboard as it stands.

Everything is decided here and nothing is formatted: numbers, words and signs, no layout.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from benchtui.model.findings import Finding
from benchtui.model.notes import Mark
from benchtui.model.units import Unit


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its 95 % bounds, and the seconds (since the session began) at which it is reached."""

    value: float
    low: float
    high: float
    at_s: float
    at_low_s: float
    at_high_s: float


@dataclass(frozen=True, slots=True)
class Row:
    """One point of the chart, now."""

    point: str
    unit: Unit
    sign: str
    """One of = !! ? ^ v ~ x # or empty (nothing to say: cold, off)."""
    word: str
    """in, lit, out, `out, low`, `out, high`, undecided, rising, falling, settling, restless, no reading,
    RATING passed, overload, off, `below 30 V`, not measured, cold, unknown."""
    value: float | None
    """The newest reading; None without one. For STATE: 1 lit, 0 out."""
    level: float | None
    """The median of the last 0.5 s, for digits that do not flicker."""
    step: float
    """One count of the meter's last digit; 0 where unknown."""
    noise: float
    """Its standard deviation, at least the step's own."""
    low: float | None
    nominal: float | None
    high: float | None
    """The band as it holds now: scaled by the mains where the point follows it and the mains is measured."""
    limit: float | None
    age_s: float | None
    """Since the newest reading; None where there never was one."""
    period_s: float | None
    """The meter's usual time between readings."""
    meter: str | None
    """On which meter its lead is; None if on none."""
    seen: bool = False
    settled: bool = False
    drift_per_h: float | None = None
    """None while it can't be told; 0.0 is `steady`."""
    predicted: Interval | None = None
    bleed: Interval | None = None
    fault: int | None = None
    """The finding of severity fault that is on it and still lasts, or that is not acknowledged; else None."""
    acknowledged: bool = True
    accuracy: float | None = None
    """The meter's greatest error at this value, in the point's unit, where known."""
    where: str = ""
    """Where the chart says it is."""
    channel: int | None = None
    """Place in the channel table of the channel whose lead is on it; None if none is."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """What the top bar says."""

    live: bool = False
    phase: str = "cold"
    """cold (no power-on yet), on, off (after power-off, something is above the level or not measured),
    below (all that were above have given fresh readings below)."""
    point: str | None = None
    """The point to be named first: the highest that is known."""
    value: float | None = None
    unit: Unit = Unit.V
    meter: str | None = None
    age_s: float | None = None
    """Old when there is no fresh reading of it."""
    not_measured: tuple[str, ...] = ()
    """Points that were above the level and have no fresh reading."""
    bleed: Interval | None = None
    """The latest of all points' times to fall below the level; None if it can't be told."""
    bleed_known: bool = False
    warn_above: float = 30.0


@dataclass(frozen=True, slots=True)
class Board:
    """Everything on the first screen, at one instant."""

    at_ns: int = 0
    set_name: str = ""
    chassis: str = ""
    run: int = 0
    """0 before the first power-on."""
    on_ns: int | None = None
    """When the present run began; None while off."""
    on_seen: bool = True
    """False for a run whose power-on was before the record."""
    run_since_ns: int | None = None
    """Since when a run that nobody saw begin has been watched."""
    off_ns: int | None = None
    """When the last run ended; None while on or before the first."""
    hazard: Hazard = field(default_factory=Hazard)
    mains: float | None = None
    rows: tuple[Row, ...] = ()
    """In the order of the chart."""
    findings: tuple[Finding, ...] = ()
    """All that stand, in the order in which they were announced."""
    acknowledged: frozenset[int] = frozenset()
    marks: tuple[Mark, ...] = ()
    """All marks so far."""
    recording: bool = False
    replaying: bool = False
    paused: bool = False
    fast: float = 1.0
    """How many times faster than life; 1.0 on a real bench."""
    large: tuple[str, ...] = ()
    """Points to be drawn large, the most wanted first; empty: the screen takes the first of the chart that
    have a meter."""
    next_point: str | None = None
    """The point to measure next; None: the screen takes the first of the chart that has no meter."""
    started: datetime | None = None
    """Wall time at the session's beginning, aware, in the zone it is to be shown in; None where unknown."""
