"""A line described by a pattern with named groups, checked when it is read so that no line can stall it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from benchtui.model.readings import Flag
from benchtui.model.units import Unit

from .backtracking import MOST_WAYS, ways
from .framing import text_of
from .recipe import Recipe, number_at
from .words import PREFIXES, unit_word

GROUPS = ("value", "unit", "prefix", "flags", "sign")
LONGEST_LINE = 80
"""Characters; a pattern is not tried on a longer line."""

_REPEAT = re.compile(r"[*+?]|\{\d*,?\d*\}")
_SET = re.compile(r"\[\^?\]?(?:\\.|[^\]\\])*\]")


@dataclass(frozen=True, slots=True)
class Description:
    """How to read one line of a described meter. What a group says is looked up here first."""

    pattern: re.Pattern[str]
    measures: Unit = Unit.UNKNOWN
    """The unit where the pattern has no group `unit`, and what a bare V or A is."""
    units: Mapping[str, str] = field(default_factory=dict)
    """What the wire writes -> a unit word; anything else is read as a unit word itself."""
    prefixes: Mapping[str, int] = field(default_factory=lambda: PREFIXES)
    """What the wire writes -> a power of ten."""
    flags: Mapping[str, Flag] = field(default_factory=dict)
    """What the wire writes, anywhere in the group `flags` -> what it means."""
    overload: Collection[str] = ()
    """What the group `value` says when there is no value."""
    minus: Collection[str] = ("-",)
    """What the group `sign` says for a negative value; `+`, blank or nothing is positive."""

    def read(self, line: bytes) -> Recipe | None:
        """The recipe for this line; None if it does not fit."""
        text = text_of(line)
        if len(text) > LONGEST_LINE:
            return None
        left = len(text) - len(text.lstrip())
        found = self.pattern.fullmatch(text) or self.pattern.fullmatch(text, left, len(text.rstrip()))
        if found is None:
            return None
        said = {name: (found[name] or "").strip() for name in GROUPS if name in found.re.groupindex}
        recipe = self._number(line, text, found, said["value"])
        return None if recipe is None else self._completed(recipe, said)

    def _number(self, line: bytes, text: str, found: re.Match[str], said: str) -> Recipe | None:
        if said in self.overload:
            return Recipe(flags=int(Flag.OVERLOAD))
        start, end = found.span("value")
        if len(text) == len(line):
            return number_at(line, start, end)
        before, value = text[:start].encode(), text[start:end].encode()
        return number_at(line, len(before), len(before) + len(value))

    def _completed(self, recipe: Recipe, said: Mapping[str, str]) -> Recipe | None:
        """With the other groups taken in; None if one of them says what nobody described."""
        sign = said.get("sign", "")
        if sign not in ("", "+") and sign not in self.minus:
            return None
        unit, power = self.measures, 0
        if "unit" in said:
            word = self.units.get(said["unit"], said["unit"])
            meant = unit_word(word, expected=self.measures) if word else (self.measures, 0)
            if meant is None:
                return None
            unit, power = meant
        prefix = self.prefixes.get(said.get("prefix", ""), 0 if not said.get("prefix") else None)
        if prefix is None:
            return None
        return replace(
            recipe,
            unit=unit,
            flags=recipe.flags | self._flags(said.get("flags", "")),
            shift=power + prefix,
            flip=sign in self.minus and sign != "",
        )

    def _flags(self, said: str) -> int:
        flags = 0
        for word in sorted(self.flags, key=len, reverse=True):
            if word in said:
                flags |= self.flags[word]
                said = said.replace(word, " ")
        return flags

    @property
    def digits_alike(self) -> bool:
        """Whether all digits are the same to it, so that lines can be read by their shape."""
        source = _SET.sub(lambda found: found[0].replace("0-9", ""), self.pattern.pattern)
        source = re.sub(r"\\d|" + _REPEAT.pattern, "", source)
        words = (*self.units, *self.prefixes, *self.flags, *self.minus)
        return not any(c.isdigit() for c in "".join((source, *words))) and "\\N" not in source


def compiled(source: str) -> re.Pattern[str]:
    """The pattern, checked.

    Raises:
        ValueError: it is no pattern, has no group `value`, a group that means nothing, or could take for ever
            on an unlucky line; the text says which.
    """
    try:
        pattern = re.compile(source)
    except (re.error, RecursionError, OverflowError) as error:
        raise ValueError(f"is no regular expression: {error}") from error
    strange = [g for g in pattern.groupindex if g not in GROUPS]
    if strange:
        raise ValueError(f"has a group {strange[0]}; the groups are: {', '.join(GROUPS)}")
    if "value" not in pattern.groupindex:
        raise ValueError("has no group value; write (?P<value>…) around the number")
    many = ways(source, LONGEST_LINE)
    if many > MOST_WAYS:
        raise ValueError(
            f"could be tried in {many // 1_000_000:,} million ways on an unlucky line, and stall everything; "
            "give its repeats an end, like {1,5}, or a + behind those that need give nothing back, like *+"
        )
    return pattern
