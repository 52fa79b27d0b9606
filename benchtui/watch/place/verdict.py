"""Whether a move was the mains': what the meters that have answered say, and what is still awaited."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.chart.chart import Chart

from .cluster import Move, Response
from .kinship import ALIKE, alike, are_apart, may_follow_unsaid

MAINS_MOST = 0.13
"""Where only points of one supply tree are measured, a common move of up to this part of their level is taken
for the mains, a greater one for the tree's own feed. Common practice, no source."""
GROWS_S = 1.2
"""A move whose beginning no other meter could show is given so long to grow."""
SWITCH_S = 0.35
"""The mains meter alone says after so long that a fall is not the switch-off: a meter may be late by that."""
LATE_S, SURELY_LATE_S = 1.0, 2.0
"""A mains meter that averages may be so late; points that share nothing with each other count before it, and
for the second a heater that moved alike."""
AVERAGES_S = 2.0
"""An AC meter may average for so long, however often it reads. Common practice, no source."""
ENOUGH, ENOUGH_DEEP, DEEP, NEVER = 3, 2, 0.1, 1000
"""So many points that stood still speak for the mains before its own meter has; fewer where one moved by more
than such a part; none where it was a slight one, which shows a small move of the mains enlarged."""
OUTVOTED = 4
"""So many points that moved together count more than one of a few volts that did not. Common practice, no
source."""
FAR_MORE = "far more than the mains explains"
BY_ITS_OWN_TREE = "every measured point moved in proportion"
ALONE = "no other point moved with it"
OTHERS_STOOD = "others did not move"
APART = "points with nothing in common but the mains moved together"
LOST, SLIPPED = 0.9, "a heater is fed all the same, so the lead of the mains meter may have slipped"
"""A mains meter that has lost so much of its reading shows no power, or none of it."""
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
        return _lost_or_moved(reference, answers, last)
    feeds = chart.feeds(name)
    follow = [a for a in answers if a.track.point.follows_mains and not a.track.is_mains]
    if not reference.is_slight:
        follow = [a for a in follow if not a.track.is_slight]
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
            shown = abs(meter.relative) / shown_part(reference, meter.track.period_s)
            far = abs(reference.relative) > 2.0 * MORE * shown
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
        return "no", OTHERS_STOOD
    if not last and any(a.verdict == "waiting" for a in follow):
        return "wait", ""
    if joined and abs(reference.relative) <= 2 * MAINS_MOST:
        return "yes", APART
    if (
        reference.track.is_heater
        and abs(reference.relative) <= MAINS_MOST
        and all(a.verdict == "blind" for a in follow)
    ):
        return "yes", "nothing else that a meter reads is live"
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


def _lost_or_moved(reference: Move, answers: Sequence[Response], last: bool) -> tuple[str, str]:
    """What a move that the mains meter shows itself is: none of the mains where that went to nothing and a
    heater is fed all the same, for then its lead has slipped."""
    heaters = [a for a in answers if a.track.is_heater]
    if reference.relative <= -LOST and heaters and not any(a.verdict == "moved" for a in answers):
        if any(a.verdict == "still" for a in heaters):
            return "no", SLIPPED
        if not last and any(a.verdict == "waiting" for a in heaters):
            return "wait", ""
    return "yes", "the mains meter moved"


def shown_part(move: Move, period_s: float) -> float:
    """What part of a move that is over an AC meter shows at least, which averages for so long or longer."""
    if move.end_ns is None:
        return 1.0
    lasted_s = max((move.end_ns - move.start_ns) * 1e-9, move.track.period_s)
    return min(lasted_s / max(period_s, AVERAGES_S), 1.0)


def _tell_against(
    chart: Chart, still: Sequence[Response], joined: Sequence[Response], reference: Move
) -> list[Response]:
    """Those that tell against a common cause though points which share nothing moved together.

    What went the same way in part shows it late or filtered, what went the other way may only have kicked;
    what one of those feeds that moved is held by a filter or a tube regulator between.
    """
    names = {a.track.name for a in joined if not may_follow_unsaid(chart, a.track)}
    if not names:
        return list(still)
    return [
        a
        for a in still
        if not (_in_part(a, reference) or _kicks(a, reference) or names & set(chart.feeds(a.track.name)))
    ]


def _kicks(a: Response, reference: Move) -> bool:
    """Whether a cathode or a grid went the other way, as the current of a valve does where its bias lags."""
    return a.track.is_small and -MORE <= a.relative / reference.relative < 0.0


def _in_part(a: Response, reference: Move) -> bool:
    """Whether a point showed some of it; an AC meter would show all of what lasts."""
    return a.partly and (reference.is_short_for(a.track) or not a.track.shows_mains)


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
    if move.is_slight and abs(move.relative) < 1.0:
        return NEVER
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
