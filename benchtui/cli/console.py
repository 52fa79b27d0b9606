"""What a command prints: plain lines that no terminal acts on, and a progress bar where someone sees it."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
import textwrap
from collections.abc import Mapping
from time import monotonic
from typing import Any

from benchtui.model.notes import plain

from .streams import put_error, put_out

WARN_ABOVE = (
    "level above which a point counts as live, DC or AC, like 50V (30 V, unless your settings say else)"
)


class _KeepsLines(argparse.HelpFormatter):
    """Fills a description, and leaves a text of several lines as it stands."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return text if "\n" in text else super()._fill_text(text, width, indent)


def example(*lines: str, after: str = "") -> dict[str, Any]:
    """For a parser: its help ends with these command lines, as they can be typed."""
    shown = "\n".join(f"  {line}" for line in lines)
    head = "example:" if len(lines) == 1 else "examples:"
    text = f"{head}\n{shown}" + (f"\n\n{after}" if after else "")
    return {"epilog": text, "formatter_class": _KeepsLines}


def say(text: str) -> None:
    """One or more lines on standard output, at once there for a pipe.

    Raises:
        NobodyReads: the reader is gone.
        OutputError: they cannot be written.
    """
    put_out("\n".join(plain(line, most=4000) for line in text.split("\n")), now=True)


def say_json(record: Mapping[str, Any]) -> None:
    """One line of JSON, ASCII only: any encoding carries it and no terminal acts on it. Raises as `say`."""
    put_out(json.dumps(record, ensure_ascii=True, allow_nan=False))


def say_error(text: str) -> None:
    """Lines on standard error, the first with the program's name before it. Never raises."""
    put_error("\n".join(plain(line, most=4000) for line in f"benchtui: {text}".split("\n")))


def width() -> int:
    """Columns to write in: the terminal's, between 60 and 120; 80 in a pipe."""
    return min(120, max(60, shutil.get_terminal_size((80, 24)).columns))


def wrapped(text: str, indent: str, columns: int) -> str:
    """The text in lines of at most so many columns, all but the first begun with `indent`."""
    lines = textwrap.wrap(text, columns - len(indent), break_on_hyphens=False) or [""]
    return ("\n" + indent).join(lines)


PATIENCE_S = 0.5
"""What is done within this shows no bar."""


class Progress:
    """A bar on standard error while something takes longer than a moment; nothing in a pipe."""

    def __init__(self, what: str, whole: int) -> None:
        self._what = what
        self._whole = max(1, whole)
        self._shown_at = monotonic() + PATIENCE_S
        self._used = False
        self._on = sys.stderr.isatty()

    def __enter__(self) -> Progress:
        return self

    def at(self, done: int) -> None:
        """So much of the whole is done."""
        if not self._on or monotonic() < self._shown_at:
            return
        self._shown_at = monotonic() + PATIENCE_S / 5
        self._used = True
        part = min(1.0, max(0.0, done / self._whole))
        bar = ("#" * round(30 * part)).ljust(30, ".")
        put_error(f"\r{self._what} [{bar}] {part:4.0%}", end="")

    def __exit__(self, *_: object) -> None:
        if self._used:
            put_error("\r" + " " * 60 + "\r", end="")
