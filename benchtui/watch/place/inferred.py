"""Where no meter of the mains tells: what moves like the mains, and has another story all the same."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.model.units import Unit

from .cluster import Cluster, Move, Response
from .contrast import SMALL
from .desk import Desk
from .kinship import alike, are_apart
from .verdict import INFERRED

AGAIN_NS = 25_000_000_000
"""So long after a fault the same points moving by as much are the fault again. Common practice, no source."""
SWELL_NS = 6_000_000_000
"""A supply dips for seconds and comes back, but hardly ever rises for seconds (EN 50160, from memory: voltage
dips are common, swells are rare): something has let go of its load."""
SEEN_NS = 1_500_000_000
"""So much earlier or later is a lamp seen to go out than meters show that it did."""
TOGETHER_NS = 5_000_000_000
"""Points that moved so shortly before have said what moved them."""
MANY, EVEN, VERY_EVEN = 4, 1.5, 1.3
"""Where so many points moved and none by more than the first of these times what another did, or so many of
them by no more than the second, they moved evenly: a load that is let go lifts each by another part. Common
practice, no source."""
AS_ONE, ABOUT_ONE = 1.1, 2.0
"""Two points that share nothing moved as one if by the same part within the first factor, where the chart
says what feeds one of them; within the second, where it says that of both."""
DEEP, AS_MUCH, OFTEN = 0.1, 1.35, 2
"""A supply dips by the first part now and then (EN 50160, from memory), but hardly a third time in one run
by as much, within the second part. Common practice, no source."""
HALF = 0.5
"""What moved by at least such a part of the greatest tells how long the move lasted."""
RETURNS = 0.25
"""A root that goes back by this part of its move is on its way back."""


def other_story(
    desk: Desk, clusters: Sequence[Cluster], cluster: Cluster, reference: Move, answers: Sequence[Response]
) -> str:
    """Why a common move is a fault's and not the mains', as it seems; the empty string if nothing says so."""
    if any(_comes_again(other, reference) for other in clusters if other is not cluster):
        return "as a fault moved it just before"
    if _passed_by(answers):
        return "meters that read just then showed nothing of it"
    if desk.follows_tap(reference.start_ns):
        return "it followed the hand"
    rises = reference.relative > SMALL and reference.end_ns is not None and not _is_even(reference, answers)
    rises = rises and not any(m.track.shows_mains and m.relative > 0 for m in cluster.moves)
    if rises and reference.end_ns - reference.start_ns <= SWELL_NS:  # type: ignore[operator]
        return "the mains does not rise for seconds"
    if _comes_often(clusters, cluster, reference) and not _is_even_apart(desk, reference, answers):
        return "no supply dips so far again and again by as much"
    return ""


def what_lasts(cluster: Cluster, reference: Move) -> Move | None:
    """The greatest move of a cluster that went the same way, at least half as far, and is not over as the
    reference is: what moves all lasts as long for all."""
    if reference.end_ns is None:
        return None
    longer = [
        m
        for m in cluster.told_by
        if not m.over and m.relative / reference.relative >= HALF and m.track is not reference.track
    ]
    return max(longer, key=lambda m: abs(m.relative), default=None)


def _passed_by(answers: Sequence[Response]) -> bool:
    """Whether a short common move passed a meter of the mains by, or as many points as it took along."""
    missed = [a for a in answers if a.missed]
    moved = sum(a.verdict == "moved" for a in answers)
    return any(a.track.shows_mains for a in missed) or len(missed) > moved


def may_yet_be_even(
    desk: Desk, clusters: Sequence[Cluster], cluster: Cluster, reference: Move, answers: Sequence[Response]
) -> bool:
    """Whether a deep move that has come often may turn out as great everywhere, once all meters show it."""
    unfinished = any(a.verdict == "moved" and not a.complete for a in answers)
    often = unfinished and _comes_often(clusters, cluster, reference)
    return often and not _is_even_apart(desk, reference, answers)


def may_yet_fall_back(desk: Desk, reference: Move, answers: Sequence[Response]) -> bool:
    """Whether a rise is so young that it may come back, which the mains' would not."""
    rises = reference.end_ns is None and reference.relative > SMALL and not _is_even(reference, answers)
    return rises and desk.now_ns < reference.start_ns + SWELL_NS


def unloaded_by_lamp(desk: Desk, reference: Move) -> bool:
    """Whether a small rise began when a lamp was seen to go out: what fed it has one load less."""
    if not 0 < reference.relative <= SMALL:
        return False
    first_ns, until_ns = reference.start_ns - SEEN_NS, reference.start_ns + SEEN_NS
    lamps = [t for t in desk.tracks.values() if t.unit is Unit.STATE]
    seen = [(lamp.newest(first_ns), lamp.newest(min(until_ns, desk.now_ns))) for lamp in lamps]
    return any(was and now and was[1] == 1 and now[1] == 0 for was, now in seen)


def explained_by(
    clusters: Sequence[Cluster], cluster: Cluster, reference: Move, answers: Sequence[Response]
) -> Cluster | None:
    """The lasting fault whose root began just before to move the same way, or now moves back."""
    more = {
        a.track: a.relative
        for a in answers
        if a.verdict == "moved" and a.relative / reference.relative >= 1.0
    }
    for other in reversed(clusters):
        root = other.root
        if other is cluster or other.what != "fault" or root is None or root.end_ns is not None:
            continue
        if root.is_slight and not reference.is_slight:
            continue
        went = more.get(root.track, 0.0)
        began = went != 0.0 and 0 <= reference.start_ns - other.start_ns <= TOGETHER_NS
        if began or went * root.relative < -RETURNS * root.relative**2:
            return other
    return None


def _is_even(reference: Move, answers: Sequence[Response]) -> bool:
    """Whether several points moved by so nearly the same part that only their common mains does that."""
    others = (a.relative for a in answers if a.verdict == "moved")
    parts = sorted(abs(part) for part in (reference.relative, *others))
    if len(parts) < MANY:
        return False
    most = any(high <= VERY_EVEN * low for low, high in zip(parts, parts[MANY - 1 :], strict=False))
    return most or parts[-1] <= EVEN * parts[0]


def _is_even_apart(desk: Desk, reference: Move, answers: Sequence[Response]) -> bool:
    """Whether points moved evenly not all of one tree: what a tree hangs on moves all of it alike."""
    name = reference.track.name
    apart = [a for a in answers if a.verdict == "moved" and are_apart(desk.chart, name, a.track.name)]
    for a in apart:
        linked = desk.chart.is_linked(name) + desk.chart.is_linked(a.track.name)
        apart_by = AS_ONE if linked == 1 else ABOUT_ONE
        if linked and 1.0 / apart_by <= a.relative / reference.relative <= apart_by:
            return True
    return bool(apart) and _is_even(reference, answers)


def _comes_often(clusters: Sequence[Cluster], cluster: Cluster, move: Move) -> bool:
    """Whether what is told as the mains' was just as deep several times before."""
    return sum(_was_as_deep(other, move) for other in clusters if other is not cluster) >= OFTEN


def _was_as_deep(told: Cluster, move: Move) -> bool:
    """Whether a move told as the mains' moved the point of a later, deep one by just as much."""
    mine = told.of(move.track)
    if told.what != "mains" or told.why not in INFERRED or mine is None or abs(move.relative) < DEEP:
        return False
    return 1.0 / AS_MUCH <= mine.relative / move.relative <= AS_MUCH


def _comes_again(fault: Cluster, move: Move) -> bool:
    """Whether a fault moved the point of a later move by as much shortly before, and let it come back."""
    mine = fault.of(move.track)
    if fault.what != "fault" or mine is None or mine.end_ns is None:
        return False
    return alike(move.relative, mine.relative) and 0 < move.start_ns - mine.end_ns <= AGAIN_NS
