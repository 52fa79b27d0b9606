"""Courses for the strip charts, asked for less often than the screen is drawn."""

from __future__ import annotations

from benchtui.model.course import Course

from .draw.window import Window
from .session import Session

DRAWS = 2
"""Draws that one course serves: charts move at half the pace of the digits."""


class Courses:
    """The last course asked for, by point and columns."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._kept: dict[tuple[str, int], tuple[int, Window, Course]] = {}
        self._draw = 0

    def next_draw(self) -> None:
        """A new drawing begins."""
        self._draw += 1

    def of(self, point: str, shown: Window, columns: int) -> Course | None:
        """The course of a point over a window."""
        kept = self._kept.get((point, columns))
        if kept is not None:
            since, window, course = kept
            same = window == shown or (
                self._draw - since < DRAWS
                and window.start_ns == shown.start_ns
                and abs(window.end_ns - shown.end_ns) * 200 < shown.end_ns - shown.start_ns
            )
            if same and self._draw - since < DRAWS:
                return course
        course = self._session.course(point, shown.start_ns, shown.end_ns, columns)
        if len(self._kept) > 4:
            self._kept.clear()
        self._kept[(point, columns)] = (self._draw, shown, course)
        return course
