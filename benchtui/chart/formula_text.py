"""From the text of a formula to a checked one: names, dimensions, DC and AC.

The language is + - * / ^ with whole powers, brackets, numbers, the names given and units. Nothing of it is
ever run as a program.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NoReturn

from benchtui.model.units import Unit

from . import pint_edge
from .dimension import OF_UNIT, PLAIN, Dimension, in_words, same, times
from .formula import Formula, Step
from .quantity import NUMBER, QuantityError, clean, quoted
from .unit_words import look_up

MOST_DEEP = 30
"""Brackets within brackets, at most."""
MOST_LONG = 300
"""Characters in a formula, at most."""
_LIKE = "`k / (270 * ohm)`"
_UNIT = re.compile(r"[numkMG]?(?:V|A|W|Hz|s|ohm|Vac|Aac)|[pnum]?[FH]|min|percent")
"""Units in formulas are written one way only: a stray `R` or `m` shall not pass for an ohm or a minute."""

_TOKEN = re.compile(rf" ?(?:(?P<number>{NUMBER})|(?P<name>[A-Za-z_][A-Za-z_0-9]*)|(?P<mark>\*\*|[-+*/^()]))")


def parse_formula(text: str, units: Mapping[str, Unit]) -> Formula:
    """A formula over these names, whose values come in these units.

    Raises:
        QuantityError: it is none, names something else, or adds what can't be added; the text says which.
    """
    parser = _Parser(text, units)
    dimension = parser.whole()
    names = frozenset(str(step) for kind, step in parser.steps if kind == "name")
    return Formula(names, dimension, tuple(parser.steps))


def wrong_writing(text: str) -> str | None:
    """What is wrong with how a formula is written, whatever its names may stand for; None: nothing."""
    try:
        _Reading(text, {}).whole()
    except QuantityError as error:
        return str(error)
    return None


class _Parser:
    """Recursive descent; each rule gives the dimension of what it read and appends the steps for it."""

    def __init__(self, text: str, units: Mapping[str, Unit]) -> None:
        self.text = text
        self.units = units
        self.steps: list[tuple[str, Step]] = []
        self.tokens = _tokens(text)
        self.at = 0
        self.deep = 0

    def whole(self) -> Dimension:
        dimension = self._sum()
        if self.at < len(self.tokens):
            self._refuse_word(f"{quoted(self.tokens[self.at][1])} is not expected there.")
        return dimension

    def _refuse_word(self, what: str) -> NoReturn:
        kind, word = self.tokens[self.at] if self.at < len(self.tokens) else ("", "")
        if kind in ("name", "number") or word == "(":
            what = f"before {quoted(word)} an operator is missing, like the * in `270 * ohm`."
        raise QuantityError(f"{quoted(self.text)}: {what}")

    def _sum(self) -> Dimension:
        left = self._product()
        while (mark := self._mark("+", "-")) is not None:
            right = self._product()
            if not same(left, right):
                verb = "adds" if mark == "+" else "subtracts"
                pair = f"{in_words(left)} and {in_words(right)}"
                raise QuantityError(f"{quoted(self.text)} {verb} {pair}: they do not go together.")
            self.steps.append(("do", mark))
        return left

    def _product(self) -> Dimension:
        left = self._signed()
        while (mark := self._mark("*", "/")) is not None:
            left = times(left, self._signed(), 1 if mark == "*" else -1)
            self.steps.append(("do", mark))
        return left

    def _signed(self) -> Dimension:
        negative = False
        while (mark := self._mark("+", "-")) is not None:
            negative ^= mark == "-"
        dimension = self._power()
        if negative:
            self.steps.append(("do", "neg"))
        return dimension

    def _power(self) -> Dimension:
        base = self._atom()
        if self._mark("^", "**") is None:
            return base
        sign = -1 if self._mark("-") else 1
        kind, word = self._next()
        if kind != "number" or word not in ("1", "2", "3", "4"):
            raise QuantityError(f"{quoted(self.text)}: a power is one of 1 to 4, like `i^2`.")
        power = sign * int(word)
        self.steps.append(("do", f"^{power}"))
        return times(PLAIN, base, power)

    def _atom(self) -> Dimension:
        kind, word = self._next()
        if kind == "number":
            self.steps.append(("number", float(word)))
            return PLAIN
        if kind == "name":
            return self._name(word)
        if word != "(":
            raise QuantityError(f"{quoted(self.text)}: a number or a name is missing before {quoted(word)}.")
        self.deep += 1
        if self.deep > MOST_DEEP:
            raise QuantityError(f"{quoted(self.text)}: too many brackets within brackets.")
        inside = self._sum()
        if self._mark(")") is None:
            self._refuse_word("a closing bracket is missing.")
        self.deep -= 1
        return inside

    def _name(self, word: str) -> Dimension:
        if word in self.units:
            self.steps.append(("name", word))
            return OF_UNIT.get(self.units[word], PLAIN)
        factor, dimension = unit_constant(word) or (None, None)
        if factor is None or dimension is None:
            listed = ", ".join(self.units) or "nothing yet"
            raise QuantityError(
                f"{quoted(self.text)}: {quoted(word)} is neither a unit nor named in `uses` ({listed})."
            )
        self.steps.append(("number", factor))
        return dimension

    def _mark(self, *marks: str) -> str | None:
        if self.at < len(self.tokens) and self.tokens[self.at][1] in marks:
            self.at += 1
            return self.tokens[self.at - 1][1]
        return None

    def _next(self) -> tuple[str, str]:
        if self.at >= len(self.tokens):
            raise QuantityError(f"{quoted(self.text)} ends too early: a number or a name is missing.")
        self.at += 1
        return self.tokens[self.at - 1]


class _Reading(_Parser):
    """The same rules, with any name and anything added to anything."""

    def _name(self, word: str) -> Dimension:
        return PLAIN


def _tokens(text: str) -> list[tuple[str, str]]:
    tidy, at, found = clean(text, MOST_LONG, f"a formula, like {_LIKE}"), 0, []
    while at < len(tidy):
        match = _TOKEN.match(tidy, at)
        if match is None:
            raise QuantityError(
                f"{quoted(text)}: {quoted(tidy[at : at + 12])} does not belong there; write it like {_LIKE}."
            )
        found.append((str(match.lastgroup), match[0].strip()))
        at = match.end()
    return found


def unit_constant(word: str) -> tuple[float, Dimension] | None:
    """What one of this unit is in SI units, and its dimension; None where it is no electrical unit."""
    known = look_up(word) if _UNIT.fullmatch(word) or len(word) > 3 else None
    if known is not None and not known.doubt and known.unit in OF_UNIT:
        part = 0.01 if known.unit is Unit.PERCENT else 1.0
        return part * known.times * float(f"1e{known.scale}"), OF_UNIT[known.unit]
    found = pint_edge.look_up(word) if len(word) > 2 and look_up(word) is None else None
    if found is None or found[1] is None:
        return None
    return float(found[0]), found[1]
