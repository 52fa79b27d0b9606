"""Looks: which colours the roles have, and which glyphs a terminal can show.

Every ink of the dark look has a contrast of 4.5 or more on its ground, lines and shades excepted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rich.style import Style

from .paint import BARS, Paint

EIGHTHS, CELLS, ASCII = "eighths", "cells", "ascii"
"""What a needle and blocks are made of: eighths of a cell with a shaded band; whole cells with a drawn band;
letters and signs alone."""


@dataclass(frozen=True, slots=True)
class Look:
    """One way to show the same cells."""

    name: str
    colours: Mapping[str, str]
    """Role -> colour as rich writes it; empty: bold and reverse only."""
    glyphs: str = EIGHTHS
    dark: bool = True
    _styles: dict[Paint, Style] = field(default_factory=dict, repr=False, compare=False)

    def style(self, paint: Paint) -> Style:
        """The style of a paint; remembered, so that it costs a look-up."""
        known = self._styles.get(paint)
        if known is None:
            known = self._styles[paint] = self._made(paint)
        return known

    def _made(self, paint: Paint) -> Style:
        if not self.colours:
            return Style(bold=paint.bold or None, reverse=paint.ground in BARS or None)
        return Style(
            color=self.colours[paint.ink], bgcolor=self.colours[paint.ground], bold=paint.bold or None
        )


DARK = Look(
    "dark",
    {
        "ground": "#17191c",
        "ink": "#eee7d8",
        "quiet": "#a79f91",
        "faint": "#5e5b57",
        "band": "#2b343d",
        "plumb": "#6d8494",
        "moving": "#86bdf0",
        "live": "#e6b43c",
        "live_ink": "#17140c",
        "fault": "#d2401c",
        "fault_ink": "#ffffff",
        "fault_text": "#ff7a55",
        "run": "#d2401c",
    },
)
LIGHT = Look(
    "light",
    {
        "ground": "#f6f2e9",
        "ink": "#1f1d1a",
        "quiet": "#655f55",
        "faint": "#a39a89",
        "band": "#cfdce5",
        "plumb": "#64808f",
        "moving": "#14589a",
        "live": "#1f1d1a",
        "live_ink": "#ffd24a",
        "fault": "#b82c0c",
        "fault_ink": "#ffffff",
        "fault_text": "#b82c0c",
        "run": "#b82c0c",
    },
    dark=False,
)
SIXTEEN = Look(
    "sixteen",
    {
        "ground": "default",
        "ink": "bright_white",
        "quiet": "default",
        "faint": "bright_black",
        "band": "default",
        "plumb": "bright_black",
        "moving": "bright_blue",
        "live": "yellow",
        "live_ink": "black",
        "fault": "red",
        "fault_ink": "bright_white",
        "fault_text": "bright_red",
        "run": "bright_red",
    },
    CELLS,
)
PLAIN = Look("plain", {}, CELLS)
LETTERS = Look("ascii", {}, ASCII)

LOOKS = {look.name: look for look in (DARK, LIGHT, SIXTEEN, PLAIN, LETTERS)}


def choose(wish: str, no_colour: bool, encoding: str | None, colours: str | None) -> Look:
    """The look for a terminal: what the person wished, as far as the terminal can show it.

    `wish` is the name of a look; `colours` is rich's name of the terminal's colour system, if known.
    """
    if "utf" not in (encoding or "").lower():
        return LETTERS
    if no_colour:
        return LETTERS if wish == "ascii" else PLAIN
    look = LOOKS.get(wish, DARK)
    if colours == "standard" and look.glyphs == EIGHTHS:
        return SIXTEEN
    return look
