"""A widget that shows a canvas and redraws only the rows that changed."""

from __future__ import annotations

from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from ..draw.canvas import Canvas
from ..draw.looks import Look
from ..draw.strips import changed, strip


class Painted(Widget):
    """Shows the last canvas it was given."""

    def __init__(self, look: Look, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.look = look
        self._canvas: Canvas | None = None
        self._strips: list[Strip] = []

    def paint(self, canvas: Canvas) -> None:
        """Shows a canvas; rows equal to those on the screen cost nothing."""
        rows = changed(self._canvas, canvas)
        if len(self._strips) != canvas.height:
            self._strips = [Strip.blank(canvas.width)] * canvas.height
        for y in rows:
            self._strips[y] = strip(canvas, y, self.look)
        self._canvas = canvas
        if len(rows) == canvas.height:
            self.refresh()
        elif rows:
            self.refresh(*(Region(0, y, canvas.width, 1) for y in rows))

    def render_line(self, y: int) -> Strip:
        if 0 <= y < len(self._strips):
            return self._strips[y]
        return Strip.blank(self.size.width, Style())
