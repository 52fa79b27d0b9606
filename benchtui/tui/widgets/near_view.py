"""The widget of the near view: it holds what the person chose to see."""

from __future__ import annotations

from textual.geometry import Size

from ..draw.far import CourseOf
from ..draw.glance import Glance
from ..draw.looks import Look
from ..draw.near import Chosen, draw_near
from .painted import Painted


class NearView(Painted):
    """All points, one strip chart, the findings."""

    def __init__(self, look: Look, *, id: str | None = None) -> None:
        super().__init__(look, id=id)
        self.chosen = Chosen()

    def show(self, glance: Glance, course_of: CourseOf, size: Size) -> None:
        """Draws a glance for a screen of this size: the view covers all of it."""
        width, height = size
        self.paint(draw_near(width, height, glance, self.chosen, course_of, self.look.glyphs))
