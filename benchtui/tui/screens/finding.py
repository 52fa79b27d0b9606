"""All that is known of one finding."""

from __future__ import annotations

from collections.abc import Sequence

from textual.events import Key

from benchtui.model.findings import Finding
from benchtui.watch.board import Board

from ..draw.alarm import word
from ..draw.looks import Look
from ..draw.paint import BOLD, INK, QUIET
from ..draw.text import clip, wrap
from ..widgets.sheet import Line
from .asking import Asking
from .evidence import told

ACROSS = 74
LABEL = 20
MOST = 13
"""Lines of evidence that have room on the smallest screen."""


class FindingSheet(Asking[None]):
    """Any key closes it."""

    def __init__(self, look: Look, finding: Finding, text: str, when: str, board: Board) -> None:
        super().__init__(look)
        self._finding = finding
        self._text = text
        self._when = when
        self._board = board

    def lines(self) -> Sequence[Line]:
        finding = self._finding
        head = f"{clip(finding.point or 'the set', 24)}  {word(finding.kind)}"
        return [
            [(head, BOLD), (f"  {self._when}", QUIET)],
            [],
            *([(line, INK)] for line in wrap(self._text, ACROSS, 4)),
            [],
            *evidence(finding, self._board),
        ]

    def take(self, event: Key) -> None:
        self.finish(None)


def evidence(finding: Finding, board: Board, most: int = MOST) -> list[Line]:
    """The numbers that it was judged by, wrapped and never cut; those of least weight go where room ends."""
    rows: list[Line] = []
    for label, text in told(finding, board):
        parts = wrap(text, ACROSS - LABEL, 4) or [""]
        if len(rows) + len(parts) > most:
            break
        rows.append([(f"{clip(label, LABEL - 2):<{LABEL}}", QUIET), (parts[0], INK)])
        rows += [[(" " * LABEL, QUIET), (part, INK)] for part in parts[1:]]
    return rows
