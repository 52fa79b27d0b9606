"""Moves of several points that began together, and what other points answered."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from .kinship import ALIKE, CATHODE_V, alike
from .track import SLIGHT_V, Track

SLACK_NS, LAG_NS = 500_000_000, 1_500_000_000
UNSEEN = -1
"""The number of a move that the point's own eye has not told: a feed that moved as much as what it feeds."""
KICKS = 1.6
"""What moved by so many times what is usual among the points may have kicked at the edge of what moved them.
Common practice, no source."""
OPPOSED = 0.5
"""At least so far, as a part of the greatest, goes what went the other way."""
PARTLY = 0.2
"""Where a meter has shown what is over only in part, this part is one with it."""


class Response(NamedTuple):
    """One other point's answer. `relative` is signed, in parts of its own level."""

    track: Track
    verdict: str
    """moved, still, blind (could not show it), waiting (no reading in the window yet)."""
    relative: float
    complete: bool = True
    """False where its meter may still be on the way: no reading is wholly after the move yet."""
    partly: bool = False
    """It surely went the same way, though by far less."""
    missed: bool = False
    """Blind, though it has read since, and that showed nothing of the move."""


@dataclass(slots=True, eq=False)
class Move:
    """One excursion of one point."""

    track: Track
    number: int
    start_ns: int
    level: float
    peak: float
    noise: float
    steady: bool
    before_ns: int
    end_ns: int | None = None
    stands: float | None = None
    """The level at which it steadied elsewhere."""
    lost: bool = False
    abrupt: bool = False
    """It came within a reading or two."""
    echo: bool = False
    """A later, smaller swing of a point that moved before."""

    @property
    def relative(self) -> float:
        return self.peak / self.level if self.level else 0.0

    @property
    def is_slight(self) -> bool:
        """Of less than a volt, on a point of less than a volt."""
        return abs(self.peak) < SLIGHT_V and self.track.is_slight

    @property
    def whole_ns(self) -> int:
        """From when on its meter shows it whole: a reading has begun after it did."""
        return self.start_ns + int((1.5 * self.track.period_s + 0.3) * 1e9)

    def is_short_for(self, track: Track) -> bool:
        """Whether it is over, and so soon that the meter of a point has shown it in part."""
        return self.end_ns is not None and self.end_ns - self.start_ns <= 2e9 * track.period_s

    def least_for(self, track: Track) -> float:
        """The part of it that another point must have moved by to have moved with it."""
        return PARTLY if self.is_short_for(track) else ALIKE

    @property
    def over(self) -> bool:
        return self.end_ns is not None or self.stands is not None or self.lost


@dataclass(slots=True, eq=False)
class Cluster:
    """Moves with one cause."""

    start_ns: int
    run: int
    moves: list[Move] = field(default_factory=list)
    what: str = ""
    """mains or fault once decided."""
    root: Move | None = None
    finding: int | None = None
    why: str = ""
    mains: float | None = None
    """By what part the mains moved with it, where a meter of it told."""
    doubted: bool = False
    """Whether it was the mains' is asked again, once a meter of it has surely shown the whole."""
    closed: bool = False
    deadline_ns: int = 0
    steady_ns: int = 0
    """When every point of it stood steady elsewhere; 0 while that has not been so."""
    after: Cluster | None = None
    """The way back of a move of the mains that had been told as one that stays."""
    was: list[int] = field(default_factory=list)
    """The findings that told it as a fault, before a late mains meter moved too."""
    feed_due: bool = False
    """Told as a fault of its root before the meter of a feed had read."""
    again_ns: int = 0
    """When it will be looked at again."""
    along: set[str] = field(default_factory=set)
    """The points that went with a move of the mains when it was told."""
    beside: list[str] = field(default_factory=list)
    """Points that moved a little as it began, seen on their grains alone."""
    returned: tuple[int, int] | None = None
    """The root came back after the first of these instants and by the second."""

    def overlaps(self, after_ns: int, until_ns: int) -> bool:
        """Whether something that happened after one instant and until another can have the same cause.

        Each move happened between two readings of its meter; half a second more for lines and filters.
        """
        first = min(m.before_ns for m in self.moves)
        last = max(m.start_ns for m in self.moves)
        return after_ns - SLACK_NS <= last and first <= until_ns + SLACK_NS

    def returns_with(self, move: Move) -> bool:
        """Whether a later move is the return of its root; that of the mains brings every point back."""
        if self.what == "mains" and self.returned is not None:
            after, until = self.returned
            back = move.relative * self.largest.relative < 0 and move.track.point.follows_mains
            least = abs(move.relative) <= 1.5 * abs(self.largest.relative)
            return back and least and move.before_ns - LAG_NS <= until and after <= move.start_ns + SLACK_NS
        if self.returned is None or self.of(move.track) is None or move.start_ns <= self.start_ns:
            return False
        after, until = self.returned
        return move.before_ns - SLACK_NS <= until and after <= move.start_ns + SLACK_NS

    def of(self, track: Track) -> Move | None:
        """The first move of a point in it."""
        return next((m for m in self.moves if m.track is track), None)

    @property
    def told_by(self) -> list[Move]:
        """The moves that tell what moved them: no echoes, and a slight point only where no other moved or
        where it went against them and no AC meter moved: a cathode that rises as its supply falls draws
        more."""
        own = [m for m in self.moves if not m.echo]
        others = [m for m in own if not m.is_slight]
        if not others or len(others) == len(own):
            return own
        if any(m.track.shows_mains for m in others):
            return others
        way = max((m.relative for m in others), key=abs)
        return [m for m in own if not m.is_slight or (m.peak * way < 0.0 and m.track.point.nominal)]

    @property
    def largest(self) -> Move:
        """The one that went farthest, as a part of its level."""
        return max(self.told_by, key=lambda m: abs(m.relative))

    @property
    def usual(self) -> Move:
        """The middle one where the greatest has kicked, or the greatest of those that it kicked against."""
        greatest = max(self.told_by or self.moves, key=lambda m: abs(m.relative))
        return self.typical(KICKS) or self.most_against(greatest) or greatest

    @property
    def relative(self) -> float:
        """By what part of its level the largest went; 0 where there is none."""
        return max((m.relative for m in self.told_by), key=abs, default=0.0)

    def typical(self, times: float) -> Move | None:
        """The middle one of the moves of three points or more, where the greatest is so many times as far."""
        ordered = sorted(self.told_by, key=lambda m: abs(m.relative))
        if len({m.track.name for m in ordered}) < 3:
            return None
        middle = ordered[(len(ordered) - 1) // 2]
        return middle if abs(ordered[-1].relative) > times * abs(middle.relative) else None

    def most_against(self, greatest: Move) -> Move | None:
        """The greatest of those that went the other way, at least half as far; no cathode does alone."""
        others = [m for m in self.told_by if m.track is not greatest.track]
        least = OPPOSED * abs(greatest.relative)
        against = [m for m in others if m.relative * greatest.relative < 0.0 and abs(m.relative) >= least]
        most = max(against, key=lambda m: abs(m.relative), default=None)
        if most is None or abs(most.level) >= CATHODE_V:
            return most
        with_it = (m for m in against if m.track is not most.track and alike(m.relative, most.relative))
        return most if any(with_it) else None

    def names(self, without: Move | None = None) -> list[str]:
        """The points in it, but that of one move, each once, in the order in which they moved."""
        skip = without.track.name if without is not None else None
        found: list[str] = []
        for m in self.moves:
            if m.track.name not in found and m.track.name != skip and not m.track.is_mains:
                found.append(m.track.name)
        return found + [name for name in self.beside if name != skip and name not in found]
