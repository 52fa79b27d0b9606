"""The needle: where a value stands between 0, its band and its rating, on one scale for all points."""

from __future__ import annotations

import math

from benchtui.model.units import Unit
from benchtui.watch.board import Row

from ..format import finite
from .canvas import Canvas
from .looks import ASCII, EIGHTHS
from .paint import BOLD, FAINT, MOVING, PLUMB, QUIET, RUN, Paint
from .scale import Scale, scale

_EIGHTHS = "▏▎▍▌▋▊▉█"
BAND = Paint("ink", "band")


def draw(
    canvas: Canvas,
    at: int,
    column: int,
    width: int,
    row: Row,
    value: float | None = None,
    foreseen: bool = True,
) -> None:
    """A row's needle, at `value` where that is given. Draws nothing where there is no scale."""
    found = scale(row, width)
    if found is None or not 0 <= at < canvas.height:
        return
    _ground(canvas, at, column, found)
    own = finite(row.level if row.level is not None else row.value)
    value = own if value is None else value
    if foreseen:
        _foreseen(canvas, at, column, found, row)
    if own is None or value is None:
        return
    position = found.at(float(value >= 0.5) if row.unit is Unit.STATE else value)
    paint = MOVING if row.sign in ("^", "v") else BOLD
    if row.sign in ("!!", "#") and not found.left <= position <= found.right:
        _run(canvas, at, column, found, position)
    elif position > found.width or position < 0:
        char = ("►" if position > 0 else "◄") if canvas.glyphs != ASCII else (">" if position > 0 else "<")
        canvas.dot(at, column + (found.width - 1 if position > 0 else 0), char, paint)
    else:
        marker(canvas, at, column, width, position, paint)


def ground(canvas: Canvas, at: int, column: int, width: int, row: Row) -> None:
    """The scale alone, without a value."""
    found = scale(row, width)
    if found is not None and 0 <= at < canvas.height:
        _ground(canvas, at, column, found)


def heighten(canvas: Canvas, at: int, column: int, width: int) -> None:
    """Makes the needle drawn on row `at` two rows high: the line runs between them."""
    for c in range(column, min(column + width, canvas.width)):
        char, paint = canvas.chars[at][c], canvas.paints[at][c]
        upper, lower = {"─": ("▁", " "), "▁": (" ", "▁"), "━": ("▁", " ")}.get(char, (char, char))
        canvas.dot(at, c, upper, paint)
        canvas.dot(at + 1, c, lower, paint)


def marker(canvas: Canvas, at: int, column: int, width: int, position: float, paint: Paint) -> None:
    """A mark one cell wide whose middle is at `position`, placed to an eighth of a cell."""
    start = min(max(position - 0.5, 0.0), width - 1.0)
    if canvas.glyphs == ASCII:
        canvas.dot(at, column + round(start), "O", paint)
        return
    whole, part = divmod(round(start * 8), 8)
    if canvas.glyphs != EIGHTHS:
        whole, part = whole + (part > 5), 4 if 2 < part <= 5 else 0
    column += whole
    here = canvas.paints[at][column].ground if 0 <= column < canvas.width else "ground"
    if part == 0:
        canvas.dot(at, column, "█", paint.on(here))
    elif canvas.glyphs != EIGHTHS:
        canvas.dot(at, column, "▐", paint.on(here))
        canvas.dot(at, column + 1, "▌", paint.on(here))
    else:
        there = canvas.paints[at][column + 1].ground if column + 1 < canvas.width else "ground"
        canvas.dot(at, column, _EIGHTHS[part - 1], Paint(here, paint.ink))
        canvas.dot(at, column + 1, _EIGHTHS[part - 1], paint.on(there))


def below(
    canvas: Canvas, at: int, column: int, width: int, row: Row, warn: float, value: float | None
) -> None:
    """The needle after power-off: the band is `below the warning level`.

    Left half linear from 0 to the level, right half logarithmic up to the rating.
    """
    if not 0 <= at < canvas.height:
        return
    half = width // 2
    warn = max(warn, 1e-3)
    found = scale(row, width)
    ends = () if found is None else (found.anchors[0][0], found.anchors[-1][0])
    most = max(2 * warn, *(abs(v) for v in ends)) if ends else 2 * warn + abs(row.limit or 0.0)
    if canvas.glyphs == EIGHTHS:
        canvas.fill(at, column, half, BAND)
    else:
        _drawn_band(canvas, at, column, 0, half, None)
    canvas.fill(at, column + half, width - half, FAINT, "-" if canvas.glyphs == ASCII else "─")
    if value is None:
        return
    size = abs(value)
    if size <= warn:
        position = size / warn * half
    else:
        position = half + (width - half) * math.log(size / warn) / math.log(most / warn)
    paint = MOVING if row.sign == "v" else BOLD
    if position > width:
        canvas.dot(at, column + width - 1, ">" if canvas.glyphs == ASCII else "►", paint)
    else:
        marker(canvas, at, column, width, position, paint)


def _ground(canvas: Canvas, at: int, column: int, found: Scale) -> None:
    line = "-" if canvas.glyphs == ASCII else "─"
    canvas.fill(at, column, found.width, FAINT, line)
    if canvas.glyphs == EIGHTHS:
        canvas.fill(at, column + found.left, found.right - found.left, BAND)
        if found.plumb:
            canvas.dot(at, column + found.middle, "│", PLUMB)
    else:
        _drawn_band(canvas, at, column, found.left, found.right, found.middle if found.plumb else None)


def _drawn_band(canvas: Canvas, at: int, column: int, left: int, right: int, middle: int | None) -> None:
    """A band for looks that have no shading."""
    first, line, cross, last = "[=|]" if canvas.glyphs == ASCII else "┝━┿┥"
    canvas.fill(at, column + left, right - left, QUIET, line)
    canvas.dot(at, column + left, first, QUIET)
    canvas.dot(at, column + right - 1, last, QUIET)
    if middle is not None:
        canvas.dot(at, column + middle, cross, QUIET)


def _foreseen(canvas: Canvas, at: int, column: int, found: Scale, row: Row) -> None:
    """The predicted interval, at the foot of the band."""
    if row.predicted is None or canvas.glyphs != EIGHTHS:
        return
    first = max(math.floor(found.at(row.predicted.low)), found.left)
    last = min(math.floor(found.at(row.predicted.high)), found.right - 1)
    for cell in range(first, last + 1):
        plumb = found.plumb and cell == found.middle
        canvas.dot(at, column + cell, "│" if plumb else "▁", Paint("moving", "band"))


def _run(canvas: Canvas, at: int, column: int, found: Scale, position: float) -> None:
    """Solid from the band's edge to the value: trouble leans out of the column."""
    if position < found.left:
        first, last = max(min(math.floor(position), found.left - 1), 0), found.left
        char, end, tip = "<", "◄", position < 0
    else:
        first, last = found.right, min(max(math.ceil(position), found.right + 1), found.width)
        char, end, tip = ">", "►", position > found.width
    canvas.fill(at, column + first, last - first, RUN, char if canvas.glyphs == ASCII else "█")
    if tip and canvas.glyphs != ASCII:
        canvas.dot(at, column + (0 if end == "◄" else found.width - 1), end, Paint("fault_ink", "fault"))
