"""The cautions that stand before a session: the usual ones for work on a set with the power on."""

from __future__ import annotations

from collections.abc import Sequence

from textual.events import Key

from benchtui.report import cautions as said

from ..draw.looks import Look
from ..draw.paint import BOLD, INK, LIVE_BOLD, QUIET, TROUBLE
from ..draw.text import width, wrap
from ..widgets.sheet import Line, Sheet
from .asking import Asking

ACROSS = 76
"""Columns of a sheet on the smallest screen that has a layout."""


class Caution(Asking[None]):
    """Stays until a key is pressed; the session runs behind it."""

    def __init__(self, look: Look, chassis: str, warn_above: float) -> None:
        super().__init__(look)
        self._chassis = chassis
        self._warn_above = warn_above
        self._reads = ""

    def lines(self) -> Sequence[Line]:
        return cautions(self._chassis, self._warn_above, self._reads)

    def show_live(self, reads: str) -> None:
        """Something is above the level while the cautions stand: what reads most, in the bar's words."""
        if reads != self._reads:
            self._reads = reads
            for sheet in self.query(Sheet):
                sheet.change(self.lines())

    def take(self, event: Key) -> None:
        self.finish(None)


def cautions(chassis: str, warn_above: float, reads: str = "") -> list[Line]:
    """The cautions, the gravest first; what the chart says of the chassis among them.

    `reads` is what already reads above the level; the power is on then, and the sheet says that first.
    """
    title = " POWER IS ON " if reads else " BEFORE THE POWER COMES ON "
    always: list[Line] = []
    for first, rest in said.ALWAYS:
        if width(f"{first} {rest}") <= ACROSS:
            always.append([(f"{first} ", BOLD), (rest, INK)])
        else:
            always += [[(first, BOLD)], [(rest, INK)]]
    return [
        [(title, LIVE_BOLD), (f"  {reads}" if reads else "", BOLD)],
        [],
        *([(line, TROUBLE if chassis == "live" else BOLD)] for line in said.chassis_lines(chassis)),
        *always,
        [],
        *(
            [(line, QUIET)]
            for text in (said.level(warn_above), said.NOT_KNOWN, said.LAST)
            for line in fit(text)
        ),
        [("any key", BOLD), ("  goes on", QUIET)],
    ]


def fit(text: str) -> list[str]:
    """In lines that the smallest screen has room for."""
    return wrap(text, ACROSS, 3)
