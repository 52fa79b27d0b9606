"""The far view: read from two metres. What is live, what is wrong, what is still moving."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchtui.model.course import Course
from benchtui.watch.board import Row

from . import bottombar, chart, slot, table, topbar
from .alarm import pressing, waiting
from .canvas import Canvas
from .glance import Glance, large
from .heights import Strip
from .looks import EIGHTHS
from .plan import EVERY_ROW_FROM, LEAST_HEIGHT, LEAST_WIDTH, Plan, Plot, far_plan
from .small import draw_small
from .window import Window, window

CourseOf = Callable[[str, Window, int], Course | None]
"""(point, window, columns) -> its course; None where there is none."""


def draw_far(width: int, height: int, glance: Glance, course_of: CourseOf, glyphs: str = EIGHTHS) -> Canvas:
    """The whole far view; below 80x24 the small one."""
    canvas = Canvas(width, height, glyphs)
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        draw_small(canvas, glance)
        return canvas
    plan = far_plan(width, height, glyphs)
    topbar.draw(canvas, glance, plan)
    blocks, rest = large(glance.board, plan.slots)
    for i, row in enumerate(blocks):
        slot.draw(canvas, i * plan.blocks.slot, glance, row, plan)
    _table(canvas, glance, rest, plan)
    if plan.plot is not None and blocks:
        _chart(canvas, glance, blocks[0], plan.plot, course_of)
    bottombar.draw(canvas, glance, plan)
    bottombar.keys(canvas, plan.keys, far_keys(glance), glance.said)
    return canvas


def far_keys(glance: Glance) -> list[tuple[str, str, bool]]:
    """The key line of the far view."""
    board = glance.board
    if board.hazard.phase == "off":
        first = [("space", "mark", False), ("n", "next point", False)]
        if waiting(board):
            first.append(("a", "acknowledge", True))
        if len(pressing(board)) > 1:
            first.append(("f", "fault", False))
        return [*first, ("v", "near", False), ("?", "keys", False)]
    pause = "go on" if board.paused or glance.held_ns is not None else "pause"
    more = [("f", "fault", False)] if len(pressing(board)) > 1 else []
    return [
        *([] if board.replaying else [("space", "mark", False), ("n", "next", False)]),
        ("a", "acknowledge", bool(waiting(board))),
        *more,
        ("p", pause, pause == "go on"),
        ("v", "near", False),
        ("?", "keys", False),
        ("q", "quit", False),
    ]


def _table(canvas: Canvas, glance: Glance, rows: list[Row], plan: Plan) -> None:
    columns = table.far_columns(plan.width, plan.plot is not None, plan.big)
    room = plan.table_rows
    step = 2 if len(rows) < EVERY_ROW_FROM and 2 * len(rows) - 1 <= room and room >= EVERY_ROW_FROM else 1
    shown, hidden = table.afloat(rows, room)
    for i, row in enumerate(shown):
        table.draw_far(canvas, plan.table + step * i, glance, row, columns)
    if hidden:
        table.draw_more(canvas, plan.table + len(shown), hidden, columns)


def _chart(canvas: Canvas, glance: Glance, row: Row, plot: Plot, course_of: CourseOf) -> None:
    board, held = glance.board, glance.held_ns
    if held is not None:
        board = replace(board, at_ns=held)
    shown = window(board, row)
    course = course_of(row.point, shown, 2 * plot.width)
    strip = Strip(row, course, shown, unrolled=row.settled, far=True, held=held is not None)
    chart.draw(canvas, plot, board, strip)
