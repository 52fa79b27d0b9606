"""The near view: all points, one point's strip chart, what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from benchtui.watch.board import Board, Row

from . import bottombar, chart, listing, table, topbar
from .alarm import choose, one_line, waiting
from .canvas import Canvas
from .far import CourseOf
from .folding import Fold
from .glance import Glance
from .heights import Strip
from .looks import EIGHTHS
from .paint import BOLD, FAULT, FAULT_BOLD, LIVE, LIVE_BOLD, QUIET
from .plan import LEAST_HEIGHT, LEAST_WIDTH, NearPlan, near_plan
from .small import draw_small
from .text import clip, width
from .window import Stretch, window


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the person looks at in the near view."""

    point: str | None = None
    """None: the first of the chart."""
    finding: int | None = None
    of_point: bool = False
    """The person went to the point, and the list with it."""
    stretch: Stretch = field(default_factory=Stretch)
    unrolled: bool | None = None
    """The chart's scale; None: unrolled once the point is settled."""

    def index(self, rows: tuple[Row, ...]) -> int:
        """Place of the point among the rows; 0 if it is not there."""
        return next((i for i, r in enumerate(rows) if r.point == self.point), 0)

    def place(self, board: Board, found: Sequence[Fold]) -> int | None:
        """Place in the list of the finding that `enter` opens.

        The one chosen, else the first on the point that the person went to (None if there is none), else the
        first that waits.
        """
        place = listing.place(found, self.finding)
        if place is not None or not found:
            return place
        if self.of_point:
            return next((i for i, fold in enumerate(found) if fold.shown.point == self.point), None)
        waits = {f.id for f in waiting(board)}
        return next((i for i, fold in enumerate(found) if any(map(fold.holds, waits))), 0)

    def moved(self, rows: tuple[Row, ...], by: int) -> Chosen:
        """Another point, `by` rows further down, round at the ends."""
        if not rows:
            return self
        point = rows[(self.index(rows) + by) % len(rows)].point
        return replace(self, point=point, finding=None, of_point=True)


def draw_near(
    width: int, height: int, glance: Glance, chosen: Chosen, course_of: CourseOf, glyphs: str = EIGHTHS
) -> Canvas:
    """The whole near view; below 80x24 the small one."""
    canvas = Canvas(width, height, glyphs)
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        draw_small(canvas, glance)
        return canvas
    rows = glance.board.rows
    plan = near_plan(width, height, len(rows))
    _bar(canvas, glance)
    _fault(canvas, glance)
    at = chosen.index(rows)
    _points(canvas, glance, plan, at)
    if rows:
        _chart(canvas, glance, plan, rows[at], chosen, course_of)
    _list(canvas, glance, plan, chosen)
    bottombar.keys(canvas, plan.keys, near_keys(glance, width), glance.said)
    return canvas


def near_keys(glance: Glance, columns: int) -> list[tuple[str, str, bool]]:
    """The key line of the near view."""
    keys = [
        ("j k", "point", False),
        ("f", "finding", False),
        ("+ -", "zoom", False),
        ("h l", "time", False),
        ("a", "acknowledge", bool(waiting(glance.board))),
        ("v", "far", False),
        ("?", "keys", False),
        ("q", "quit", False),
    ]
    if columns < 110:
        return keys
    still = glance.board.paused or glance.held_ns is not None
    pause = ("p", "go on" if still else "pause", still)
    return [*keys[:-2], ("z", "scale", False), pause, *keys[-2:]]


def _bar(canvas: Canvas, glance: Glance) -> None:
    board = glance.board
    live = topbar.shows_live(board)
    left, states = topbar.one_line(glance)
    calm, bold = (LIVE, LIVE_BOLD) if live else (QUIET, BOLD)
    if live:
        canvas.fill(0, 0, canvas.width, LIVE)
    word = "L I V E" if live else "R E P L A Y" if board.replaying else ""
    end = canvas.put(0, 2, word, bold)
    start = end + 4 if word else 2
    room = canvas.width - start - 2
    left = clip(left, room)
    canvas.put(0, start, left, calm if live else bold)
    spare = room - width(left) - 2
    name = clip(board.set_name, min(spare - width(states[0]) - 2, 32)) if canvas.width >= 120 else ""
    right = next((t for t in states if width(t) <= spare), "")
    canvas.right(0, canvas.width - 2, f"{name}, {right}" if len(name) > 5 else right, calm)


def _fault(canvas: Canvas, glance: Glance) -> None:
    """The most pressing fault that nobody has acknowledged, on the row below the bar."""
    wrong = choose(glance.board, glance.asked)
    if wrong is not None:
        canvas.fill(1, 0, canvas.width, FAULT)
        sign = "#" if wrong.finding.kind == "limit" else "!!"
        canvas.put(1, 2, f"{sign} {one_line(glance, wrong, canvas.width - 5 - len(sign))}", FAULT_BOLD)


def _points(canvas: Canvas, glance: Glance, plan: NearPlan, selected: int) -> None:
    rows = glance.board.rows
    columns = table.near_columns(plan.width)
    if len(rows) <= plan.points:
        first, shown = 0, len(rows)
    else:
        shown = plan.points - 1
        first = min(max(selected - shown // 2, 0), len(rows) - shown)
    for i, row in enumerate(rows[first : first + shown]):
        table.draw_near(canvas, 2 + i, glance, row, columns, first + i == selected)
    hidden = [*rows[:first], *rows[first + shown :]]
    if hidden:
        table.draw_more(canvas, 2 + shown, hidden, columns)


def _chart(
    canvas: Canvas, glance: Glance, plan: NearPlan, row: Row, chosen: Chosen, course_of: CourseOf
) -> None:
    board = glance.board
    if glance.held_ns is not None:
        board = replace(board, at_ns=glance.held_ns)
    shown = window(board, row, chosen.stretch)
    course = course_of(row.point, shown, 2 * plan.plot.width)
    unrolled = row.settled if chosen.unrolled is None else chosen.unrolled
    chart.draw(canvas, plan.plot, board, Strip(row, course, shown, unrolled, held=glance.held_ns is not None))


def _list(canvas: Canvas, glance: Glance, plan: NearPlan, chosen: Chosen) -> None:
    found = listing.ordered(glance.board)
    place = chosen.place(glance.board, found)
    top = min(max((place or 0) - plan.finding_rows + 1, 0), max(len(found) - plan.finding_rows, 0))
    listing.draw(canvas, glance, plan, None if place is None else found[place].shown.id, top)
