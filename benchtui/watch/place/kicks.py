"""The mains behind a cluster whose greatest move only kicked: at its edge one point goes farther than all
others, or the other way."""

from __future__ import annotations

from collections.abc import Sequence

from .answers import answers_to
from .cluster import KICKS, Cluster, Move, Response
from .desk import Desk
from .verdict import APART, KICK_MOST, MORE, is_mains

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
        along = typical.relative * greatest.relative > 0 and verdict == ("yes", APART)
        if along or _speak_for_mains(cluster, answers):
            return typical, answers, *verdict
    against = cluster.most_against(greatest)
    if against is not None:
        answers = answers_to(desk, cluster, against)
        verdict = is_mains(desk.chart, against, answers, age_s, last)
        if verdict[0] != "no":
            return against, answers, *verdict
    return None


def _speak_for_mains(cluster: Cluster, answers: Sequence[Response]) -> bool:
    """Whether an AC meter moved with the middle one by far less than the greatest, or everything did."""
    moved = [a for a in answers if a.verdict == "moved"]
    if any(a.track.shows_mains for a in moved) and cluster.typical(MORE) is not None:
        return True
    return len(moved) >= TOGETHER and not any(a.verdict == "still" for a in answers)
