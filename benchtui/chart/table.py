"""Tables of a TOML file, read strictly: every problem is collected, none ends the reading."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import date, time
from difflib import get_close_matches
from typing import TypeVar

from benchtui.model.notes import plain

from .places import Path
from .problems import Problems
from .quantity import QuantityError

T = TypeVar("T")


class Table:
    """One table; each key that is asked for counts as known, whatever its value.

    An open table takes keys that are not known here: a misspelt key is no problem by itself there.
    """

    def __init__(
        self, data: Mapping[str, object], path: Path, problems: Problems, *, is_open: bool = False
    ) -> None:
        self.data = data
        self.path = path
        self.problems = problems
        self.is_open = is_open
        self._known: dict[str, None] = {}

    @property
    def line(self) -> int | None:
        return self.problems.line(self.path)

    def has(self, key: str) -> bool:
        """True where the key is written, with a good value or not."""
        self._known[key] = None
        return key in self.data

    def lacks(self, key: str) -> bool:
        """True where the key is not written, not even misspelt (that is told as one problem, not as two)."""
        if self.has(key):
            return False
        return self.is_open or not get_close_matches(key, [k[:40].lower() for k in self.data], 1, 0.8)

    def problem(self, key: str, what: str) -> None:
        self.problems.add((*self.path, key) if key else self.path, what)

    def text(self, key: str, like: str = "", *, needed: bool = False, most: int = 400) -> str | None:
        """A text without control characters; None where it is not written or wrong.

        With an example in `like` it must not be empty; with `needed` it must be there.
        """
        if not self.has(key):
            if needed and self.lacks(key):
                self.problem(key, f'is missing: write it like {key} = "{like}".')
            return None
        value = self.data[key]
        if not isinstance(value, str):
            self.problem(key, f'is {_kind(value)}: write a text in quotes, like "{like or "..."}".')
            return None
        return self._harmless(key, value, like, most)

    def _harmless(self, key: str, value: str, like: str, most: int) -> str | None:
        if "\n" in value.strip():
            self.problem(key, "goes over several lines: write it on one.")
        elif len(value) > most:
            self.problem(key, f"is longer than {most} characters: shorten it.")
        elif plain(value, most + 1) != value:
            self.problem(key, f"holds a character that cannot be seen: `{plain(value, 40)}`; type it again.")
        elif like and not value.strip():
            self.problem(key, f'is empty: write it like {key} = "{like}".')
        elif value != value.strip():
            self.problem(key, f"begins or ends with a space: write `{plain(value.strip(), 40)}`.")
        else:
            return value
        return None

    def flag(self, key: str) -> bool | None:
        """true or false; None where it is not written or wrong."""
        if not self.has(key):
            return None
        value = self.data[key]
        if isinstance(value, bool):
            return value
        self.problem(key, f"is {_kind(value)}: write true or false, without quotes.")
        return None

    def choice(self, key: str, words: Iterable[str]) -> str | None:
        """One of the words; None where it is not written or wrong."""
        if not self.has(key):
            return None
        words, value = list(words), self.data[key]
        if isinstance(value, str) and value in words:
            return value
        said = f"`{plain(value, 40)}`" if isinstance(value, str) else _kind(value)
        listed = " or ".join(f'"{w}"' for w in words)
        near = _nearest(value, words) if isinstance(value, str) else None
        hint = f' Did you mean "{near}"?' if near and len(words) > 1 else ""
        self.problem(key, f"is {said}: write {listed}.{hint}")
        return None

    def number(self, key: str, low: float, high: float, *, whole: bool = True) -> float | None:
        """A number within bounds; None where it is not written or wrong."""
        if not self.has(key):
            return None
        value = self.data[key]
        kinds = (int,) if whole else (int, float)
        if isinstance(value, bool) or not isinstance(value, kinds):
            word = "whole number" if whole else "number"
            self.problem(key, f"is {_kind(value)}: write a {word} without quotes, {low:.10g} to {high:.10g}.")
        elif not low <= value <= high:
            self.problem(key, f"must lie between {low:.10g} and {high:.10g}.")
        else:
            return value
        return None

    def written(self, key: str, parse: Callable[[str], T], like: str) -> T | None:
        """A text that `parse` understands, or None where it is not written or wrong; `like` is an example."""
        if not self.has(key):
            return None
        value = self.data[key]
        if not isinstance(value, str):
            said = f"{value} without a unit" if type(value) in (int, float) else _kind(value)
            self.problem(
                key, f'is {plain(said, 60)}: write it in quotes with its unit, like {key} = "{like}".'
            )
            return None
        try:
            return parse(value)
        except QuantityError as error:
            self.problem(key, str(error))
            return None

    def inner(self, key: str, like: str) -> Table | None:
        """The table under this key; None where it is not written or is no table."""
        if not self.has(key):
            return None
        value = self.data[key]
        if isinstance(value, dict):
            return Table(value, (*self.path, key), self.problems)
        self.problem(key, f"is {_kind(value)}: write it like {like}.")
        return None

    def each(self, key: str, *, is_open: bool = False) -> list[Table]:
        """The tables [[key]], in order; none where it is not written or is no list of tables."""
        if not self.has(key):
            return []
        value = self.data[key]
        if isinstance(value, list) and all(isinstance(v, dict) for v in value):
            return [
                Table(v, (*self.path, key, n), self.problems, is_open=is_open) for n, v in enumerate(value)
            ]
        if isinstance(value, dict):
            self.problem(key, f"takes two brackets, [[{key}]]: there can be several.")
        else:
            self.problem(key, f"is {_kind(value)}: write it as [[{key}]] with its keys on the lines below.")
        return []

    def rest(self) -> dict[str, object]:
        """What was written and never asked for."""
        return {key: value for key, value in self.data.items() if key not in self._known}

    def refuse_rest(self) -> None:
        """Each key that was never asked for is a problem."""
        for key in self.rest():
            near = _nearest(key, list(self._known))
            hint = f"did you mean `{near}`?" if near else f"known here are {', '.join(self._known)}."
            self.problem(key, f"is not a known key: {hint}")


def _nearest(word: str, words: list[str]) -> str | None:
    by_fold = {w.casefold().replace("-", "_"): w for w in reversed(words)}
    found = get_close_matches(word[:40].casefold().replace("-", "_"), list(by_fold), 1, 0.6)
    return by_fold[found[0]] if found else None


def nearest(word: str, words: Iterable[str]) -> str:
    """` Did you mean ...?` with the word that looks most alike, or nothing; also nothing among hundreds."""
    listed = list(words)
    near = _nearest(word, listed) if len(listed) <= 300 else None
    return f" Did you mean `{plain(near, 40)}`?" if near else ""


def _kind(value: object) -> str:
    """What a TOML value is, in plain words."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"the number {plain(str(value), 30)}"
    if isinstance(value, str):
        return f"the text `{plain(value, 40)}`"
    if isinstance(value, date | time):
        return "a date or time"
    return "a list" if isinstance(value, list) else "a table"
