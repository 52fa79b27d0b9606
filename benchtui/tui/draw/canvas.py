"""A screenful of cells, written by pure functions and read by a widget or a test."""

from __future__ import annotations

from .looks import EIGHTHS
from .paint import INK, Paint
from .text import cells, clip, width


class Canvas:
    """Cells in rows; whatever is written outside is left out, so that no text can change another row."""

    __slots__ = ("chars", "glyphs", "height", "paints", "width")

    def __init__(self, width: int, height: int, glyphs: str = EIGHTHS, paint: Paint = INK) -> None:
        self.glyphs = glyphs
        self.width = max(width, 0)
        self.height = max(height, 0)
        self.chars = [[" "] * self.width for _ in range(self.height)]
        self.paints = [[paint] * self.width for _ in range(self.height)]

    def put(self, row: int, column: int, text: str, paint: Paint = INK, most: int | None = None) -> int:
        """Writes text, clipped to `most` cells and to the edge; gives the column after it."""
        if most is not None:
            text = clip(text, most)
        if not 0 <= row < self.height or column >= self.width:
            return column + width(text)
        letters = list(text) if text.isascii() and text.isprintable() else list(cells(text))
        end = column + len(letters)
        if column < 0:
            letters, column = letters[-column:], 0
        letters = letters[: self.width - column]
        if not letters:
            return end
        self._mend(row, column, column + len(letters))
        self.chars[row][column : column + len(letters)] = letters
        self.paints[row][column : column + len(letters)] = [paint] * len(letters)
        if letters[0] == "":
            self.chars[row][column] = " "
        return end

    def right(self, row: int, end: int, text: str, paint: Paint = INK, most: int | None = None) -> int:
        """Writes text that ends just before column `end`; gives the column where it begins."""
        if most is not None:
            text = clip(text, most)
        start = end - width(text)
        self.put(row, start, text, paint)
        return start

    def fill(self, row: int, column: int, count: int, paint: Paint, char: str = " ") -> None:
        """The same single-cell character over a stretch of a row."""
        first, last = max(column, 0), min(column + count, self.width)
        if 0 <= row < self.height and first < last:
            self._mend(row, first, last)
            self.chars[row][first:last] = [char] * (last - first)
            self.paints[row][first:last] = [paint] * (last - first)

    def dot(self, row: int, column: int, char: str, paint: Paint) -> None:
        """One cell, one character of width one."""
        if 0 <= row < self.height and 0 <= column < self.width:
            self.chars[row][column] = char
            self.paints[row][column] = paint

    def repaint(self, row: int, column: int, count: int, paint: Paint) -> None:
        """Other paint under the same characters."""
        first, last = max(column, 0), min(column + count, self.width)
        if 0 <= row < self.height and first < last:
            self.paints[row][first:last] = [paint] * (last - first)

    def lines(self, shade: bool = False) -> list[str]:
        """The characters row by row; with `shade`, a blank on a bar is shown as a full block."""
        out = []
        for chars, paints in zip(self.chars, self.paints, strict=True):
            if shade:
                shown = ["█" if c == " " and p.reversed else c for c, p in zip(chars, paints, strict=True)]
            else:
                shown = chars
            out.append("".join(shown).rstrip())
        return out

    def _mend(self, row: int, first: int, last: int) -> None:
        """Leaves no half of a wide letter beside what is about to be written."""
        line = self.chars[row]
        if line[first] == "" and first > 0:
            line[first - 1] = " "
        if last < self.width and line[last] == "":
            line[last] = " "
