"""The widget of the far view."""

from __future__ import annotations

from textual.geometry import Size

from ..draw.far import CourseOf, draw_far
from ..draw.glance import Glance
from .painted import Painted


class FarView(Painted):
    """Read from two metres."""

    def show(self, glance: Glance, course_of: CourseOf, size: Size) -> None:
        """Draws a glance for a screen of this size: the view covers all of it."""
        width, height = size
        self.paint(draw_far(width, height, glance, course_of, self.look.glyphs))
