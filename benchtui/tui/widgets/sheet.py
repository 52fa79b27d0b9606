"""A sheet of text in front of the board: lines of painted pieces, no markup, no frame."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from ..draw.canvas import Canvas
from ..draw.looks import EIGHTHS, Look
from ..draw.paint import INK, Paint
from .painted import Painted

Piece: TypeAlias = tuple[str, Paint]
Line: TypeAlias = Sequence[Piece]
SIDE = 2
"""Blank columns at each side, where everything else on the screen begins too."""


class Sheet(Painted):
    """A band across the screen, as high as its lines; nothing of the board moves for it."""

    def __init__(self, look: Look, lines: Sequence[Line], *, id: str | None = None) -> None:
        super().__init__(look, id=id)
        self._lines = list(lines)
        self.styles.width = "100%"
        self.styles.height = len(self._lines) + 2

    def change(self, lines: Sequence[Line]) -> None:
        """Other lines in place of these."""
        self._lines = list(lines)
        self.styles.height = len(self._lines) + 2
        self._draw()

    def on_resize(self) -> None:
        self._draw()

    def _draw(self) -> None:
        columns, rows = self.size
        canvas = Canvas(columns, rows, EIGHTHS, _on_sheet(INK))
        for at, line in enumerate(self._lines):
            column = SIDE
            for text, paint in line:
                column = canvas.put(1 + at, column, text, _on_sheet(paint))
        self.paint(canvas)


def _on_sheet(paint: Paint) -> Paint:
    """The ground of a sheet is the band's; bars keep their own."""
    return paint.on("band") if paint.ground == "ground" else paint
