"""Tables of a bench entry below its own keys, read strictly: mistakes go to one list, each with its place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Self

from benchtui.driver.options import Options
from benchtui.model.notes import plain


class Table(Options):
    """A table. What it gives is of the right kind, also where a mistake was made."""

    def __init__(self, given: object, place: str, problems: list[str], driver: str) -> None:
        """`place`: how its mistakes name it, like `[frame]`."""
        table = given if isinstance(given, Mapping) else {}
        super().__init__(table, driver)
        self._place = place
        self._all = problems
        if not isinstance(given, Mapping):
            self.wrong("", "must be a table")

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys as written."""
        return tuple(str(key) for key in self._given)

    def wrong(self, key: str, what: str) -> None:
        """Notes a mistake at this key."""
        where = f"{self._place} {plain(key, 60)}".strip()
        self._all.append(plain(f"{where}: {what}" if where else what, 900))

    def inner(self, key: str) -> Self | None:
        """The table at this key; None if it is not there."""
        if not self.given(key):
            return None
        place = f"{self._place}.{key}" if self._place else f"[{key}]"
        return type(self)(self._given[key], place, self._all, self._driver)

    def each(self, key: str) -> list[Self]:
        """The tables of the list at this key."""
        said = self.raw(key)
        if said is None:
            return []
        if not isinstance(said, list):
            self.wrong(key, f"write [[{key}]] above each of its tables")
            return []
        return [type(self)(t, f"[[{key}]] {n}", self._all, self._driver) for n, t in enumerate(said, 1)]
