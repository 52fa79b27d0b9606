"""The strip chart: a point's course with its band, marks, findings and gaps."""

from __future__ import annotations

import numpy as np

from benchtui.model.findings import Finding
from benchtui.model.units import Unit
from benchtui.watch.board import Board

from .. import format as fmt
from .alarm import word
from .braille import trace
from .canvas import Canvas
from .glance import NS
from .heights import Heights, Strip, heights_of
from .looks import ASCII, EIGHTHS
from .paint import BOLD, FAINT, QUIET, TROUBLE, Paint
from .plan import Plot
from .scale import scale
from .text import clip, width
from .window import ticks

RED_KINDS = frozenset(
    ("dropout", "chatter", "step", "outside", "limit", "departs", "starved", "fed_but_out", "unsettled")
)
"""Kinds during which the trace is red."""


def draw(canvas: Canvas, plot: Plot, board: Board, strip: Strip) -> None:
    """The chart over `plot.rows` rows, its title above, marks and times below."""
    room = plot.left - 1 - (plot.title_column if strip.far else 0)
    heights = heights_of(strip, plot.rows, room)
    _title(canvas, plot, strip)
    _ground(canvas, plot, heights)
    for at, text in heights.labels:
        canvas.right(plot.top + at, plot.left - 1, text, QUIET)
    lines = _marks(canvas, plot, board, strip)
    _foreseen(canvas, plot, strip, heights)
    gaps = _trace(canvas, plot, board, strip, heights, lines)
    _findings(canvas, plot, board, strip, gaps)
    _times(canvas, plot, board, strip)


def _title(canvas: Canvas, plot: Plot, strip: Strip) -> None:
    end = canvas.put(plot.title, plot.title_column, strip.row.point, BOLD, most=24)
    said = _said(strip)
    if said:
        canvas.put(plot.title, end + 2, said, QUIET)


def _said(strip: Strip) -> str:
    """How the chart is not as one would take it to be: its scale, and that it stands still."""
    wide = strip.unrolled and strip.row.unit is not Unit.STATE and scale(strip.row, 20) is not None
    return ", ".join(t for t in ("wide band" if wide else "", "held" if strip.held else "") if t)


def _ground(canvas: Canvas, plot: Plot, heights: Heights) -> None:
    if heights.band is not None:
        first, last = heights.band
        for at in range(first, last + 1):
            if canvas.glyphs == EIGHTHS:
                canvas.fill(plot.top + at, plot.left, plot.width, Paint("ink", "band"))
        if canvas.glyphs != EIGHTHS:
            for at in {first, last}:
                canvas.fill(
                    plot.top + at, plot.left, plot.width, FAINT, "." if canvas.glyphs == ASCII else "╌"
                )
    if heights.nominal is not None:
        at = plot.top + heights.nominal
        ground = canvas.paints[at][plot.left].ground if 0 <= at < canvas.height else "ground"
        char = "-" if canvas.glyphs == ASCII else "─"
        canvas.fill(at, plot.left, plot.width, Paint("plumb", ground), char)


def _marks(canvas: Canvas, plot: Plot, board: Board, strip: Strip) -> set[int]:
    """A line for each mark in view, its kind below, the newest first where there is no room for all."""
    lines: set[int] = set()
    free = plot.width
    for mark in reversed(board.marks):
        at = round(strip.shown.column(mark.t_ns, plot.width))
        if not 0 <= at < plot.width:
            continue
        lines.add(at)
        kind = clip(mark.kind, 10)
        start = min(at, plot.width - width(kind))
        if start + width(kind) < free or free == plot.width:
            canvas.put(plot.marks, plot.left + start, kind, BOLD)
            free = start
    char = "|" if canvas.glyphs == ASCII else "│"
    for at in lines:
        for row in range(plot.top, plot.top + plot.rows):
            if row < canvas.height:
                ground = canvas.paints[row][plot.left + at].ground
                canvas.dot(row, plot.left + at, char, Paint("faint", ground))
    return lines


def _foreseen(canvas: Canvas, plot: Plot, strip: Strip, heights: Heights) -> None:
    """The predicted level, dotted from where it should be reached."""
    predicted = strip.row.predicted
    if predicted is None or canvas.glyphs == ASCII:
        return
    y = int(np.clip(heights.dots(np.array([predicted.value]))[0], 0, 4 * plot.rows - 1))
    first = max(int(strip.shown.column(int(predicted.at_s * NS), plot.width)), 0)
    char = chr(0x2800 + (0x01, 0x02, 0x04, 0x40)[y % 4])
    for at in range(first, plot.width, 2):
        row = plot.top + y // 4
        canvas.dot(row, plot.left + at, char, Paint("moving", canvas.paints[row][plot.left + at].ground))


def _trace(
    canvas: Canvas, plot: Plot, board: Board, strip: Strip, heights: Heights, lines: set[int]
) -> list[tuple[int, int]]:
    """The course itself; gives the hatched stretches as (first column, one after the last)."""
    course = strip.course
    if course is None or len(course.low) < 2:
        return []
    drawn = trace(course, heights.dots(course.high), heights.dots(course.low), plot.rows)
    red = _red(board, strip, plot.width)
    codes = drawn.codes.tolist()
    hatched = drawn.gaps.tolist()[: plot.width]
    for at, is_gap in enumerate(hatched):
        for i in range(plot.rows if is_gap else 0):
            canvas.dot(plot.top + i, plot.left + at, "/" if canvas.glyphs == ASCII else "╱", FAINT)
    for i, row in enumerate(codes):
        for at, code in enumerate(row[: plot.width]):
            if code:
                y, x = plot.top + i, plot.left + at
                ink = "fault_text" if at in red else "ink"
                char = "*" if canvas.glyphs == ASCII else chr(0x2800 + code)
                canvas.dot(y, x, char, Paint(ink, canvas.paints[y][x].ground))
    return _stretches(hatched)


def _red(board: Board, strip: Strip, columns: int) -> set[int]:
    out: set[int] = set()
    for finding in board.findings:
        if finding.point != strip.row.point or finding.kind not in RED_KINDS or not finding.listed:
            continue
        end = board.at_ns if finding.end_ns is None else finding.end_ns
        first = int(strip.shown.column(finding.start_ns, columns))
        last = int(strip.shown.column(end, columns))
        if last >= 0 and first < columns:
            out.update(range(max(first, 0), min(last, columns - 1) + 1))
    return out


def _stretches(flags: list[bool]) -> list[tuple[int, int]]:
    out: list[tuple[int, int]] = []
    for at, flag in enumerate(flags):
        if flag and out and out[-1][1] == at:
            out[-1] = (out[-1][0], at + 1)
        elif flag:
            out.append((at, at + 1))
    return out


def _findings(canvas: Canvas, plot: Plot, board: Board, strip: Strip, gaps: list[tuple[int, int]]) -> None:
    """Above the chart: how many findings began where, and how long the gaps are."""
    labels = [(at, text, TROUBLE) for at, text in _clusters(board, strip, plot.width)]
    step_s = (strip.shown.end_ns - strip.shown.start_ns) / NS / plot.width
    for first, last in gaps:
        told_s = _silence(board, strip, first, last)
        if not told_s and last - first == 1:
            continue
        long = fmt.age(told_s or round((last - first) * step_s))
        labels.append(
            (first, f"x {long}" if strip.far or plot.width < 100 else f"x no reading {long}", QUIET)
        )
    free = (
        plot.title_column
        - plot.left
        + width(clip(strip.row.point, 24))
        + 2
        + (len(_said(strip)) + 2 if _said(strip) else 0)
    )
    for at, text, paint in sorted(labels, key=lambda label: label[0]):
        start = min(at, plot.width - len(text))
        if start >= free:
            canvas.put(plot.title, plot.left + start, text, paint)
            free = start + len(text) + 2


def _silence(board: Board, strip: Strip, first: int, last: int) -> float:
    """Seconds of the gap finding that a hatched stretch belongs to; 0 if none does."""
    for finding in board.findings:
        if finding.kind == "gap" and finding.point == strip.row.point and finding.listed:
            end = board.at_ns if finding.end_ns is None else finding.end_ns
            columns = len(strip.course.low) // 2 if strip.course is not None else 1
            if (
                strip.shown.column(end, columns) >= first
                and strip.shown.column(finding.start_ns, columns) < last
            ):
                return (end - finding.start_ns) / NS
    return 0.0


def _clusters(board: Board, strip: Strip, columns: int) -> list[tuple[int, str]]:
    """Findings on the point, those of one kind that would be written over each other counted together."""
    seen: list[tuple[int, str, int]] = []
    for finding in _of_point(board, strip):
        at = int(strip.shown.column(finding.start_ns, columns))
        if not 0 <= at < columns:
            continue
        if seen and seen[-1][1] == finding.kind and at - seen[-1][0] < len(finding.kind) + 6:
            seen[-1] = (seen[-1][0], finding.kind, seen[-1][2] + 1)
        else:
            seen.append((at, finding.kind, 1))
    return [(at, _counted(kind, n)) for at, kind, n in seen]


def _of_point(board: Board, strip: Strip) -> list[Finding]:
    wanted = ("fault", "warning")
    found = [f for f in board.findings if f.point == strip.row.point and f.severity in wanted and f.listed]
    return sorted(found, key=lambda f: f.start_ns)


def _counted(kind: str, n: int) -> str:
    if kind in ("dropout", "step"):
        return f"{n} {kind}{'s' if n > 1 else ''}"
    return word(kind) if n == 1 else f"{n} x {word(kind)}"


def _times(canvas: Canvas, plot: Plot, board: Board, strip: Strip) -> None:
    """The axis: where the run began, round times, and the present."""
    shown = strip.shown
    taken: list[tuple[int, int]] = []

    def write(at: int, text: str, paint: Paint) -> None:
        start = min(max(at, 0), plot.width - len(text))
        if all(start + len(text) < a or start > b for a, b in taken):
            canvas.put(plot.times, plot.left + start, text, paint)
            taken.append((start, start + len(text)))

    now = int(shown.column(board.at_ns, plot.width))
    clock = fmt.clock((board.at_ns - shown.origin_ns) / NS)
    if 0 <= now <= plot.width:
        far_off = now > plot.width - 8
        write(now, "now" if strip.far else (f"now {clock}" if far_off else "now"), BOLD)
    begun = int(shown.column(shown.origin_ns, plot.width))
    if 0 <= begun < plot.width and board.run:
        unseen = board.run_since_ns is not None and shown.origin_ns == board.run_since_ns
        write(begun, "watched from" if unseen else "power on", QUIET)
    for at, seconds in ticks(shown, plot.width):
        write(at, ("-" if seconds < 0 else "") + fmt.clock(abs(seconds)), QUIET)
