"""Text from meters, files and people, made fit for cells: no control, no markup, a known width."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from rich.cells import get_character_cell_size

from benchtui.model.notes import plain
from benchtui.model.units import BY_SYMBOL

_MOST = 400
_MARKS = 2
"""Combining marks kept on one letter: enough for any script, too few to reach the row above."""
_OF_A_NUMBER = "0123456789.,:+-±"
_UNITS = "|".join(sorted((s for s in BY_SYMBOL if s.isalpha()), key=len, reverse=True))
_QUANTITY = re.compile(
    rf"(?<![^\s(±])[-+±<>]?\d[\d.,]*(?: ±[\d.,]+)? (?:[pnumkMG]?(?:{_UNITS})(?![A-Za-z])|%)"
)
"""A number and its unit, as this program writes them."""
_TROUBLESOME = (
    (0x1F1E6, 0x1F1FF),
    (0x1F3FB, 0x1F3FF),
    (0xFE00, 0xFE0F),
    (0x20D0, 0x20FF),
    (0xE0000, 0xE0FFF),
)
"""Characters whose width depends on their neighbours: terminals disagree about them."""


@lru_cache(maxsize=2048)
def cells(text: str) -> tuple[str, ...]:
    """One entry a cell: a letter with its marks; a wide letter is followed by an empty entry."""
    out: list[str] = []
    marks = 0
    for c in unicodedata.normalize("NFC", plain(text, _MOST)):
        n = ord(c)
        if n >= 0x20D0 and any(low <= n <= high for low, high in _TROUBLESOME):
            continue
        width = 1 if n < 0x300 else get_character_cell_size(c)
        if width == 0:
            if out and out[-1] and marks < _MARKS:
                out[-1] += c
                marks += 1
            continue
        marks = 0
        out.append(c)
        if width == 2:
            out.append("")
    return tuple(out)


def width(text: str) -> int:
    """Cells that the text takes."""
    return len(text) if text.isascii() and text.isprintable() else len(cells(text))


@lru_cache(maxsize=2048)
def clip(text: str, most: int) -> str:
    """The text in at most `most` cells; what is left out is told by an ellipsis."""
    every = cells(text)
    if len(every) <= most:
        return "".join(every)
    if most <= 0:
        return ""
    kept = every[: most - 1]
    if kept and every[most - 1] == "":
        kept = kept[:-1]
    return "".join(kept).rstrip() + "…"


def quantities(text: str) -> list[tuple[int, int]]:
    """Where numbers with their units begin and end."""
    return [found.span() for found in _QUANTITY.finditer(text)]


@lru_cache(maxsize=2048)
def cut(text: str, most: int) -> str:
    """The same for words with quantities: a number, with its unit, and a name with one go as a whole."""
    if width(text) <= most:
        return clip(text, most)
    kept = clip(text, most).removesuffix("…")
    whole = "".join(cells(text))
    rest = whole.removeprefix(kept)
    if kept and rest and rest[0] in _OF_A_NUMBER and (rest[0].isdigit() or kept[-1] in _OF_A_NUMBER):
        kept = kept.rpartition(" ")[0]
    for first, last in quantities(whole):
        if first < len(kept) < last:
            kept = kept[:first]
    return kept.rstrip() + "…" if most > 0 else ""


def wrap(text: str, most: int, lines: int) -> list[str]:
    """The text broken at spaces into at most so many lines of at most `most` cells."""
    out: list[str] = []
    words = "".join(cells(text)).split()
    while words and len(out) < lines:
        if len(out) == lines - 1:
            out.append(cut(" ".join(words), most))
            break
        line = words.pop(0)
        while words and width(line) + 1 + width(words[0]) <= most:
            line += " " + words.pop(0)
        out.append(clip(line, most))
    return out
