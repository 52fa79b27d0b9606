"""Random TOML in all its ways of writing, with the line of every key as it was written."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from hypothesis import strategies as st

Path = tuple[str | int, ...]

KEYS = ["a", "b-c", "point", "name", "1", "with space", "dot.ted", 'quo"te', "=", "#", "]", "\u00e9", ""]
SCALARS = [
    '"plain"', '"esc \\" ] } # \\\\"', "'lit # ] } \"'", '""', "''", "true", "-3", "1.5e3", "0xff", "1_000",
    "inf", '"""one # ]\n[not]\nx = 1 """', '"""two \\\n   quotes "" \\""" """"', '"""x"""""',
    "'''three\n[[no]]\n'' '''", "1979-05-27", "1979-05-27 07:32:00", "07:32:00", "[]", "{}", "[1, 2]",
    '["]", "}"]',
]  # fmt: skip
"""Written values; what they mean is left to the standard library."""


class Maker:
    """Writes one document, remembering where each path first stands."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw
        self.text = ""
        self.lines: dict[Path, int] = {}

    def note(self, path: Path) -> None:
        self.lines.setdefault(path, self.text.count("\n") + 1)

    def chance(self) -> bool:
        return bool(self.draw(st.booleans()))

    def filler(self, lines: bool = True) -> None:
        """Blanks, and where they may stand, comments and empty lines."""
        choices = ["", " ", "\t"] + (["\n", " # x = 1 ] }\n", "\n\n"] if lines else [])
        self.text += self.draw(st.sampled_from(choices))

    def end(self) -> None:
        self.text += self.draw(st.sampled_from(["\n", " # [c] = 'x\n", "\r\n", "\n\n# a = 1\n"]))

    def key(self, key: str) -> None:
        bare = key.isascii() and key.replace("-", "").isalnum()
        literal = "'" not in key
        if bare and self.chance():
            self.text += key
        elif literal and self.chance():
            self.text += f"'{key}'"
        else:
            self.text += '"' + key.replace("\\", "\\\\").replace('"', '\\"') + '"'

    def keys(self) -> list[str]:
        return list(self.draw(st.lists(st.sampled_from(KEYS), max_size=3, unique=True)))

    def value(self, path: Path, depth: int) -> None:
        kind = self.draw(st.sampled_from(["scalar", "scalar", "list", "table"])) if depth else "scalar"
        if kind == "scalar":
            written = self.draw(st.sampled_from(SCALARS))
            if written.startswith("[") and len(written) > 2:
                self.note((*path, 0))
                if "," in written:
                    self.note((*path, 1))
            self.text += written
        elif kind == "list":
            self.listed(path, depth)
        else:
            self.inline(path, depth)

    def listed(self, path: Path, depth: int) -> None:
        count = self.draw(st.integers(0, 3))
        self.text += "["
        for n in range(count):
            self.filler()
            self.note((*path, n))
            self.value((*path, n), depth - 1)
            self.filler()
            if n < count - 1 or self.chance():
                self.text += ","
        self.filler()
        self.text += "]"

    def inline(self, path: Path, depth: int) -> None:
        self.text += "{"
        for n, key in enumerate(self.keys()):
            self.text += ", " if n else " "
            self.pair(path, key, depth - 1)
        self.filler(lines=False)
        self.text += "}"

    def pair(self, path: Path, key: str, depth: int) -> None:
        """`key = value`, or `key.inner = value` with an inner key of its own."""
        inner = self.chance() and depth > 0
        self.note((*path, key))
        if inner:
            self.note((*path, key, "inner"))
        self.key(key)
        path = (*path, key)
        if inner:
            self.text += self.draw(st.sampled_from([".", " . ", ".\t"]))
            self.key("inner")
            path = (*path, "inner")
        self.filler(lines=False)
        self.text += "="
        self.filler(lines=False)
        self.value(path, depth)

    def body(self, path: Path, taken: set[str]) -> None:
        for key in self.keys():
            if key not in taken:
                taken.add(key)
                self.filler()
                self.pair(path, key, 2)
                self.end()

    def header(self, shown: list[str], double: bool) -> None:
        self.text += "[[" if double else "["
        for n, key in enumerate(shown):
            self.text += (
                self.draw(st.sampled_from([".", " . "])) if n else self.draw(st.sampled_from(["", " "]))
            )
            self.key(key)
        self.text += "]]" if double else "]"
        self.end()

    def document(self) -> None:
        taken: set[str] = set()
        self.body((), taken)
        for key in self.keys():
            if key in taken:
                continue
            taken.add(key)
            if self.chance():
                for n in range(self.draw(st.integers(1, 3))):
                    self.filler()
                    self.note((key,))
                    self.note((key, n))
                    self.header([key], double=True)
                    self.body((key, n), {"sub"})
                    self.sub([key], (key, n))
            else:
                self.filler()
                self.note((key,))
                self.header([key], double=False)
                self.body((key,), {"sub"})
                self.sub([key], (key,))

    def sub(self, shown: list[str], path: Path) -> None:
        """Perhaps a table or two within the one that was just written."""
        if not self.chance():
            return
        double = self.chance()
        for n in range(self.draw(st.integers(1, 2)) if double else 1):
            self.filler()
            self.note((*path, "sub"))
            inner: Path = (*path, "sub", n) if double else (*path, "sub")
            self.note(inner)
            self.header([*shown, "sub"], double)
            self.body(inner, set())


@st.composite
def documents(draw: Any) -> tuple[str, dict[Path, int]]:
    """A TOML text, and the line on which each of its paths first stands."""
    maker = Maker(draw)
    maker.document()
    return maker.text, maker.lines


def paths_of(value: object, path: Path = ()) -> set[Path]:
    """Every path in the values of a TOML text."""
    found = {path} if path else set()
    if isinstance(value, dict):
        for key, inner in value.items():
            found |= paths_of(inner, (*path, key))
    elif isinstance(value, list):
        for n, inner in enumerate(value):
            found |= paths_of(inner, (*path, n))
    else:
        assert isinstance(value, str | int | float | bool | date | datetime | time)
    return found
