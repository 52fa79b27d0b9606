"""A sheet of text in front of the board: lines of painted pieces, no markup, no frame."""

from __future__ import annotations

from collections.abc import Sequence

from ..draw.canvas import Canvas
from ..draw.flow import Line as Line
from ..draw.flow import Piece as Piece
from ..draw.flow import flow
from ..draw.looks import EIGHTHS, Look
from ..draw.paint import INK, Paint
from .painted import Painted

SIDE = 2
"""Blank columns at each side, where everything else on the screen begins too."""


class Sheet(Painted):
    """A band across the screen, as high as its lines; nothing of the board moves for it.

    It leaves the first row free, where the bar of a small screen stands.
    """

    def __init__(
        self, look: Look, lines: Sequence[Line], *, most: int | None = None, id: str | None = None
    ) -> None:
        """
        Args:
            look: the colours.
            lines: what stands on it, broken where the screen is narrow.
            most: rows it may take; None: all of the screen but the first.
            id: for the style sheet.
        """
        super().__init__(look, id=id)
        self._lines = list(lines)
        self._most = most
        self.styles.width = "100%"
        self.styles.height = len(self._lines) + 2

    def change(self, lines: Sequence[Line]) -> None:
        """Other lines in place of these."""
        self._lines = list(lines)
        self.fit()

    def on_mount(self) -> None:
        self.fit()

    def on_resize(self) -> None:
        self.fit()

    def fit(self) -> None:
        """Takes the rows that its lines need on the screen as it is now."""
        columns, rows = self.app.size
        free = max(rows - 1, 1)
        wanted = len(flow(self._lines, columns - 2 * SIDE, 1000)) + 2
        height = min(wanted, free, self._most or free)
        self.styles.height = height
        if self._most is None:
            self.styles.margin = (1 if height >= rows - 1 else 0, 0, 0, 0)
        self._draw()

    def _draw(self) -> None:
        columns, rows = self.size
        canvas = Canvas(columns, rows, EIGHTHS, _on_sheet(INK))
        lines = flow(self._lines, columns - 2 * SIDE, rows)
        top = 1 if len(lines) < rows else 0
        for at, line in enumerate(lines):
            column = SIDE
            for text, paint in line:
                column = canvas.put(top + at, column, text, _on_sheet(paint))
        self.paint(canvas)


def _on_sheet(paint: Paint) -> Paint:
    """The ground of a sheet is the band's; bars keep their own."""
    return paint.on("band") if paint.ground == "ground" else paint
