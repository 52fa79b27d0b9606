"""What an eye tells the placer: few, small, in order of time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, TypeAlias


@dataclass(frozen=True, slots=True)
class Rose:
    """A point left the cold level; `since_ns` is its first reading above it."""

    at_ns: int
    since_ns: int
    value: float


@dataclass(frozen=True, slots=True)
class WentCold:
    """A point has come down to the cold level; `since_ns` is its first reading there."""

    at_ns: int
    since_ns: int
    from_ns: int
    """The last reading at its former level, before it began to fall."""


@dataclass(frozen=True, slots=True)
class Away:
    """A point left its course. `number` tells excursions of one segment apart."""

    at_ns: int
    number: int
    start_ns: int
    level: float
    """Its course before."""
    peak: float
    """The greatest signed deviation so far."""
    abrupt: bool
    """It went in one or two readings."""
    steady: bool
    """It had been steady; False while it still warmed up."""
    noise: float
    before_ns: int
    """The last usable reading before: it left at some instant between the two."""


@dataclass(frozen=True, slots=True)
class Followed:
    """A small move that the course has followed without a word: nothing, unless others went with it."""

    at_ns: int


@dataclass(frozen=True, slots=True)
class Deeper:
    """The deviation of an open excursion has grown."""

    at_ns: int
    number: int
    peak: float


@dataclass(frozen=True, slots=True)
class Back:
    """It is back on its course; `end_ns` is the first reading there."""

    at_ns: int
    number: int
    end_ns: int
    peak: float
    away_ns: int
    """The last reading that was away: it came back at some instant between the two."""


@dataclass(frozen=True, slots=True)
class Steadied:
    """It stands steady at another level; it may still come back."""

    at_ns: int
    number: int
    since_ns: int
    level: float


@dataclass(frozen=True, slots=True)
class Stayed:
    """It stood at the other level for as long as one waits for it to come back."""

    at_ns: int
    number: int
    level: float


@dataclass(frozen=True, slots=True)
class Swinging:
    """Within one excursion it has swung to and fro so often that it is restless."""

    at_ns: int
    number: int
    peak: float


@dataclass(frozen=True, slots=True)
class Lost:
    """The excursion turned into a course of its own (a rise, a fall, a gap): no more is told of it."""

    at_ns: int
    number: int
    peak: float


class Grain(NamedTuple):
    """A grain of readings is full: what the level is now. There are many: a tuple is quickly made."""

    at_ns: int
    first_ns: int
    level: float
    noise: float
    flutter: float
    """The noise from the median of successive differences alone."""
    slope: float
    """Per second, over the last grains."""
    steady: bool
    away: bool
    """An excursion was open in it."""


@dataclass(frozen=True, slots=True)
class Over:
    """A reading beyond the rating: the first, the second, each new peak, the first beyond the surge."""

    at_ns: int
    value: float
    nth: int
    beyond_surge: bool


@dataclass(frozen=True, slots=True)
class NotOver:
    """The first reading back within the rating."""

    at_ns: int
    value: float


@dataclass(frozen=True, slots=True)
class State:
    """A lamp's state changed (or is seen for the first time)."""

    at_ns: int
    lit: bool
    was_ns: int | None
    """The last reading in the former state; None for the first reading."""


@dataclass(frozen=True, slots=True)
class MeterSays:
    """Something about the meter, not about the set: opens (`end_ns` None) or ends."""

    at_ns: int
    kind: str
    """gap, overload, frozen, function, reversed."""
    start_ns: int
    end_ns: int | None
    evidence: tuple[tuple[str, object], ...] = ()


Signal: TypeAlias = (
    Rose
    | WentCold
    | Away
    | Deeper
    | Followed
    | Back
    | Steadied
    | Stayed
    | Swinging
    | Lost
    | Grain
    | Over
    | NotOver
    | State
    | MeterSays
)
