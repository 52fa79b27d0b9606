"""Quantities as the trade writes them: `285 V`, `6.3 Vac`, `2.2 kohm`, `4k7`, `0.05 uF`.

V is DC and Vac is AC. A decimal text keeps its exact value; what could be read in two ways is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Context, Decimal

from benchtui.model.errors import BenchError
from benchtui.model.notes import plain
from benchtui.model.units import Unit

from . import pint_edge
from .dimension import QUANTITY, unit_of
from .unit_words import UnitWord, look_up

NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2}(?![0-9]))?"
SIGNED = r"[+-]? ?" + NUMBER
MOST = 80
"""Characters in a written quantity, at most."""

EXAMPLE = {
    Unit.V: "285 V",
    Unit.VAC: "6.3 Vac",
    Unit.A: "20 mA",
    Unit.AAC: "0.3 Aac",
    Unit.OHM: "2.2 kohm",
    Unit.FARAD: "0.1 uF",
    Unit.HENRY: "10 H",
    Unit.HZ: "50 Hz",
    Unit.SECOND: "30 s",
    Unit.WATT: "5 W",
    Unit.CELSIUS: "40 degC",
    Unit.PERCENT: "10 %",
    Unit.DB: "3 dB",
    Unit.STATE: "lit",
}
"""How a quantity of each unit is written."""


class QuantityError(BenchError):
    """What a person wrote is no such quantity; the text says what to write instead."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A written quantity, exact."""

    value: Decimal
    """In the SI unit; a percentage stays a percentage."""
    unit: Unit
    coupling: str = ""
    """`ac` or `dc` where the writer said so; `285 V` says neither and is DC."""

    @property
    def number(self) -> float:
        """The nearest float to the exact value."""
        return float(self.value)


_CHARACTERS = str.maketrans({
    "\u00b5": "u", "\u03bc": "u", "\u2126": "ohm", "\u03a9": "ohm",
    **dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\u2014\uff0d\ufe63", "-"),
    **dict.fromkeys("\t\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f\u3000", " "),
    "\u2026": "..", "\uff05": "%", "\u2103": "\u00b0C",
})  # fmt: skip
_SPACES = re.compile(" +")
_QUANTITY = re.compile(rf"({SIGNED}) ?(.*)")
_CODE = re.compile(r"([0-9]*)([RrKkMGunp])([0-9]*) ?(ohms?|F|)")
_EXACT = Context(prec=200)
_CODE_SCALE = {"R": 0, "r": 0, "K": 3, "k": 3, "M": 6, "G": 9, "u": -6, "n": -9, "p": -12}


def clean(text: str, most: int = MOST, like: str = "a number and a unit, like `285 V`") -> str:
    """The text with one spelling of minus, micro, ohm and space.

    Raises:
        QuantityError: it is empty, too long or holds characters that cannot be seen.
    """
    if len(text) > most:
        raise QuantityError(f"{quoted(text)} is too long: write {like}.")
    tidy = _SPACES.sub(" ", text.translate(_CHARACTERS)).strip(" ")
    if not tidy:
        raise QuantityError(f"nothing is written here: write {like}.")
    if plain(tidy) != tidy:
        raise QuantityError(f"{quoted(text)} holds a character that cannot be seen: type it again.")
    return tidy


def quoted(text: str) -> str:
    """The text for use in a sentence: short, harmless, in quotes."""
    return f"`{plain(text.strip(), 40)}`"


def parse_quantity(text: str, *wanted: Unit) -> Quantity:
    """What a person wrote, as a quantity in one of the wanted units (any, if none is named).

    Raises:
        QuantityError: it is none; the text says what to write instead.
    """
    tidy = clean(text)
    found = _letter_code(tidy)
    if found is None:
        match = _QUANTITY.fullmatch(tidy)
        if match is None:
            raise QuantityError(_no_number(tidy, wanted))
        _check_number(tidy, match[2], wanted)
        found = _with_unit(decimal(match[1]), match[2], tidy, wanted)
    if wanted and found.unit not in wanted:
        raise QuantityError(wrong_unit(text, found.unit, wanted))
    if found.value and not Decimal("1e-15") <= abs(found.value) <= Decimal("1e12"):
        raise QuantityError(f"{quoted(text)} is too large or too small to be meant: check the number.")
    return found


def decimal(number: str) -> Decimal:
    """The exact value of a number that matched SIGNED."""
    return Decimal(number.replace(" ", ""))


def wrong_unit(text: str, unit: Unit, wanted: tuple[Unit, ...]) -> str:
    """The sentence for a quantity of the wrong kind."""
    want = " or ".join(f"{QUANTITY[u]}, like `{EXAMPLE[u]}`" for u in wanted[:2])
    return f"{quoted(text)} is {QUANTITY.get(unit, 'something else')}; here it must be {want}."


def example(wanted: tuple[Unit, ...]) -> str:
    """How to write a quantity of the first of these units."""
    return f"`{EXAMPLE[wanted[0]]}`" if wanted else "`285 V`"


def _letter_code(tidy: str) -> Quantity | None:
    """IEC 60062 letter-and-digit code: the letter stands for the decimal point and tells the unit."""
    match = _CODE.fullmatch(tidy)
    if match is None or not (match[1] or match[3]):
        return None
    unit = Unit.FARAD if match[2] in "unp" else Unit.OHM
    if match[4] and (match[4] == "F") != (unit is Unit.FARAD):
        return None
    number = Decimal(f"{match[1] or '0'}.{match[3] or '0'}")
    return Quantity(number.scaleb(_CODE_SCALE[match[2]], _EXACT), unit)


def _check_number(tidy: str, rest: str, wanted: tuple[Unit, ...]) -> None:
    """Refuses what only looks like a number, with what to write instead."""
    if rest.startswith(",") and re.match(r",[0-9]", rest):
        raise QuantityError(_comma(tidy))
    if re.match(r"[eE][+-]?[0-9]", rest):
        raise QuantityError(f"{quoted(tidy)} is too large or too small to be meant: check the number.")
    if re.match(r"[0-9'_]", rest):
        raise QuantityError(f"{quoted(tidy)}: write the number in one piece, like `1200 V`.")
    if re.search(r"\.\.|(?:^| )to |(?<![*^])- ?\.?[0-9]", rest):
        raise QuantityError(f"{quoted(tidy)} is a range; here one value is wanted, like {example(wanted)}.")
    if not rest:
        raise QuantityError(f"{quoted(tidy)} has no unit: write {_with_symbols(tidy, wanted)}.")


def _with_symbols(tidy: str, wanted: tuple[Unit, ...]) -> str:
    both = [f"`{tidy} {unit.symbol}`" for unit in (wanted or (Unit.V, Unit.VAC))[:2]]
    return " or ".join(both)


def _comma(tidy: str) -> str:
    if re.match(r"[+-]?[0-9]{1,3}(,[0-9]{3})+(?![0-9,])", tidy):
        both = f"`{tidy.replace(',', '')}` or `{tidy.replace(',', '.', 1)}`"
        return f"{quoted(tidy)}: a comma can be read in two ways; write {both}."
    return f"{quoted(tidy)}: write a point for the decimals, `{tidy.replace(',', '.', 1)}`."


def _no_number(tidy: str, wanted: tuple[Unit, ...]) -> str:
    if tidy.startswith(("\u00b1", "+/-", "+-")):
        return f"{quoted(tidy)} is a tolerance; here a value is wanted, like {example(wanted)}."
    return f"{quoted(tidy)} is no quantity: write a number and a unit, like {example(wanted)}."


def _with_unit(number: Decimal, word: str, tidy: str, wanted: tuple[Unit, ...]) -> Quantity:
    known = look_up(word)
    if known is None:
        return _by_pint(number, word, tidy, wanted)
    if known.doubt:
        raise QuantityError(f"{quoted(tidy)}: {known.doubt}.")
    return _scaled(number, known)


def _scaled(number: Decimal, known: UnitWord) -> Quantity:
    value = _EXACT.multiply(number.scaleb(known.scale, _EXACT), known.times)
    return Quantity(value, known.unit, known.coupling)


def _by_pint(number: Decimal, word: str, tidy: str, wanted: tuple[Unit, ...]) -> Quantity:
    found = pint_edge.look_up(word)
    if found is None:
        raise QuantityError(
            f"{quoted(tidy)}: the unit {quoted(word)} is not known; write it like {example(wanted)}."
        )
    factor, dimension, name = found
    unit = Unit.UNKNOWN if dimension is None else unit_of(dimension)
    if unit is Unit.UNKNOWN:
        raise QuantityError(f"{quoted(tidy)} is {name}; write it like {example(wanted)}.")
    return Quantity(number * factor, unit)


_SHOWN = {
    Unit.OHM: ((9, "G"), (6, "M"), (3, "k")),
    Unit.HZ: ((9, "G"), (6, "M"), (3, "k")),
    Unit.V: ((0, ""), (-3, "m"), (-6, "u")),
    Unit.VAC: ((0, ""), (-3, "m"), (-6, "u")),
    Unit.A: ((0, ""), (-3, "m"), (-6, "u"), (-9, "n")),
    Unit.AAC: ((0, ""), (-3, "m"), (-6, "u"), (-9, "n")),
    Unit.FARAD: ((0, ""), (-6, "u"), (-9, "n"), (-12, "p")),
    Unit.HENRY: ((0, ""), (-3, "m"), (-6, "u")),
    Unit.WATT: ((0, ""), (-3, "m"), (-6, "u")),
    Unit.SECOND: ((0, ""), (-3, "m")),
}
"""Engineering prefixes in use for each unit, largest first; others take none."""


def write_quantity(value: Decimal | float, unit: Unit) -> str:
    """The quantity as the trade writes it; `parse_quantity` reads back exactly the same value."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    scale, prefix = 0, ""
    for power, letter in _SHOWN.get(unit, ()):
        if not exact or abs(exact).scaleb(-power) >= 1:
            scale, prefix = (power, letter) if exact else (0, "")
            break
    else:
        if unit is not Unit.OHM and unit is not Unit.HZ and unit in _SHOWN:
            scale, prefix = _SHOWN[unit][-1]
    shown = f"{exact.scaleb(-scale, _EXACT):f}"
    if "." in shown:
        shown = shown.rstrip("0").rstrip(".")
    return f"{'0' if shown == '-0' else shown} {prefix}{unit.symbol}"
