"""The widget of the far view."""

from __future__ import annotations

from ..draw.far import CourseOf, draw_far
from ..draw.glance import Glance
from .painted import Painted


class FarView(Painted):
    """Read from two metres."""

    def show(self, glance: Glance, course_of: CourseOf) -> None:
        """Draws a glance at the widget's size."""
        width, height = self.size
        self.paint(draw_far(width, height, glance, course_of, self.look.glyphs))
