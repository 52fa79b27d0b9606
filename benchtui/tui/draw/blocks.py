"""Bitmaps onto the canvas: half a cell a pixel, doubled, or whole cells where half cells can't be shown."""

from __future__ import annotations

from . import letters
from .canvas import Canvas
from .glyphs import Glyph
from .looks import ASCII, EIGHTHS
from .paint import BLOCK, INK, Paint


def halves(canvas: Canvas, top: int, column: int, glyph: Glyph, paint: Paint) -> None:
    """A glyph whose first pixel row is pixel row `top` (two to a cell) of the canvas.

    On a bar a mixed cell is an upper half block on the ground of the pixel below, except where grounds are
    few: some terminals blink on a bright ground.
    """
    swap = paint.reversed and canvas.glyphs == EIGHTHS
    under, low = (Paint(paint.ground, paint.ink), "▀") if swap else (paint, "▄")
    for row in range(top // 2, (top + len(glyph.rows) + 1) // 2):
        upper, lower = _row(glyph, 2 * row - top), _row(glyph, 2 * row + 1 - top)
        for i in range(glyph.width):
            bit = 1 << (glyph.width - 1 - i)
            up, down = upper & bit, lower & bit
            if up:
                canvas.dot(row, column + i, "█" if down else "▀", paint)
            elif down:
                canvas.dot(row, column + i, low, under)


def wholes(canvas: Canvas, row: int, column: int, glyph: Glyph, paint: Paint, across: int = 1) -> None:
    """A glyph whose pixels are whole cells, `across` of them side by side.

    In the look of letters alone they are blanks, turned round against what is behind them.
    """
    char = "█"
    if canvas.glyphs == ASCII:
        char, paint = " ", INK if paint.reversed else BLOCK
    for y, bits in enumerate(glyph.rows):
        for x in range(glyph.width):
            if bits >> (glyph.width - 1 - x) & 1:
                canvas.fill(row + y, column + x * across, across, paint, char)


def spell(
    canvas: Canvas,
    row: int,
    column: int,
    text: letters.Spelt,
    paint: Paint,
    half: int = 0,
    across: int = 0,
    gap: int = letters.GAP,
) -> int:
    """Letters from the top of `row` (or from its middle, `half` 1); gives the column after the last.

    `across` columns a pixel make doubled letters; 0 makes them of half cells.
    """
    ascii_only = canvas.glyphs == ASCII
    step = 1 if ascii_only or not across else across
    start = column
    for glyph in text:
        if glyph is not None:
            if ascii_only or across:
                wholes(canvas, row, column, glyph, paint, step)
            else:
                halves(canvas, 2 * row + half, column, glyph, paint)
        column += step * ((letters.SPACE if glyph is None else glyph.width) + gap)
    return max(column - step * gap, start)


def _row(glyph: Glyph, y: int) -> int:
    return glyph.rows[y] if 0 <= y < len(glyph.rows) else 0
