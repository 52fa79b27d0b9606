"""The widget of the near view: it holds what the person chose to see."""

from __future__ import annotations

from dataclasses import replace

from textual.geometry import Size

from benchtui.model.findings import Finding
from benchtui.watch.board import Board

from ..draw import listing
from ..draw.far import CourseOf
from ..draw.glance import Glance
from ..draw.looks import Look
from ..draw.near import Chosen, draw_near
from ..draw.window import Stretch
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

    def go_to_point(self, board: Board, by: int) -> None:
        """Another point, so many rows further down."""
        self.chosen = self.chosen.moved(board.rows, by)

    def go_to_finding(self, board: Board, by: int) -> None:
        """Another finding of the list: its point and its time come into view."""
        found = listing.ordered(board)
        if not found:
            return
        place = listing.place(found, self.chosen.finding)
        if place is None and self.chosen.of_point:
            place = self.chosen.place(board, found)
        at = place if place is not None else -1 if by > 0 else 0
        finding = found[(at + by) % len(found)].shown
        self.chosen = replace(
            self.chosen,
            finding=finding.id,
            of_point=False,
            point=finding.point if finding.point is not None else self.chosen.point,
            stretch=self.chosen.stretch.at(board, finding.start_ns),
        )

    def forget_finding(self) -> None:
        """No finding is chosen: the list shows what is new."""
        self.chosen = replace(self.chosen, finding=None, of_point=False)

    def finding(self, board: Board) -> Finding | None:
        """The finding marked in the list; None if the point gone to has none."""
        found = listing.ordered(board)
        place = self.chosen.place(board, found)
        return None if place is None else found[place].shown

    def zoom(self, board: Board, factor: float) -> None:
        """A stretch of time longer by a factor."""
        self.chosen = replace(self.chosen, stretch=self.chosen.stretch.zoomed(board, factor))

    def shift(self, board: Board, part: float) -> None:
        """A part of the stretch earlier or later."""
        self.chosen = replace(self.chosen, stretch=self.chosen.stretch.shifted(board, part))

    def whole_run(self, board: Board) -> None:
        """The whole run again, up to the present."""
        self.chosen = replace(self.chosen, stretch=Stretch())

    def change_scale(self, board: Board) -> None:
        """Linear, or the needle's scale unrolled in time."""
        settled = bool(board.rows) and board.rows[self.chosen.index(board.rows)].settled
        shown = settled if self.chosen.unrolled is None else self.chosen.unrolled
        self.chosen = replace(self.chosen, unrolled=not shown)
