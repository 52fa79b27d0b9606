"""The problems of one file, collected while it is read."""

from __future__ import annotations

import re

from benchtui.model.errors import ChartError, Problem
from benchtui.model.notes import plain

from .places import Path, places

_BARE = re.compile(r"[A-Za-z0-9_-]+")


class Problems:
    """The problems of one file, each with the line of the key it is about."""

    def __init__(self, file: str, text: str) -> None:
        self.file = plain(file)
        self._places = places(text.removeprefix("\ufeff"))
        self._found: list[Problem] = []

    def line(self, path: Path) -> int | None:
        """The line of this key, or of the nearest thing around it that has one."""
        while path:
            if path in self._places:
                return self._places[path]
            path = path[:-1]
        return None

    def add(self, path: Path, what: str) -> None:
        self._found.append(Problem(self.file, self.line(path), _written(path), what))

    def raise_if_any(self) -> None:
        """Raises ChartError with all problems, in the order of their lines."""
        if self._found:
            raise ChartError(sorted(self._found, key=lambda p: p.line or 0))


def _written(path: Path) -> str:
    """Like `point[2].tolerance`: places in lists are counted from 1."""
    shown = ""
    for part in path:
        if isinstance(part, int):
            shown += f"[{part + 1}]"
        else:
            word = part if _BARE.fullmatch(part) else f'"{part}"'
            shown += f".{plain(word, 40)}" if shown else plain(word, 40)
    return shown
