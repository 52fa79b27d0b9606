"""The same thing of the same point, again and again in one run, told once: how often, and when last."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

from benchtui.model.findings import Finding
from benchtui.model.units import Unit
from benchtui.watch.board import Board

from .glance import Glance, in_run, run_starts, told

VERBS = {
    "dropout": "dropped out",
    "fed_but_out": "out though fed",
    "starved": "starved",
    "limit": "over its rating",
    "outside": "outside",
    "step": "stepped",
    "chatter": "restless",
    "gap": "silent",
    "overload": "over range",
    "frozen": "frozen",
    "garbled": "garbled",
    "lost": "port gone",
}
"""Kinds that are folded, and what is said of several."""


@dataclass(frozen=True, slots=True)
class Fold:
    """Findings of one kind and point in one run."""

    shown: Finding
    """The one that stands for them: what stands before what is over, then the newest."""
    others: tuple[Finding, ...] = ()
    """All the rest, the newest first."""

    @property
    def times(self) -> int:
        return 1 + len(self.others)

    def holds(self, finding: int | None) -> bool:
        return any(f.id == finding for f in (self.shown, *self.others))


def folded(board: Board, findings: Iterable[Finding]) -> list[Fold]:
    """Each finding in one fold; folds in the order of the first finding of each."""
    starts = run_starts(board)
    groups: dict[object, list[Finding]] = {}
    for finding in findings:
        run = bisect_right(starts, finding.start_ns)
        key = (finding.kind, finding.point, run) if finding.kind in VERBS else finding.id
        groups.setdefault(key, []).append(finding)
    return [_fold(group) for group in groups.values()]


def fold_of(board: Board, finding: Finding) -> Fold:
    """The fold of a finding among all that are listed."""
    alike = (f for f in board.findings if f.listed and (f.kind, f.point) == (finding.kind, finding.point))
    return next((f for f in folded(board, alike) if f.holds(finding.id)), Fold(finding))


def said(glance: Glance, fold: Fold, most: int = 200) -> str:
    """`dropped out 4 times, last at 12:31`, or as much of it as has room; empty for one alone."""
    if fold.times == 1:
        return ""
    finding = fold.shown
    row = glance.row_of(finding)
    lamp = row is not None and row.unit is Unit.STATE
    verb = "went out" if lamp and finding.kind == "dropout" else VERBS.get(finding.kind, finding.kind)
    last_ns = max(f.start_ns for f in (finding, *fold.others))
    at, in_its_run = told(glance.board, last_ns), in_run(glance.board, last_ns)
    tries = (f"{verb} {fold.times} times, last at {t}" for t in (in_its_run, at))
    brief = f"{fold.times} times, last at {at}"
    return next((t for t in tries if len(t) <= most), brief)


def times(board: Board, fold: Fold) -> str:
    """`4 times: 0:20, 1:05, 2:10, 12:31`; empty for one alone."""
    if fold.times == 1:
        return ""
    every = sorted(f.start_ns for f in (fold.shown, *fold.others))
    return f"{fold.times} times: {', '.join(told(board, t) for t in every)}"


def _fold(group: list[Finding]) -> Fold:
    newest = sorted(group, key=lambda f: (f.end_ns is None, f.found_ns, f.id), reverse=True)
    return Fold(newest[0], tuple(newest[1:]))
