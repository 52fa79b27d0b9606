"""The words of a CSV of readings: names, units, flags, and what is said about wrong ones."""

from __future__ import annotations

import re
from collections.abc import Callable

from benchtui.model.notes import plain
from benchtui.model.readings import Flag
from benchtui.model.units import BY_SYMBOL, Unit

MOST_NAMES = 2000
FLAGS = {"overload": Flag.OVERLOAD, "hold": Flag.HOLD, "low_battery": Flag.LOW_BATTERY}
UNSCALED = (Unit.STATE, Unit.PERCENT, Unit.CELSIUS, Unit.DB)
PREFIXES = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "k": 3, "M": 6, "G": 9}


class Codes(dict[str, int]):
    """Text -> number, worked out once for each different text; below 0 where the text is a mistake."""

    def __init__(self, work_out: Callable[[str], int]) -> None:
        self._work_out = work_out

    def __missing__(self, text: str) -> int:
        if len(self) > 100_000:
            self.clear()
        code = self[text] = self._work_out(text)
        return code


class Names:
    """The points, channels, units and flags that the file names."""

    def __init__(self) -> None:
        self.points: list[str] = []
        self.channels: list[str] = []
        self.units: list[tuple[Unit, int]] = []
        """Unit, and the power of ten of its prefix."""
        self.point = Codes(lambda text: _numbered(text, self.points))
        self.channel = Codes(lambda text: _numbered(text, self.channels))
        self.unit = Codes(self._unit)
        self.flag = Codes(_flags)

    def _unit(self, text: str) -> int:
        found = unit_of(text.strip())
        if found is None:
            return -1
        if found not in self.units:
            self.units.append(found)
        return self.units.index(found)


def unit_of(text: str) -> tuple[Unit, int] | None:
    """A unit as CSV writes it, with or without a prefix, and the prefix's power of ten: `mV` is (V, -3)."""
    text = text.replace("Ω", "ohm").replace("Ω", "ohm").replace("°C", "degC")
    if text in BY_SYMBOL:
        return BY_SYMBOL[text], 0
    unit = BY_SYMBOL.get(text[1:])
    if unit is None or unit in UNSCALED or text[0] not in PREFIXES:
        return None
    return unit, PREFIXES[text[0]]


def _numbered(text: str, known: list[str]) -> int:
    name = text.strip()
    if not name or plain(name) != name or (name not in known and len(known) >= MOST_NAMES):
        return -1
    if name not in known:
        known.append(name)
    return known.index(name)


def _flags(text: str) -> int:
    bits = 0
    for word in text.split():
        if word not in FLAGS:
            return -1
        bits |= FLAGS[word]
    return bits


def shown(text: str) -> str:
    """A text of the file, fit for a message."""
    return f"`{plain(text.strip(), 40)}`"


def bad_name(text: str) -> str:
    """What is wrong with the name of a point or channel."""
    if not text.strip():
        return "the name is missing"
    return f"{shown(text)} is no name (or there are more than {MOST_NAMES} of them)"


def bad_unit(text: str) -> str:
    """What is wrong with a unit."""
    known = ", ".join(BY_SYMBOL)
    if text.strip().lower() in ("vdc", "vd.c.", "v dc"):
        return "write V for DC volts"
    return f"{shown(text)} is no unit: write {known}, or one with a prefix like mV or kohm"


def bad_flag(text: str) -> str:
    """What is wrong with flags."""
    return f"{shown(text)} is no flag: write {', '.join(FLAGS)}, separated by spaces, or nothing"


def bad_number(text: str, empty: bool) -> str:
    """What is wrong with a value."""
    if empty:
        return "a reading with overload has no value: leave the field empty"
    if not text.strip():
        return "the value is missing (without one the flag must be overload)"
    if (hint := thousands(text)) is not None:
        return f"{shown(text)}: {hint}"
    if "," in text:
        return f"{shown(text)}: write the decimal sign as a point"
    return f"{shown(text)} is no number"


def thousands(text: str) -> str | None:
    """What to write for a comma with three digits after it, which may part thousands; None for any other."""
    text = text.strip()
    if not re.fullmatch(r"[-+]?[1-9][0-9]{0,2}(,[0-9]{3})+", text):
        return None
    whole = text.replace(",", "")
    if text.count(",") > 1:
        return f"write {whole}, without commas"
    return f"write {text.replace(',', '.')} if the comma is the decimal sign, {whole} if it parts thousands"
