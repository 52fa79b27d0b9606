"""All that is known of one finding."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from textual.events import Key

from benchtui.model.findings import Finding

from ..draw.alarm import word
from ..draw.looks import Look
from ..draw.paint import BOLD, INK, QUIET
from ..draw.text import clip, wrap
from ..widgets.sheet import Line
from .asking import Asking

ACROSS = 62
MOST = 9
"""Lines of evidence that have room on the smallest screen."""


class FindingSheet(Asking[None]):
    """Any key closes it."""

    def __init__(self, look: Look, finding: Finding, text: str, when: str) -> None:
        super().__init__(look)
        self._finding = finding
        self._text = text
        self._when = when

    def lines(self) -> Sequence[Line]:
        finding = self._finding
        head = f"{clip(finding.point or 'the set', 24)}  {word(finding.kind)}"
        return [
            [(head, BOLD), (f"  {self._when}", QUIET)],
            [],
            *([(line, INK)] for line in wrap(self._text, ACROSS, 4)),
            [],
            *evidence(finding.evidence),
        ]

    def take(self, event: Key) -> None:
        self.finish(None)


def evidence(known: Mapping[str, object]) -> list[Line]:
    """The numbers that it was judged by, one a line."""
    rows: list[Line] = []
    for name, value in known.items():
        if value is None or value == "" or value == []:
            continue
        shown = clip(_told(value), ACROSS - 22)
        rows.append([(f"{clip(name.replace('_', ' '), 20):<20}  ", QUIET), (shown, INK)])
    if len(rows) > MOST:
        rows = [*rows[: MOST - 1], [(f"and {len(rows) - MOST + 1} more", QUIET)]]
    return rows


def _told(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.4g}" if math.isfinite(value) else "?"
    if isinstance(value, (list, tuple)):
        return ", ".join(_told(v) for v in value)
    return str(value)
