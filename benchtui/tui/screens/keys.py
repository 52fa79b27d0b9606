"""Every key, on one sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from textual.events import Key

from benchtui.watch.board import Row

from .. import format as fmt
from ..draw.looks import Look
from ..draw.paint import BOLD, INK, QUIET
from ..draw.text import clip
from ..widgets.sheet import Line
from .asking import Asking

BOTH = (
    ("space", "mark what you did; twice: the same again"),
    ("n", "the lead is on the next point (power off first); N: of another meter"),
    ("a", "acknowledge the fault in the bar; A: all of them"),
    ("f F", "another of the faults that wait; near: another finding"),
    ("p", "pause a replay; on the bench: hold the chart"),
    ("v", "near view, far view"),
    ("q", "quit"),
)
NEAR = (
    ("j k", "another point"),
    ("enter", "all that is known of the finding at > in the list"),
    ("+ -", "a shorter, a longer stretch of time"),
    ("h l", "earlier, later; 0: now"),
    ("z", "the chart's scale: linear, or with the band wide"),
)


TURNS = {"out": "has gone out; again: is lit", "lit": "is lit; again: has gone out"}
"""What a press of a lamp's key says, by what it records."""


class KeysSheet(Asking[None]):
    """Any key closes it."""

    def __init__(self, look: Look, seen: Mapping[str, str], rows: Sequence[Row] = ()) -> None:
        super().__init__(look)
        self._seen = [(seen[row.point], row) for row in rows if row.point in seen]

    def lines(self) -> Sequence[Line]:
        eye: list[Line] = [
            [(f"{key:<7}", BOLD), (f"{clip(row.point, 24)} {TURNS[fmt.pressed(row)]}", INK)]
            for key, row in self._seen[:4]
        ]
        if eye:
            eye = [*eye, [(f"{'i':<7}", BOLD), ("looked, and nothing has changed: all as shown", INK)]]
        return [
            *([(f"{key:<7}", BOLD), (text, INK)] for key, text in BOTH),
            *eye,
            [("in the near view", QUIET)],
            *([(f"{key:<7}", BOLD), (text, INK)] for key, text in NEAR),
        ]

    def take(self, event: Key) -> None:
        self.finish(None)
