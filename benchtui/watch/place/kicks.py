"""The mains behind a cluster whose greatest move only kicked: at its edge one point goes farther than all
others, or the other way."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.chart.chart import Chart

from .answers import answers_to
from .cluster import KICKS, Cluster, Move, Response
from .desk import Desk
from .kinship import CATHODE_V
from .verdict import APART, KICK_MOST, MORE, is_mains, is_no_kick

SWINGS_NS = 1_500_000_000
"""A bias that lags makes a stage swing for so long. Common practice, no source."""
KICKED = 0.25
"""A stage swings on by at most so many times less than it kicked."""
TOGETHER = 4
"""So many that moved with the middle one speak for the mains. Common practice, no source."""


def stands_for_it(
    desk: Desk, cluster: Cluster, greatest: Move, age_s: float, last: bool
) -> tuple[Move, list[Response], str, str] | None:
    """The move that stands for the mains instead of the greatest, what others answer to it, the verdict and
    why; None where nothing says that the greatest is a kick."""
    if abs(greatest.relative) >= KICK_MOST:
        return None
    typical = cluster.typical(KICKS)
    if typical is not None:
        answers = answers_to(desk, cluster, typical)
        verdict = is_mains(desk.chart, typical, answers, age_s, last)
        along = greatest.relative * typical.relative > 0.0 and verdict == ("yes", APART)
        along = along and abs(greatest.relative) <= MORE * abs(typical.relative)
        if along or _speak_for_mains(cluster, answers):
            return typical, answers, *verdict
    against = cluster.most_against(greatest)
    if against is not None:
        answers = answers_to(desk, cluster, against)
        verdict = is_mains(desk.chart, against, answers, age_s, last)
        if verdict[0] != "no":
            return against, answers, *verdict
    return None


def goes_both_ways(
    chart: Chart, cluster: Cluster, greatest: Move, answers: Sequence[Response], now_ns: int
) -> bool:
    """Whether a supply or a stage went the other way than the greatest, which it does not hang on, and its
    meter, or another's, has yet to show it whole: the edge of a move of the mains does that.

    A feed that rises as what it feeds falls has but lost its load.
    """
    if abs(greatest.relative) >= KICK_MOST:
        return False
    name = greatest.track.name
    unloaded = chart.feeds(name) if greatest.relative < 0 else ()
    opposed = [
        m
        for m in cluster.moves
        if m.relative * greatest.relative < 0
        and not m.echo
        and abs(m.level) >= CATHODE_V
        and name not in chart.feeds(m.track.name)
        and m.track.name not in unloaded
    ]
    waiting = any(a.verdict == "waiting" for a in answers)
    return bool(opposed) and (waiting or any(now_ns < m.whole_ns for m in opposed))


def swings_on(cluster: Cluster, known: Move, move: Move) -> bool:
    """Whether a point that kicked against a move of the mains swings on, about its edges."""
    usual, ends = cluster.usual, [m.end_ns for m in cluster.moves if m.end_ns is not None]
    edges = (cluster.start_ns, *ends)
    kicked = abs(known.relative) >= KICKED * abs(move.relative)
    if known.relative * usual.relative > 0 or move is known or not kicked or not usual.relative:
        return False
    near = any(edge - SWINGS_NS <= move.start_ns <= edge + SWINGS_NS for edge in edges)
    return near and not is_no_kick(move.relative, usual.relative)


def _speak_for_mains(cluster: Cluster, answers: Sequence[Response]) -> bool:
    """Whether an AC meter moved with the middle one by far less than the greatest, or everything did."""
    moved = [a for a in answers if a.verdict == "moved"]
    if any(a.track.shows_mains for a in moved) and cluster.typical(MORE) is not None:
        return True
    return len(moved) >= TOGETHER and not any(a.verdict == "still" for a in answers)
