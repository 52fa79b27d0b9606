"""A driver's own keys of a bench entry, read strictly: every mistake named, all of them in one error."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from benchtui.model.errors import DriverError
from benchtui.model.notes import plain
from benchtui.model.units import Unit

from .grammar import read_line

T = TypeVar("T")

_SECONDS = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*(s|ms|min)\s*")
_SCALE = {"s": 1.0, "ms": 1e-3, "min": 60.0}


class Options:
    """Reads keys one by one; `finish` raises what was wrong, and which keys nobody asked for."""

    def __init__(self, given: Mapping[str, Any], driver: str) -> None:
        self._given = given
        self._driver = driver
        self._asked: list[str] = []
        self._problems: list[str] = []

    def wrong(self, key: str, what: str) -> None:
        """Notes a mistake at this key."""
        self._problems.append(f"{key}: {what}" if key else what)

    def given(self, key: str) -> bool:
        """Whether the bench entry has this key."""
        self._asked.append(key)
        return key in self._given

    def text(self, key: str, default: str = "") -> str:
        """A text."""
        return self._read(key, default, str, 'write a text in quotes, like "…"')

    def flag(self, key: str, default: bool = False) -> bool:
        """true or false."""
        return self._read(key, default, bool, "write true or false")

    def choice(self, key: str, allowed: Sequence[str], default: str) -> str:
        """One of a few words."""
        said = self.text(key, default)
        if said in allowed:
            return said
        self.wrong(key, f"“{plain(said, 40)}” is none of: {', '.join(allowed)}")
        return default

    def whole(self, key: str, default: int, low: int, high: int) -> int:
        """A whole number between two bounds."""
        said = self._read(key, default, int, "write a whole number")
        if low <= said <= high:
            return said
        self.wrong(key, f"{said} is not between {low} and {high}")
        return default

    def seconds(self, key: str, default: float, low: float = 0.0, high: float = 3600.0) -> float:
        """A time in seconds, written as a number or like "0.5 s", "200 ms", "1 min"."""
        if not self.given(key):
            return default
        said = self._given[key]
        value = None
        if isinstance(said, (int, float)) and not isinstance(said, bool):
            value = float(said)
        elif isinstance(said, str) and (found := _SECONDS.fullmatch(said)):
            value = float(found[1]) * _SCALE[found[2]]
        if value is None:
            self.wrong(key, 'write a time like "0.5 s" or "200 ms"')
            return default
        if not low <= value <= high:
            self.wrong(key, f"{value:g} s is not between {low:g} s and {high:g} s")
            return default
        return value

    def texts(self, key: str, default: Sequence[str] = ()) -> tuple[str, ...]:
        """A list of texts."""
        said = self._read(key, list(default), list, 'write a list of texts, like ["…", "…"]')
        if all(isinstance(t, str) for t in said):
            return tuple(said)
        self.wrong(key, 'write a list of texts, like ["…", "…"]')
        return tuple(default)

    def table(self, key: str) -> dict[str, str]:
        """A table of text to text."""
        said: dict[str, Any] = self._read(key, {}, dict, 'write a table, like { "DCV" = "V" }')
        if all(isinstance(v, str) for v in said.values()):
            return dict(said)
        self.wrong(key, 'every entry must be a text, like { "DCV" = "V" }')
        return {}

    def count(self, key: str) -> float | None:
        """One count of the last digit in SI units, written as a number or like "0.1 mV"; None if absent."""
        said = self.raw(key)
        if said is None:
            return None
        value = 0.0
        if isinstance(said, (int, float)) and not isinstance(said, bool):
            value = float(said)
        elif isinstance(said, str) and (recipe := read_line(said.encode(), Unit.UNKNOWN)):
            value = recipe.read(said.encode())[0]
        if value > 0:
            return value
        self.wrong(key, 'write one count of the last digit, like "0.1 V"')
        return None

    def raw(self, key: str) -> Any:
        """The value as it stands, None if the key is not there; checked by the caller."""
        return self._given[key] if self.given(key) else None

    def finish(self) -> None:
        """Raises DriverError with every mistake, and every key that was never asked for."""
        known = sorted(set(self._asked))
        for key in self._given:
            if key not in known:
                near = difflib.get_close_matches(key, known, 1)
                hint = f"did you mean {near[0]}?" if near else f"it knows: {', '.join(known) or 'no keys'}"
                self.wrong(plain(str(key), 40), f"the driver {self._driver} has no such key; {hint}")
        if self._problems:
            raise DriverError("\n".join(self._problems))

    def _read(self, key: str, default: T, kind: type[T], what: str) -> T:
        if not self.given(key):
            return default
        said = self._given[key]
        if isinstance(said, kind) and not (kind is int and isinstance(said, bool)):
            return said
        self.wrong(key, what)
        return default
