"""The voltage chart of one set, as records: what each point should read, and under which conditions."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from benchtui.model.units import Unit


@dataclass(frozen=True, slots=True)
class Span:
    """A quantity known to lie between two values, in SI units."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MeterLoad:
    """The meter that a chart assumes: ohms per volt of its range, or a fixed input resistance."""

    ohms_per_volt: float | None = None
    ohms: float | None = None

    def on_range(self, full_scale: float | None) -> float | None:
        """Ohms on the range with this full scale in volts; None where the range is needed and not known."""
        if self.ohms_per_volt is None:
            return self.ohms
        return None if full_scale is None else self.ohms_per_volt * full_scale


@dataclass(frozen=True, slots=True)
class Glow:
    """What a neon lamp or gas regulator tube needs. Volts (AC where its feed is an AC point) and amperes."""

    strikes: Span
    """May light at `low`, must light at `high`."""
    holds: Span
    """May stay lit down to `low`, must stay lit down to `high`; where a regulator states only its current,
    0 .. where it must strike, which says no more than is known."""
    current: Span | None = None
    """A regulator tube works between these; None for a lamp."""


@dataclass(frozen=True, slots=True)
class Point:
    """A test point: a named place in the circuit, DC or AC. SI units throughout."""

    name: str
    unit: Unit
    """V, Vac, A, Aac, or STATE for a point that is lit or out."""
    where: str = ""
    reference: str = "chassis"
    conditions: str = ""
    nominal: float | None = None
    """As the chart prints it, at the chart's mains; 1 is `lit`, 0 `out`; None where it gives only bounds."""
    low: float | None = None
    high: float | None = None
    """The tolerance band at the chart's mains; None where the chart gives none."""
    limit: float | None = None
    """The working rating: never, not for one reading. A size, positive also where the point is negative."""
    surge: float | None = None
    surge_s: float = 0.0
    """What it stands after power-on (a size, like the limit), and for how many seconds."""
    ripple: float | None = None
    range: float | None = None
    """The range, in volts, that the chart's meter was on."""
    follows_mains: bool = True
    moves: str = ""
    """`programme` for a point that moves with the signal; else empty."""
    fed_from: str | None = None
    through: float | None = None
    """Ohms between the feed and this point."""
    current: float | None = None
    """Amperes drawn at this point."""
    source_resistance: float | None = None
    """Ohms that a meter on this point loads; None where unknown."""
    bleed_s: float | None = None
    """Seconds after power-off by which the point is to be below the warning level, where the chart says."""
    glow: Glow | None = None
    seen: bool = False
    """No meter on it: the technician's eye, one key."""
    line: int | None = None
    """Where in the file it stands."""


@dataclass(frozen=True, slots=True)
class Part:
    """A component, for the reasoning."""

    name: str
    kind: str
    value: float | None
    """In the SI unit of its kind."""
    joins: tuple[str, str] | None = None
    """The two places it stands between."""
    tolerance: Span | None = None
    """Factors on the value, like 0.9 .. 1.1."""
    unit: Unit = Unit.UNKNOWN
    """Of the value."""


@dataclass(frozen=True, slots=True)
class Derived:
    """A quantity worked out from points."""

    name: str
    uses: tuple[tuple[str, str], ...]
    """(name in the formula, point)."""
    formula: str
    """Checked; `formula_text.parse_formula` gives it ready to be worked out."""
    limit: float | None = None
    unit: Unit = Unit.UNKNOWN
    """What it comes out in; UNKNOWN for a plain number."""


@dataclass(frozen=True, slots=True)
class Chart:
    """One set's voltage chart, checked: every name resolves, the supply tree has no loops."""

    name: str
    mains: float | None = None
    """Volts AC that the chart assumes; None where it states none."""
    meter: MeterLoad | None = None
    rectifier: str = ""
    """solid, direct, indirect, or empty where unknown."""
    filter: str = ""
    """capacitor, choke, or empty."""
    chassis: str = ""
    """isolated, live, or empty."""
    points: tuple[Point, ...] = ()
    parts: tuple[Part, ...] = ()
    derived: tuple[Derived, ...] = ()
    text: str = ""
    """The TOML it was read from, as written; a session carries it."""
    _by_name: dict[str, Point] = field(init=False, repr=False, compare=False, default_factory=dict)
    _feeds: dict[str, tuple[str, ...]] = field(init=False, repr=False, compare=False, default_factory=dict)
    _carries: dict[str, int] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._by_name.update({p.name: p for p in self.points})
        self._feeds.update({name: tuple(self._upstream(name)) for name in self._by_name})
        self._carries.update(Counter(feed for p in self.points for feed in self._feeds[p.name]))

    def point(self, name: str) -> Point | None:
        return self._by_name.get(name)

    def feeds(self, name: str) -> tuple[str, ...]:
        """The points upstream of this one, nearest first."""
        return self._feeds.get(name, ())

    def carries(self, name: str) -> int:
        """How many points this one feeds, directly or not."""
        return self._carries.get(name, 0)

    def is_linked(self, name: str) -> bool:
        """Whether the chart says what feeds this point, or which other voltage it feeds."""
        return bool(self.feeds(name)) or any(p.fed_from == name and p.unit.is_voltage for p in self.points)

    def _upstream(self, name: str) -> list[str]:
        found: list[str] = []
        point = self._by_name.get(name)
        while point is not None and point.fed_from is not None and point.fed_from not in found:
            found.append(point.fed_from)
            point = self._by_name.get(point.fed_from)
        return found

    def mains_point(self) -> Point | None:
        """The point that is the mains itself: an AC point named `mains` (any case), if the chart has one."""
        for p in self.points:
            if p.unit is Unit.VAC and p.name.lower() == "mains":
                return p
        return None
