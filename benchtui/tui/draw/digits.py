"""Where block digits stand in their slot, so that every number has room or loses a digit, never a part."""

from __future__ import annotations

from dataclasses import dataclass

from .. import format as fmt
from . import glyphs
from .glyphs import Glyph
from .plan import Blocks

MINUS_WIDTH = 4
"""Pixels; no digit has this width."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Glyphs with their columns in the slot, and the column of the unit."""

    glyphs: tuple[tuple[int, Glyph], ...]
    unit: int


def place(digits: list[Glyph], unit: str, sizes: Blocks) -> Placed | None:
    """Digits at their usual column, a little left of it, or with the minus hung in the gap; None: no room."""
    for start in range(sizes.digits, sizes.digits - 3, -1):
        for gap in (2, 1):
            unit_at = start + _wide(digits, sizes) + gap
            if unit_at + len(unit) <= sizes.slot:
                return Placed(_in_columns(digits, start, sizes), unit_at)
    if not digits or digits[0].width != MINUS_WIDTH:
        return None
    bare = digits[1:]
    unit_at = sizes.digits + _wide(bare, sizes) + 1
    if unit_at + len(unit) > sizes.slot:
        return None
    hung = glyphs.HANGING_MINUS if len(digits[0].rows) == glyphs.TALL else glyphs.ASCII_HANGING_MINUS
    column = sizes.digits - 2 * sizes.across - 1
    return Placed(((column, hung), *_in_columns(bare, sizes.digits, sizes)), unit_at)


def shortened(text: str) -> str:
    """One decimal less; empty when there is none left to lose."""
    if "." not in text:
        return ""
    whole = float(text)
    return fmt.number(whole, len(text) - text.index(".") - 2)


def _wide(digits: list[Glyph], sizes: Blocks) -> int:
    return sum(g.width * sizes.across + sizes.gap for g in digits) - sizes.gap


def _in_columns(digits: list[Glyph], start: int, sizes: Blocks) -> tuple[tuple[int, Glyph], ...]:
    out = []
    for glyph in digits:
        out.append((start, glyph))
        start += glyph.width * sizes.across + sizes.gap
    return tuple(out)
