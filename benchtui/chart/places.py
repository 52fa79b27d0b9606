"""Where each key of a TOML text stands: the standard library's reader gives values, no lines.

Reads only text that `tomllib` has accepted; where it loses its way it stops and keeps what it has.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from contextlib import suppress
from typing import TypeAlias

Path: TypeAlias = tuple[str | int, ...]
"""Keys and places in lists from the top of the file; `("point", 1, "name")` is in the second [[point]]."""

_BLANK = re.compile(r"[ \t]*")
_FILLER = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}'
    r"|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}#\n]+")


class _Lost(Exception):
    """The text is not what was expected here."""


def places(text: str) -> dict[Path, int]:
    """The line, counted from 1, on which each table, key and list element begins."""
    scanner = _Scanner(text)
    with suppress(_Lost, RecursionError, tomllib.TOMLDecodeError):
        scanner.document()
    return scanner.found


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, int] = {}
        self._lists: dict[Path, int] = {}
        self._ends = [m.start() for m in re.finditer("\n", text)]

    def document(self) -> None:
        here: Path = ()
        while self._skip(_FILLER) and self.at < len(self.text):
            if self.text[self.at] == "[":
                here = self._header()
            else:
                self._pair(here)

    def _header(self) -> Path:
        start = self.at
        double = self.text.startswith("[[", start)
        self.at += 2 if double else 1
        keys = self._keys()
        self._expect("]]" if double else "]")
        path: Path = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            if double and place == len(keys) - 1:
                self._lists[path] = self._lists.get(path, -1) + 1
                self._note(path, start)
            if path in self._lists:
                path = (*path, self._lists[path])
            self._note(path, start)
        return path

    def _pair(self, here: Path) -> None:
        start = self.at
        path = here
        for key in self._keys():
            path = (*path, key)
            self._note(path, start)
        self._expect("=")
        self._skip(_BLANK)
        self._value(path)

    def _value(self, path: Path) -> None:
        first = self.text[self.at : self.at + 1]
        if first in ('"', "'"):
            self._string()
        elif first == "[":
            self._list(path)
        elif first == "{":
            self._inline(path)
        elif not self._skip(_BARE_VALUE):
            raise _Lost

    def _list(self, path: Path) -> None:
        self._expect("[")
        count = 0
        while self._skip(_FILLER) and not self._next_is("]"):
            if count:
                self._expect(",")
                self._skip(_FILLER)
                if self._next_is("]"):
                    return
            self._note((*path, count), self.at)
            self._value((*path, count))
            count += 1

    def _inline(self, path: Path) -> None:
        self._expect("{")
        first = True
        while self._skip(_FILLER) and not self._next_is("}"):
            if not first:
                self._expect(",")
                self._skip(_FILLER)
                if self._next_is("}"):
                    return
            self._pair(path)
            first = False

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip(_BLANK)
            if self.text[self.at : self.at + 1] in ('"', "'"):
                keys.append(str(tomllib.loads("k = " + self._string())["k"]))
            else:
                start = self.at
                if not self._skip(_BARE_KEY) or self.at == start:
                    raise _Lost
                keys.append(self.text[start : self.at])
            self._skip(_BLANK)
            if not self._next_is("."):
                return keys

    def _string(self) -> str:
        start = self.at
        if not self._skip(_STRING):
            raise _Lost
        return self.text[start : self.at]

    def _skip(self, pattern: re.Pattern[str]) -> bool:
        match = pattern.match(self.text, self.at)
        if match is None:
            return False
        self.at = match.end()
        return True

    def _next_is(self, mark: str) -> bool:
        """Steps over the mark if it comes next; at the end of the text there is nothing to wait for."""
        if self.at >= len(self.text):
            raise _Lost
        if not self.text.startswith(mark, self.at):
            return False
        self.at += len(mark)
        return True

    def _expect(self, mark: str) -> None:
        if not self._next_is(mark):
            raise _Lost

    def _note(self, path: Path, at: int) -> None:
        self.found.setdefault(path, bisect_right(self._ends, at - 1) + 1)
