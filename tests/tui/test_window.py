"""The stretch of time of a strip chart, and what is written on its axis."""

from __future__ import annotations

from dataclasses import replace

from benchtui.tui.draw.canvas import Canvas
from benchtui.tui.draw.chart import draw
from benchtui.tui.draw.glance import told
from benchtui.tui.draw.heights import Strip
from benchtui.tui.draw.plan import Plot
from benchtui.tui.draw.window import Stretch, Window, ticks, window
from benchtui.watch.board import Board

from . import scenes
from .scenes import ON_S, S


def seconds(shown: Window) -> tuple[float, float]:
    return shown.start_ns / S - ON_S, shown.end_ns / S - ON_S


def test_the_chart_shows_the_run_so_far() -> None:
    """From power-on to the present."""
    assert seconds(window(scenes.fault())) == (0.0, 250.0)


def test_a_young_run_has_at_least_a_minute_and_reaches_to_what_is_foreseen() -> None:
    """24 s after power-on the level is foreseen for 64 s: a minute and a half."""
    board = scenes.warmup()
    assert seconds(window(board)) == (0.0, 60.0)
    assert seconds(window(board, board.rows[0])) == (0.0, 90.0)


def test_zooming_keeps_the_present_and_shifting_leaves_it() -> None:
    """Half the time, then a quarter of that earlier; later again follows the present."""
    board = scenes.fault()
    half = Stretch().zoomed(board, 0.5)
    assert seconds(window(board, None, half)) == (125.0, 250.0)
    earlier = half.shifted(board, -0.25)
    assert seconds(window(board, None, earlier)) == (93.75, 218.75)
    assert earlier.shifted(board, 0.5).end_ns is None


def test_zooming_ends_at_the_whole_session_and_at_a_second() -> None:
    """No stretch is longer than the session or shorter than a second."""
    board = scenes.fault()
    wide, tight = Stretch(), Stretch()
    for _ in range(30):
        wide, tight = wide.zoomed(board, 2.0), tight.zoomed(board, 0.5)
    shown = window(board, None, wide)
    assert (shown.start_ns, shown.end_ns) == (0, board.at_ns)
    assert window(board, None, tight).end_ns - window(board, None, tight).start_ns == S


def test_a_finding_comes_into_view() -> None:
    """If it is in view already, nothing moves."""
    board = scenes.fault()
    close = Stretch().zoomed(board, 0.125)
    at = (ON_S + 40) * S
    shown = window(board, None, close.at(board, at))
    assert shown.start_ns < at < shown.end_ns
    assert Stretch().at(board, at) == Stretch()


def test_ticks_are_round_times_of_the_run_at_least_sixteen_columns_apart() -> None:
    """Four minutes on 73 columns: each minute."""
    shown = window(scenes.fault())
    assert ticks(shown, 73) == [(17, 60.0), (35, 120.0), (52, 180.0), (70, 240.0)]
    found = ticks(shown, 37)
    assert found == [(17, 120.0), (35, 240.0)]


def test_instants_are_told_by_the_clock_of_their_run() -> None:
    """Before the first run, by the session's."""
    board = scenes.fault()
    assert told(board, (ON_S + 247) * S) == "4:07"
    assert told(board, 30 * S) == "0:30"
    assert told(Board(at_ns=90 * S), 61 * S) == "1:01"


def lines_of(strip: Strip, board: Board, columns: int = 60) -> list[str]:
    canvas = Canvas(columns + 8, 14)
    draw(canvas, Plot(0, 1, 1, 10, 6, columns), board, strip)
    return canvas.lines()


def test_marks_that_would_be_written_over_each_other_keep_their_lines() -> None:
    """Two taps a second apart: two lines, one word."""
    board = scenes.fault()
    marks = (board.marks[0], replace(board.marks[0], t_ns=board.marks[0].t_ns + 5 * S))
    board = replace(board, marks=marks)
    shown = window(board)
    lines = lines_of(Strip(board.rows[0], None, shown, True), board)
    assert lines[11].count("tap") == 1
    assert lines[5].count("│") == 2


def test_findings_close_together_are_counted() -> None:
    """Three dropouts within a second are told once, with their number."""
    drops = tuple(scenes.finding(n, "dropout", "B+1", 100 + n, 100.2 + n) for n in range(3))
    board = replace(scenes.fault(), findings=drops)
    lines = lines_of(Strip(board.rows[0], None, window(board), True), board)
    assert "3 dropouts" in lines[0]


def test_a_course_beyond_the_rating_stretches_the_scale_and_tells_it() -> None:
    """390 V on a rating of 350 V is drawn below the top, and the top is told."""
    board = scenes.fault()
    shown = window(board)
    course = scenes.course_of(shown, 120, 250.0, None)
    course = replace(course, high=course.high + 106.0)
    lines = lines_of(Strip(board.rows[0], course, shown, True), board)
    assert int(lines[1].split()[0]) > 390
    assert any(line.split()[:1] == ["350"] for line in lines)


def test_the_trace_is_red_where_the_finding_was_and_only_there() -> None:
    """The dropout at 2:11 colours its column."""
    board = scenes.fault()
    shown = window(board)
    canvas = Canvas(68, 14)
    strip = Strip(board.rows[0], scenes.b_plus_whole("B+1", shown, 120), shown, True)
    draw(canvas, Plot(0, 1, 1, 10, 6, 60), board, strip)
    red = {x for y in range(1, 11) for x, p in enumerate(canvas.paints[y]) if p.ink == "fault_text"}
    assert red == {6 + int(131 / 250 * 60)}
