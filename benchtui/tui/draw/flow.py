"""Lines of painted pieces made to fit a sheet of any size: whole words, whole quantities, whole titles."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeAlias

from .paint import INK, Paint
from .text import clip, quantities, width

Piece: TypeAlias = tuple[str, Paint]
Line: TypeAlias = Sequence[Piece]
_WORD = re.compile(r"( *)([^ ]+)")
_Atom: TypeAlias = tuple[int, str, Paint]
"""Blanks before it, its text, its paint; never broken."""


def flow(lines: Sequence[Line], columns: int, rows: int) -> list[Line]:
    """The lines broken at blanks to so many columns; blank lines go where rows are short, then the last.

    What is left out is told by an ellipsis in the last row. A quantity without room is an ellipsis itself.
    """
    if columns <= 0 or rows <= 0:
        return []
    flowed = [part for line in lines for part in _flowed(line, columns)]
    if len(flowed) > rows:
        flowed = [line for line in flowed if line]
    if len(flowed) > rows:
        last = list(flowed[rows - 1])
        while last and sum(width(text) for text, _ in last) + 2 > columns:
            last.pop()
        flowed = [*flowed[: rows - 1], [*last, (" …" if last else "…", INK)]]
    return flowed


def _flowed(line: Line, columns: int) -> list[Line]:
    if sum(width(text) for text, _ in line) <= columns:
        return [line]
    out: list[list[Piece]] = [[]]
    used = 0
    for gap, text, paint in (atom for piece in line for atom in _atoms(piece, columns)):
        if used and used + gap + width(text) > columns:
            out.append([])
            used = 0
        if used and gap:
            out[-1].append((" " * gap, paint))
            used += gap
        shown = _fitted(text, columns)
        out[-1].append((shown, paint))
        used += width(shown)
    return list(out)


def _atoms(piece: Piece, columns: int) -> list[_Atom]:
    """Words, and quantities as one; a title on a bar as one where it has room."""
    text, paint = piece
    if paint.reversed and width(text) <= columns:
        return [(0, text, paint)]
    whole = quantities(text)
    atoms: list[_Atom] = []
    ends = 0
    for found in _WORD.finditer(text):
        if atoms and any(first < found.start(2) < last for first, last in whole):
            gap, before, _ = atoms[-1]
            atoms[-1] = (gap, before + found[0], paint)
        else:
            atoms.append((len(found[1]), found[2], paint))
        ends = found.end()
    return [*atoms, (len(text) - ends, "", paint)] if ends < len(text) else atoms


def _fitted(text: str, columns: int) -> str:
    if width(text) <= columns:
        return text
    return "…" if quantities(text) else clip(text, columns)
