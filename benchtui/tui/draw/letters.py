"""Block letters for the bars: 5 pixels high, mostly 4 wide, stroke and gap 1."""

from __future__ import annotations

from functools import lru_cache
from typing import TypeAlias

from .glyphs import Glyph
from .text import cells

HIGH = 5
SPACE = 2
GAP = 1

Spelt: TypeAlias = tuple[Glyph | None, ...]
"""A text in glyphs; None is a space."""

_DRAWN = {
    "A": ".XX. X..X XXXX X..X X..X",
    "B": "XXX. X..X XXX. X..X XXX.",
    "C": ".XXX X... X... X... .XXX",
    "D": "XXX. X..X X..X X..X XXX.",
    "E": "XXXX X... XXX. X... XXXX",
    "F": "XXXX X... XXX. X... X...",
    "G": ".XXX X... X.XX X..X .XXX",
    "H": "X..X X..X XXXX X..X X..X",
    "I": "X X X X X",
    "J": "..XX ...X ...X X..X .XX.",
    "K": "X..X X.X. XX.. X.X. X..X",
    "L": "X... X... X... X... XXXX",
    "M": "X...X XX.XX X.X.X X...X X...X",
    "N": "X...X XX..X X.X.X X..XX X...X",
    "O": ".XX. X..X X..X X..X .XX.",
    "P": "XXX. X..X XXX. X... X...",
    "Q": ".XX. X..X X..X X.X. .X.X",
    "R": "XXX. X..X XXX. X.X. X..X",
    "S": ".XXX X... .XX. ...X XXX.",
    "T": "XXXXX ..X.. ..X.. ..X.. ..X..",
    "U": "X..X X..X X..X X..X .XX.",
    "V": "X...X X...X X...X .X.X. ..X..",
    "W": "X...X X...X X.X.X XX.XX X...X",
    "X": "X...X .X.X. ..X.. .X.X. X...X",
    "Y": "X...X .X.X. ..X.. ..X.. ..X..",
    "Z": "XXXX ...X .XX. X... XXXX",
    "0": ".XX. X..X X..X X..X .XX.",
    "1": ".X. XX. .X. .X. XXX",
    "2": "XXX. ...X .XX. X... XXXX",
    "3": "XXX. ...X .XX. ...X XXX.",
    "4": "X..X X..X XXXX ...X ...X",
    "5": "XXXX X... XXX. ...X XXX.",
    "6": ".XX. X... XXX. X..X .XX.",
    "7": "XXXX ...X ..X. .X.. .X..",
    "8": ".XX. X..X .XX. X..X .XX.",
    "9": ".XX. X..X .XXX ...X .XX.",
    "+": "... .X. XXX .X. ...",
    "-": "... ... XXX ... ...",
    ".": ". . . . X",
    ":": ". X . X .",
    "/": "...X ..X. ..X. .X.. X...",
    "'": "X X . . .",
    "(": ".X X. X. X. .X",
    ")": "X. .X .X .X X.",
    "%": "X..X ...X .XX. X... X..X",
    "?": "XXX. ...X .XX. .... .X..",
    "!": "X X X . X",
}
_NARROW = {
    "E": "XXX X.. XX. X.. XXX",
    "S": "XXX X.. XXX ..X XXX",
    "U": "X.X X.X X.X X.X XXX",
    "C": "XXX X.. X.. X.. XXX",
    "F": "XXX X.. XX. X.. X..",
    "L": "X.. X.. X.. X.. XXX",
    "Z": "XXX ..X .X. X.. XXX",
}
_UPRIGHTS_OF_TWO = {
    "L": "XX.... XX.... XX.... XX.... XXXXXX",
    "I": "XX XX XX XX XX",
    "V": "XX...XX XX...XX .XX.XX. .XX.XX. ..XXX..",
    "E": "XXXXXX XX.... XXXX.. XX.... XXXXXX",
}


def _read(drawn: dict[str, str]) -> dict[str, Glyph]:
    out = {}
    for letter, picture in drawn.items():
        rows = picture.split()
        out[letter] = Glyph(len(rows[0]), tuple(int(r.replace("X", "1").replace(".", "0"), 2) for r in rows))
    return out


LETTERS = _read(_DRAWN)
NARROW = {**LETTERS, **_read(_NARROW)}
LIVE = tuple(_read(_UPRIGHTS_OF_TWO)[c] for c in "LIVE")
"""The word LIVE with uprights of 2 pixels; its gap is 2."""
LIVE_GAP = 2


@lru_cache(maxsize=256)
def spelt(text: str, narrow: bool = False) -> Spelt:
    """The glyphs of a text, None for a space; a letter that no glyph shows is left out."""
    font = NARROW if narrow else LETTERS
    out: list[Glyph | None] = []
    for c in "".join(cells(text)).upper():
        if c == " ":
            out.append(None)
        elif c in font:
            out.append(font[c])
    return tuple(out)


def wide(glyphs: Spelt, gap: int = GAP) -> int:
    """Pixels from the first letter to the last."""
    return max(sum((SPACE if g is None else g.width) + gap for g in glyphs) - gap, 0)
