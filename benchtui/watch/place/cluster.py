"""Moves of several points that began together: one cause, and which point is to blame for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from benchtui.chart.chart import Chart

from .desk import Track

MAINS_MOST = 0.13
"""Where only points of one supply tree are measured, a common move of up to this part of their level is taken
for the mains, a greater one for the tree's own feed. Common practice, no source."""
SLACK_NS, LAG_NS = 500_000_000, 1_500_000_000
GROWS_S = 1.2
"""A move whose beginning no other meter could show is given so long to grow."""
SWITCH_S = 0.35
"""The mains meter alone says after so long that a fall is not the switch-off: a meter may be late by that."""
LATE_S, SURELY_LATE_S = 1.0, 2.0
"""A mains meter that averages may be so late; points that share nothing with each other count before it, and
for the second a heater that moved alike."""
SHARED = 0.5
"""A feed that moved by at least this part of what a point moved by carries the move."""
SHARED_SLOW, SLOWER = 0.25, 1.6
"""Of a fall this part is enough of a feed whose meter is so many times slower: it may show it in part."""
ABOUT = 0.75
"""Moves of this part of each other are about as great."""
UNSEEN = -1
"""The number of a move that the point's own eye has not told: a feed that moved as much as what it feeds."""
ALIKE = 0.4
"""Moves of at least this part of each other are one."""
PARTLY = 0.2
"""Where a meter has shown what is over only in part, this part is one with it."""
ENOUGH, ENOUGH_DEEP, DEEP = 3, 2, 0.1
"""So many points that stood still speak for the mains before its own meter has; fewer where one moved by more
than such a part."""
CATHODE_V = 20.0
"""Fewer volts than this, and positive, may be a cathode's, which follows what feeds its valve. Common
practice, no source."""
OUTVOTED = 4
"""So many points that moved together count more than one of a few volts that did not. Common practice, no
source."""
IN_PART = 0.1
"""A point that went the same way by this part of what two others did did not stand still."""
FAR_MORE = "far more than the mains explains"
BY_ITS_OWN_TREE = "every measured point moved in proportion"
ALONE = "no other point moved with it"
APART = "points with nothing in common but the mains moved together"
INFERRED = (BY_ITS_OWN_TREE, APART)
"""Why a move is taken for the mains' where no meter of the mains tells."""
KICK_MOST = 0.5
"""Where others move as the mains does, a point may kick by up to this at its edge: a stage whose bias lags
behind its supply. Common practice, no source."""
KICK_TIMES = 12.0
"""But by no more than so many times what the mains did. Common practice, no source."""
MORE = 4.0
"""A point that moved by so many times what the mains did has a fault of its own: the current of a valve with
fixed bias goes with a power of its voltages. Common practice, no source."""


class Response(NamedTuple):
    """One other point's answer. `relative` is signed, in parts of its own level."""

    track: Track
    verdict: str
    """moved, still, blind (could not show it), waiting (no reading in the window yet)."""
    relative: float
    complete: bool = True
    """False where its meter may still be on the way: no reading is wholly after the move yet."""
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
    def largest(self) -> Move:
        return max((m for m in self.moves if not m.echo), key=lambda m: abs(m.relative))

    def typical(self, times: float) -> Move | None:
        """The middle one of the moves of three points or more, where the greatest is so many times as far."""
        ordered = sorted((m for m in self.moves if not m.echo), key=lambda m: abs(m.relative))
        if len({m.track.name for m in ordered}) < 3:
            return None
        middle = ordered[(len(ordered) - 1) // 2]
        return middle if abs(ordered[-1].relative) > times * abs(middle.relative) else None

    def names(self, without: Move | None = None) -> list[str]:
        """The points in it, but that of one move, each once, in the order in which they moved."""
        skip = without.track.name if without is not None else None
        found: list[str] = []
        for m in self.moves:
            if m.track.name not in found and m.track.name != skip and not m.track.is_mains:
                found.append(m.track.name)
        return found + [name for name in self.beside if name != skip and name not in found]


def is_mains(
    chart: Chart, reference: Move, answers: Sequence[Response], age_s: float, last: bool
) -> tuple[str, str]:
    """Whether a move was the mains': `yes`, `no` or `wait`, and why.

    The mains meter decides where it can. Else a point that has nothing but the mains in common with the one
    that moved, or its own feed, tells by following or by staying.
    """
    name = reference.track.name
    early_enough = age_s > GROWS_S or not answers
    if reference.track.is_mains:
        return "yes", "the mains meter moved"
    feeds = chart.feeds(name)
    follow = [a for a in answers if a.track.point.follows_mains and not a.track.is_mains]
    down = [a for a in follow if name in chart.feeds(a.track.name)]
    up = [a for a in follow if a.track.name in feeds]
    kin = [a for a in follow if a not in down and a not in up and set(chart.feeds(a.track.name)) & set(feeds)]
    free = [a for a in follow if are_apart(chart, name, a.track.name)]
    still = [a for a in [*up, *kin, *free] if a.verdict == "still"]
    if reference.track.is_heater:
        still = [a for a in still if not a.track.is_small]
    joined = _with_it(free, reference)
    still = _tell_against(chart, still, joined, reference)
    held = 0 if _are_outvoted(still, free, reference) else len(still)
    meter = next((a for a in answers if a.track.is_mains), None)
    if meter is not None and meter.verdict != "blind":
        if meter.verdict == "waiting" and not last and held < enough(reference):
            return "wait", ""
        if meter.verdict == "moved":
            far = abs(reference.relative) > 2.0 * MORE * abs(meter.relative)
            others = _moved_alike(follow, meter.relative)
            if far and (is_no_kick(reference.relative, meter.relative) or not others):
                return "no", FAR_MORE
            return "yes", "the mains meter moved with it"
        if meter.verdict == "still":
            supply_falls = not feeds and chart.carries(name) > 0 and reference.relative < 0
            switched = supply_falls and _may_be_the_switch(meter, follow, age_s)
            if not last and (switched or _meter_is_late(meter, reference, free, age_s)):
                return "wait", ""
            return "no", "the mains meter did not move"
    if not reference.track.point.follows_mains:
        return "no", "it does not follow the mains"
    if any(a.track.is_heater or reference.track.is_heater for a in joined):
        return "yes", "a heater and a supply, which share nothing but the mains, moved together"
    if held and not last and _may_be_late(joined, free, held < enough(reference), age_s):
        return "wait", ""
    if held:
        return "no", "others did not move"
    if not last and any(a.verdict == "waiting" for a in follow):
        return "wait", ""
    if joined and abs(reference.relative) <= 2 * MAINS_MOST:
        return "yes", APART
    if any(a.verdict == "still" for a in down):
        return "no", "what it feeds did not move"
    if (
        not early_enough
        and not last
        and not reference.over
        and not any(a.verdict == "still" for a in answers)
    ):
        return "wait", ""
    tree = _moved_alike([*up, *kin, *down], reference.relative)
    if tree and abs(reference.relative) <= MAINS_MOST:
        return "yes", BY_ITS_OWN_TREE
    return "no", ALONE if not tree else "too much for the mains"


def _tell_against(
    chart: Chart, still: Sequence[Response], joined: Sequence[Response], reference: Move
) -> list[Response]:
    """Those that tell against a common cause though points which share nothing moved together.

    What went the same way in part shows it late or filtered; what one of those feeds that moved is held by a
    filter or a tube regulator between.
    """
    names = {a.track.name for a in joined if not may_follow_unsaid(chart, a.track)}
    return [
        a
        for a in still
        if not names
        or (a.relative / reference.relative < IN_PART and not names & set(chart.feeds(a.track.name)))
    ]


def _are_outvoted(still: Sequence[Response], free: Sequence[Response], reference: Move) -> bool:
    """Whether only a grid or a cathode stood still, which goes with more than the supply, and many moved."""
    if not still or not all(a.track.is_small for a in still):
        return False
    return len(_moved_alike(free, reference.relative)) >= OUTVOTED * len(still)


def is_no_kick(relative: float, mains: float) -> bool:
    """Whether a point moved by more than the edge of a move of the mains makes it kick."""
    return abs(relative) >= min(KICK_MOST, KICK_TIMES * abs(mains))


def enough(move: Move) -> int:
    """How many points that stood still speak for the mains before a meter of it has."""
    return ENOUGH_DEEP if abs(move.relative) >= DEEP else ENOUGH


def _may_be_late(joined: Sequence[Response], free: Sequence[Response], few: bool, age_s: float) -> bool:
    """Whether those that stood still may only be late: another moved alike, or a heater has yet to speak."""
    heater_due = any(a.track.is_heater and a.verdict == "waiting" for a in free)
    return (bool(joined) and age_s < SURELY_LATE_S) or (heater_due and few)


def _may_be_the_switch(meter: Response, follow: Sequence[Response], age_s: float) -> bool:
    """Whether a supply may fall because it was switched off, which the mains meter has yet to show."""
    return age_s < SWITCH_S + 0.5 * meter.track.period_s and not any(a.verdict == "still" for a in follow)


def _meter_is_late(meter: Response, reference: Move, free: Sequence[Response], age_s: float) -> bool:
    """Whether points that share nothing but the mains moved together while its meter may still average."""
    joined = _moved_alike(free, reference.relative)
    heater = any(a.track.is_heater for a in joined)
    patience_s = (SURELY_LATE_S if heater else LATE_S) + meter.track.period_s
    if abs(reference.relative) > 2.0 * MAINS_MOST or age_s >= patience_s or not joined:
        return False
    return heater or not any(a.verdict == "still" for a in free)


def _with_it(answers: Sequence[Response], reference: Move) -> list[Response]:
    """Those that moved as far; a meter that averages for as long as it lasted shows less of what is over."""
    moved = ((a, a.relative / reference.relative) for a in answers if a.verdict == "moved")
    return [a for a, part in moved if reference.least_for(a.track) <= part <= 1.0 / ALIKE]


def _moved_alike(answers: Sequence[Response], relative: float) -> list[Response]:
    return [a for a in answers if a.verdict == "moved" and alike(a.relative, relative)]


def _feeds(chart: Chart, feed: Move, fed: Move) -> bool:
    return feed.track.name in chart.feeds(fed.track.name)


def may_follow_unsaid(chart: Chart, track: Track) -> bool:
    """Whether a point may be a cathode's of which the chart does not say what feeds its valve."""
    level = track.point.nominal or (track.grains[-1].level if track.grains else 0.0)
    return 0.0 < level < CATHODE_V and not track.shows_mains and not chart.feeds(track.name)


def alike(one: float, other: float) -> bool:
    """Whether two moves, in parts of their points' levels, go the same way and are about as great."""
    return other != 0 and ALIKE <= one / other <= 1.0 / ALIKE


def are_apart(chart: Chart, one: str, other: str) -> bool:
    """Whether two points have nothing but the mains in common: neither feeds the other or shares a feed."""
    return not {one, *chart.feeds(one)} & {other, *chart.feeds(other)}


def blame(chart: Chart, moves: Sequence[Move]) -> Move:
    """The move that explains the others: of those about as great as the greatest, one that no other feeds.

    Where the chart does not say which feeds which, the highest voltage is taken for the feed. A battery goes
    before all.
    """
    own = [m for m in moves if not m.echo and not m.track.is_mains] or list(moves)
    greatest = max(own, key=lambda m: abs(m.relative))

    def shares(m: Move) -> bool:
        slow = m.track.period_s >= SLOWER * greatest.track.period_s and _feeds(chart, m, greatest)
        least = SHARED_SLOW if slow and greatest.relative < 0 else SHARED
        same_way = m.relative * greatest.relative > 0
        return same_way and abs(m.relative) >= least * min(abs(greatest.relative), 1.0)

    able = [m for m in own if m is greatest or shares(m)]
    battery = next((m for m in able if m.track.stood_before), None)
    if battery is not None:
        return battery
    names = {m.track.name for m in able}
    first = [m for m in able if not names & set(chart.feeds(m.track.name))]
    deepest = max(first, key=lambda m: abs(m.relative))
    small = 0.0 < deepest.level < CATHODE_V
    least = ABOUT * abs(deepest.relative)
    able = [m for m in first if abs(m.relative) >= least or (small and chart.carries(m.track.name))]
    return max(able, key=lambda m: abs(m.level))
