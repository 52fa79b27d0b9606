"""What SCPI meters say: numbers, lists of them, the error queue, an identity; what to send for a function."""

from __future__ import annotations

import re
from dataclasses import dataclass

from benchtui.driver.framing import text_of
from benchtui.driver.recipe import NOT_A_NUMBER, OVER, Recipe, number_at
from benchtui.model.notes import plain
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

FUNCTIONS = {
    Unit.V: "VOLT:DC", Unit.VAC: "VOLT:AC", Unit.A: "CURR:DC", Unit.AAC: "CURR:AC", Unit.OHM: "RES",
    Unit.HZ: "FREQ", Unit.SECOND: "PER", Unit.CELSIUS: "TEMP", Unit.FARAD: "CAP",
}  # fmt: skip
"""What a meter is set to measure -> the function's name in CONFigure and MEASure (SCPI-99 volume 3; CAP is
common practice)."""

_NUMBER = re.compile(rb"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_ERROR = re.compile(r'\s*([+-]?[0-9]{1,5})\s*,\s*"((?:[^"]|"")*)"?\s*')


@dataclass(frozen=True, slots=True)
class Value:
    """One number of an answer."""

    value: float
    """NaN where `flags` say there is none."""
    resolution: float
    flags: int = 0


def numbers(line: bytes) -> tuple[Value, ...] | None:
    """The comma-separated numbers that an answer is; None if it is anything else.

    NR1, NR2 and NR3 (IEEE 488.2, 8.7.2 to 8.7.4; from memory). A comma separates, it is never a decimal sign.
    +-9.9E37 is over or under range, 9.91E37 is not a number (SCPI-99 volume 1, 7.2.1.4 and 7.2.1.5).
    """
    values: list[Value] = []
    at = 0
    for element in line.split(b","):
        start = at + len(element) - len(element.lstrip())
        end = at + len(element.rstrip())
        at += len(element) + 1
        if end <= start or _NUMBER.fullmatch(line, start, end) is None:
            return None
        recipe = number_at(line, start, end)
        if recipe is None:
            return None
        values.append(_value(recipe, line))
    return tuple(values)


def _value(recipe: Recipe, line: bytes) -> Value:
    value, resolution = recipe.read(line)
    if abs(value) == NOT_A_NUMBER:
        return Value(float("nan"), 0.0, int(Flag.INVALID))
    if abs(value) >= OVER:
        return Value(float("nan"), 0.0, int(Flag.OVERLOAD))
    return Value(value, resolution)


def error(line: bytes) -> tuple[int, str] | None:
    """Code and text of an answer to SYSTem:ERRor?; None if it is anything else. The text is plain."""
    found = _ERROR.fullmatch(text_of(line))
    return None if found is None else (int(found[1]), plain(found[2].replace('""', '"'), 160))


def identity(line: bytes) -> str:
    """What a meter answers to *IDN?, cleaned: fields without blanks around them, nothing a screen acts on.

    Empty where the line is a number or an error, that is the answer to something else.
    """
    if numbers(line) is not None or error(line) is not None:
        return ""
    fields = [" ".join(plain(f, 60).replace("·", " ").split()) for f in text_of(line).split(",")]
    return ", ".join(f for f in fields if f and f != "0")
