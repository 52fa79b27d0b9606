"""How much work a regular expression can make of an unlucky line: counted beforehand, so that none stalls.

Python's engine tries one way after the other to divide a line among the repeats of a pattern. Here the ways
are counted, for the worst line: k repeats without an end share a line of L characters in at most C(L + k,
k) ways; an option doubles what there is; alternatives add up. What cannot be counted so (a group that is
repeated, looking ahead or behind, references back, flags in the middle) is refused. A repeat with a +
behind it (`\\s*+`) never gives back what it took, so it has one way.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from math import comb

MOST_WAYS = 2_000_000
"""Less than a tenth of a second, once for each shape of line."""
_SET = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]", re.DOTALL)
_REPEAT = re.compile(r"(?:([*+?])|\{(\d*)(,?)(\d*)\})([?+]?)")
_GROUP = re.compile(r"\((?:\?:|\?P<\w+>|(?!\?))")

_Ways = Mapping[int, int]
"""How many of the repeats have no end -> in how many ways the rest can go."""


def ways(source: str, longest: int) -> int:
    """In how many ways this pattern, which compiles, can be tried on a line of at most `longest` characters.

    Raises:
        ValueError: it holds what cannot be counted; the text says what to write instead.
    """
    reader = _Reader(source)
    found = reader.alternatives()
    return sum(times * comb(longest + k, k) for k, times in found.items())


class _Reader:
    """Goes through a pattern once, from left to right."""

    def __init__(self, source: str) -> None:
        self._source = source
        self._at = 0

    def alternatives(self) -> _Ways:
        """Up to the end of the group, or of the pattern."""
        total: defaultdict[int, int] = defaultdict(int)
        while True:
            for k, times in self._sequence().items():
                total[k] += times
            if not self._skip("|"):
                return total

    def _sequence(self) -> _Ways:
        found: _Ways = {0: 1}
        while self._at < len(self._source) and self._source[self._at] not in "|)":
            found = _both(found, self._item())
        return found

    def _item(self) -> _Ways:
        if self._source[self._at] == "(":
            return self._group()
        self._character()
        repeat = self._repeat()
        if repeat is None:
            return {0: 1}
        least, most, possessive = repeat
        if possessive:
            return {0: 1}
        return {1: 1} if most is None else {0: most - least + 1}

    def _group(self) -> _Ways:
        opened = _GROUP.match(self._source, self._at)
        if opened is None:
            raise ValueError(
                f"has “{self._source[self._at : self._at + 4]}”; of groups that begin with (? "
                "it may have (?P<name>…) and (?:…) only"
            )
        self._at = opened.end()
        inner = self.alternatives()
        self._skip(")")
        repeat = self._repeat()
        if repeat is None:
            return inner
        if repeat[:2] == (0, 1):
            return {**inner, 0: inner.get(0, 0) + 1}
        raise ValueError("repeats a group, which can take for ever; repeat single characters or sets instead")

    def _character(self) -> None:
        """One character, set or escape."""
        if found := _SET.match(self._source, self._at):
            self._at = found.end()
        elif self._skip("\\"):
            if self._source[self._at] in "123456789":
                raise ValueError("has a backreference; it may have none")
            self._at += 1
        else:
            self._at += 1

    def _repeat(self) -> tuple[int, int | None, bool] | None:
        """(least, most, whether it gives nothing back) of the repeat that stands here; most None: no end."""
        found = _REPEAT.match(self._source, self._at)
        if found is None or found[0] in ("{}", "{}?", "{}+"):
            return None
        self._at = found.end()
        if found[1]:
            least, most = {"*": (0, None), "+": (1, None), "?": (0, 1)}[found[1]]
        else:
            least = int(found[2] or 0)
            most = (int(found[4]) if found[4] else None) if found[3] else least
        return least, most, found[5] == "+"

    def _skip(self, character: str) -> bool:
        here = self._source.startswith(character, self._at)
        self._at += here
        return here


def _both(one: _Ways, other: _Ways) -> _Ways:
    """One after the other: every way of the first with every way of the second."""
    found: defaultdict[int, int] = defaultdict(int)
    for k, times in one.items():
        for more, as_often in other.items():
            found[k + more] += times * as_often
    return found
