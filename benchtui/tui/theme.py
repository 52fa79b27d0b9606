"""The look as a theme of Textual, for the few widgets that are not drawn by hand."""

from __future__ import annotations

from textual.theme import Theme

from .draw.looks import DARK, Look


def theme(look: Look) -> Theme:
    """A theme with the palette of a look; looks without a palette of their own have the terminal's."""
    plain = not look.colours or look.colours["ground"] == "default"
    colours = DARK.colours if plain else look.colours
    return Theme(
        name=f"bench-{look.name}",
        primary=colours["ink"],
        foreground="ansi_default" if plain else colours["ink"],
        background="ansi_default" if plain else colours["ground"],
        surface="ansi_default" if plain else colours["band"],
        panel="ansi_default" if plain else colours["band"],
        warning=colours["live"],
        error=colours["fault"],
        dark=look.dark,
    )
