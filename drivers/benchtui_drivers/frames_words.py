"""The closed list of what a bit or a code of a frame can mean, and what several of them mean together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchtui.driver.words import unit_word
from benchtui.model.readings import Flag
from benchtui.model.units import Unit

FLAGS = {
    "hold": Flag.HOLD,
    "low_battery": Flag.LOW_BATTERY,
    "overload": Flag.OVERLOAD,
    "invalid": Flag.INVALID,
}
"""`overload`: over range or open; `invalid`: what is shown is no number. Both leave no value."""
WITHOUT_UNIT = ("diode", "relative")
"""What is shown is no voltage or current of a point: a diode test, a difference."""
_PREFIXES = {"p": -12, "n": -9, "u": -6, "m": -3, "k": 3, "M": 6, "G": 9}
_AC = {Unit.VAC: Unit.V, Unit.AAC: Unit.A}
_AS_AC = {Unit.V: Unit.VAC, Unit.A: Unit.AAC}
KNOWN = (
    "V A ohm F Hz s H W dB % degC, with or without a prefix (mV, kohm) and ac or dc (Vac); other; "
    "p n u m k M G; AC DC; minus; " + " ".join(FLAGS) + "; diode relative; measures; ignored"
)
"""For people: everything that can be written."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a bit or a code says, or several of them together."""

    units: frozenset[Unit] = frozenset()
    """UNKNOWN among them: a quantity that the program has no unit for."""
    powers: tuple[int, ...] = ()
    """One for each prefix."""
    kinds: frozenset[str] = frozenset()
    """AC, DC."""
    flags: int = 0
    minus: bool = False
    without_unit: bool = False
    measures: bool = False
    """Whether it says that the unit is what the meter is set to measure."""

    def __add__(self, other: Meaning) -> Meaning:
        return Meaning(
            self.units | other.units,
            self.powers + other.powers,
            self.kinds | other.kinds,
            self.flags | other.flags,
            self.minus or other.minus,
            self.without_unit or other.without_unit,
            self.measures or other.measures,
        )


NOTHING = Meaning()


def meaning(text: str) -> Meaning:
    """What these words mean, separated by blanks.

    Raises:
        ValueError: one of them is not in the closed list; the text says which.
    """
    total = NOTHING
    for word in text.split():
        total += _word(word)
    return total


def _word(word: str) -> Meaning:
    if word in FLAGS:
        return Meaning(flags=int(FLAGS[word]))
    if word in _PREFIXES:
        return Meaning(powers=(_PREFIXES[word],))
    if word in ("AC", "DC"):
        return Meaning(kinds=frozenset((word,)))
    if word in WITHOUT_UNIT:
        return Meaning(without_unit=True)
    if word in ("minus", "measures"):
        return Meaning(minus=word == "minus", measures=word == "measures")
    if word == "other":
        return Meaning(units=frozenset((Unit.UNKNOWN,)))
    if word == "ignored":
        return NOTHING
    found = unit_word(word)
    if found is None or found[0] is Unit.STATE:
        raise ValueError(f"“{word}” is no meaning; it can be: {KNOWN}")
    unit, power = found
    kind = frozenset(("AC",)) if unit in _AC else frozenset[str]()
    return Meaning(frozenset((_AC.get(unit, unit),)), (power,) if power else (), kind)


def count(text: str) -> tuple[int, Meaning]:
    """One count of the last digit, like `0.1 mV` or `10 kohm`: its power of ten, and the words behind it.

    Raises:
        ValueError: the number is no power of ten, or a word is not in the closed list.
    """
    first, _, rest = text.strip().partition(" ")
    if not first[:1].isdigit():
        return 0, meaning(text)
    whole, point, part = first.partition(".")
    digits = (whole + part).lstrip("0")
    if not (whole + part).isascii() or not (whole + part).isdigit() or digits.rstrip("0") != "1":
        raise ValueError(f"“{first}” is not one count of the last digit; write 1, 10, 0.1 … and a unit")
    return len(digits) - 1 - (len(part) if point else 0), meaning(rest)


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Which words a description uses at all: what an unlit sign means depends on it."""

    units: bool
    """Whether it names any unit. If not, all values are of what the meter is set to measure."""
    ac: bool
    dc: bool
    measures: Unit
    """What the meter is set to measure."""

    @staticmethod
    def of(meanings: Iterable[Meaning], measures: Unit) -> Vocabulary:
        """Of all that a description's bits and codes can mean."""
        total = sum(meanings, NOTHING)
        return Vocabulary(
            bool(total.units) or total.without_unit or total.measures,
            "AC" in total.kinds,
            "DC" in total.kinds,
            measures,
        )

    def unit(self, said: Meaning) -> Unit:
        """The unit that is meant; UNKNOWN for something that no unit of the program stands for.

        Raises:
            ValueError: the words contradict each other, so that the frame is no reading.
        """
        if len(said.units) + said.measures > 1:
            names = sorted(u.symbol or "another unit" for u in said.units)
            raise ValueError(f"it says {' and '.join(names + ['measures'] * said.measures)} at once")
        if len(said.kinds) > 1:
            raise ValueError("it says AC and DC at once")
        if len(said.powers) > 1:
            raise ValueError("it says two prefixes at once")
        if said.without_unit:
            return Unit.UNKNOWN
        if said.measures or not self.units:
            return self.measures
        return self._of_kind(next(iter(said.units)), said.kinds) if said.units else Unit.UNKNOWN

    def _of_kind(self, unit: Unit, kinds: frozenset[str]) -> Unit:
        """Volts and amperes, told DC from AC: by what is lit, or by what would be if it were the other."""
        if unit not in _AS_AC:
            return unit
        if kinds:
            return _AS_AC[unit] if "AC" in kinds else unit
        if self.ac and self.dc:
            return Unit.UNKNOWN
        if self.ac or self.dc:
            return _AS_AC[unit] if self.dc else unit
        return _AS_AC[unit] if self.measures in (Unit.VAC, Unit.AAC) else unit
