"""Paragraphs for a person, in lines that fit the terminal."""

from __future__ import annotations

from .console import say, width, wrapped


def say_wrapped(text: str) -> None:
    """A paragraph, in lines that fit the terminal; lines already ended stay so."""
    for line in text.split("\n"):
        say(wrapped(line, "", width()))
