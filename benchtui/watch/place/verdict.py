"""Where a move belongs: the mains, a feed, or this point alone. Plain reasoning on the supply tree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from benchtui.chart.chart import Chart

from .desk import Track
from .responses import Response

MAINS_MOST = 0.13
"""Where only points of one supply tree are measured, a common move of up to this part of their level is taken
for the mains, a greater one for the tree's own feed. Common practice, no source."""
PULLS = 1.7
"""A point that moved by this much more than its feed pulled the feed, not the other way round."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """`what`: here, mains, feed, load or wait."""

    what: str
    root: str | None = None
    """The point that is to blame, for `feed` and `load`."""
    also: tuple[str, ...] = ()
    """The points that moved with it."""
    why: str = ""


def judge(chart: Chart, track: Track, relative: float, answers: Sequence[Response], last: bool) -> Verdict:
    """Weighs the answers of all other points; `last`: no more waiting."""
    name = track.name
    feeds = chart.feeds(name)
    by_kind: dict[str, list[Response]] = {"up": [], "down": [], "free": []}
    for a in answers:
        if a.track.name in feeds:
            by_kind["up"].append(a)
        elif name in chart.feeds(a.track.name):
            by_kind["down"].append(a)
        elif a.track.point.follows_mains and track.point.follows_mains:
            by_kind["free"].append(a)
    meter = [a for a in answers if a.track.is_mains]
    if track.is_mains:
        return _of_mains_itself(answers, last)
    if meter and meter[0].verdict == "moved":
        return Verdict("mains", also=_names(answers), why="the mains meter moved with it")
    pulled = [a for a in by_kind["down"] if a.verdict == "moved" and abs(a.relative) > PULLS * abs(relative)]
    mains_out = any(a.verdict == "still" for a in [*meter, *by_kind["free"]])
    waiting = [a for a in answers if a.verdict == "waiting"] if not last else []
    if not mains_out and waiting:
        return Verdict("wait")
    if any(a in by_kind["up"] or a in by_kind["down"] for a in waiting):
        return Verdict("wait")
    if not mains_out:
        common = _common(track, relative, by_kind, feeds)
        if common is not None:
            return common
    if pulled:
        return Verdict("load", root=pulled[-1].track.name, why="a point that it feeds moved more")
    root = None
    for a in sorted(by_kind["up"], key=lambda a: feeds.index(a.track.name)):
        if a.verdict == "moved" and abs(a.relative) * PULLS >= abs(relative):
            root = a.track.name
    if root is not None:
        return Verdict("feed", root=root, why="its feed moved with it")
    down = tuple(a.track.name for a in by_kind["down"] if a.verdict == "moved")
    return Verdict("here", also=down, why="the others did not move" if mains_out else "nothing else to tell")


def _common(
    track: Track, relative: float, by_kind: dict[str, list[Response]], feeds: list[str]
) -> Verdict | None:
    """A move that every point which could show it shared, in proportion."""
    free_moved = [a for a in by_kind["free"] if a.verdict == "moved"]
    tree = [a for a in [*by_kind["up"], *by_kind["down"]] if a.track.point.follows_mains]
    tree_moved = [a for a in tree if a.verdict == "moved" and _in_proportion(a, relative)]
    if any(a.verdict == "still" for a in by_kind["up"]) or not track.point.follows_mains:
        return None
    also = tuple(a.track.name for a in [*free_moved, *tree_moved])
    if free_moved and any(_in_proportion(a, relative) for a in free_moved):
        return Verdict("mains", also=also, why="points with nothing in common but the mains moved together")
    if tree_moved and not any(a.verdict == "still" for a in tree) and abs(relative) <= MAINS_MOST:
        return Verdict("mains", also=also, why="every measured point moved in proportion")
    return None


def _of_mains_itself(answers: Sequence[Response], last: bool) -> Verdict:
    if not last and any(a.verdict == "waiting" for a in answers):
        return Verdict("wait")
    return Verdict("mains", also=_names(answers), why="the mains meter moved")


def _in_proportion(a: Response, relative: float) -> bool:
    return 0.5 * abs(relative) <= abs(a.relative) <= 2.2 * abs(relative)


def _names(answers: Sequence[Response]) -> tuple[str, ...]:
    return tuple(a.track.name for a in answers if a.verdict == "moved" and not a.track.is_mains)
