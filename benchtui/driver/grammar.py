"""Lines of nobody's making in particular: a number, its unit and some words, in any common order.

`285.3 V DC`, `DC mV -12.5`, `+0.123`, `OL kohm`, `12.6 V, HOLD`. Every word must be understood and there must
be one number or one word for "over range": a line is a reading or nothing.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from functools import cache

from benchtui.model.readings import Flag
from benchtui.model.units import Unit

from .framing import text_of
from .recipe import Recipe, number_at
from .words import unit_word

OVERLOAD_WORDS = (
    "OL",
    "O.L",
    "O.L.",
    ".OL",
    "0L",
    "0.L",
    "0L.",
    "O L",
    "OVER",
    "OVLD",
    "OVERLOAD",
    "OFL",
    "OPEN",
    "INF",
)
"""What displays show when there is no value; common practice, no source."""

_FLAG_WORDS = {
    "HOLD": Flag.HOLD, "MAX": Flag.HOLD, "MIN": Flag.HOLD,
    "BAT": Flag.LOW_BATTERY, "BATT": Flag.LOW_BATTERY, "LOBAT": Flag.LOW_BATTERY, "LOWBAT": Flag.LOW_BATTERY,
    "NAN": Flag.INVALID,
}  # fmt: skip
_IDLE_WORDS = frozenset(("AUTO", "MAN", "MANU", "MANUAL", "RANGE"))
_NUMBER = re.compile(
    rb"(?<![A-Za-z0-9.])[+-]?[ \t]*(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?(?![0-9.])"
)
_DASHES = re.compile(r"-(?:[ ]?-)+")
_BETWEEN = re.compile(r"[\s,;:=]+")


def read_line(line: bytes, expected: Unit, overload: Collection[str] = OVERLOAD_WORDS) -> Recipe | None:
    """How this line is read; None if it is no reading. `expected` decides what a bare `V` or number is."""
    said = text_of(line).strip()
    over = _without_overload(said, overload)
    if over is not None:
        return _with_words(Recipe(flags=int(Flag.OVERLOAD)), over, expected)
    numbers = list(_NUMBER.finditer(line))
    if not numbers:
        words = [w for w in _BETWEEN.split(said) if w]
        if any(w.upper() == "NAN" for w in words):
            return _with_words(Recipe(), words, expected)
        return None
    if len(numbers) > 1:
        return None
    start, end = numbers[0].span()
    recipe = number_at(line, start, end)
    rest = text_of(line[:start]) + " " + text_of(line[end:])
    return None if recipe is None else _with_words(recipe, _BETWEEN.split(rest), expected)


_STATES = {"1": 1.0, "on": 1.0, "lit": 1.0, "0": 0.0, "off": 0.0, "out": 0.0}


def read_state(line: bytes) -> Recipe | None:
    """How a line is read that tells one of two states: 1 or 0, on or off, lit or out."""
    state = _STATES.get(text_of(line).strip().lower())
    return None if state is None else Recipe(unit=Unit.STATE, constant=state)


def _without_overload(said: str, overload: Collection[str]) -> list[str] | None:
    """The other words of a line that says "over range"; None if it does not say so."""
    dashes = _DASHES.search(said)
    if dashes is not None:
        return _BETWEEN.split(said[: dashes.start()] + " " + said[dashes.end() :])
    found = _any_of(tuple(overload)).search(said)
    if found is None:
        return None
    return _BETWEEN.split(said[: found.start()] + " " + said[found.end() :])


@cache
def _any_of(words: tuple[str, ...]) -> re.Pattern[str]:
    """One of these, standing by itself; the longest that fits."""
    either = "|".join(re.escape(w) for w in sorted(words, key=len, reverse=True) if w) or r"(?!)"
    return re.compile(rf"(?<![A-Z0-9.])[+-]?\s*(?:{either})(?![A-Z0-9.])", re.IGNORECASE)


def _with_words(recipe: Recipe, words: list[str], expected: Unit) -> Recipe | None:
    """The recipe with the unit and the flags that the words name; None if one word means nothing."""
    flags, unit_words = recipe.flags, []
    for word in filter(None, words):
        flag = _FLAG_WORDS.get(word.upper())
        if flag is not None:
            flags |= flag
        elif word.upper() not in _IDLE_WORDS:
            unit_words.append(word)
    if not unit_words:
        return replace(recipe, flags=flags, unit=expected)
    meant = _unit_of(unit_words, expected)
    if meant is None:
        return None
    return replace(recipe, flags=flags, unit=meant[0], shift=meant[1])


def _unit_of(words: list[str], expected: Unit) -> tuple[Unit, int] | None:
    """What `V DC`, `DC mV` or `k ohm` mean together."""
    if len(words) > 3:
        return None
    return unit_word(" ".join(words), expected=expected)
