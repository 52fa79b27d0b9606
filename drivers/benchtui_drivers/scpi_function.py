"""What a SCPI meter is set to, as it says itself: somebody may turn its knob in the middle of a session.

The question is rare, so a reading that looks as if it could be of another function is held back until the
meter has said what it is set to.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from benchtui.driver.framing import text_of
from benchtui.model.notes import plain
from benchtui.model.units import Unit

from .scpi_text import Value

QUESTIONS = ("FUNC?", "CONF?")
"""[SENSe:]FUNCtion? and CONFigure? (SCPI-99 volumes 2 and 3, from memory). What a meter does not know it is
not asked again."""

_NAMES = (
    ("VOLT:AC", Unit.VAC), ("VOLT", Unit.V), ("CURR:AC", Unit.AAC), ("CURR", Unit.A), ("FRES", Unit.OHM),
    ("RES", Unit.OHM), ("FREQ", Unit.HZ), ("PER", Unit.SECOND), ("TEMP", Unit.CELSIUS), ("CAP", Unit.FARAD),
    ("DIOD", None), ("CONT", None), ("POW", None), ("STR", None), ("LEV", None),
)  # fmt: skip
_LONG = {
    "VOLTAGE": "VOLT", "CURRENT": "CURR", "FRESISTANCE": "FRES", "RESISTANCE": "RES", "FREQUENCY": "FREQ",
    "PERIOD": "PER", "TEMPERATURE": "TEMP", "CAPACITANCE": "CAP", "DIODE": "DIOD", "CONTINUITY": "CONT",
    "POWER": "POW",
}  # fmt: skip
_ANSWER = re.compile(r'"?\s*([A-Za-z]+(?::[A-Za-z]+){0,3})(?:\s+[-+0-9.,eE ]{1,80})?\s*"?')
_LATE_NS = 3_000_000_000
_JUMP = 0.1
_COUNTS = 5
_RANGES_APART = 5


def function(line: bytes) -> tuple[str, Unit | None] | None:
    """The function that an answer names, and what it measures: None where the program has no unit for that.

    `"VOLT:AC"`, `VOLT`, `"VOLT +1.0E+1,+3.0E-6"`. None if the line names no function.
    """
    found = _ANSWER.fullmatch(text_of(line).strip())
    if found is None:
        return None
    words = [_LONG.get(word, word) for word in found[1].upper().split(":")]
    if words[0] == "SENS":
        words = words[1:]
    name = ":".join(words)
    for known, unit in _NAMES:
        if name == known or name.startswith(known + ":"):
            return plain(name, 40), unit
    return None


class FunctionWatch:
    """Keeps track of what the meter says that it measures."""

    def __init__(self, questions: Sequence[str], every_ns: int) -> None:
        """`questions` are tried one after the other until one is answered; none for no watch at all."""
        self._questions = tuple(questions)
        self._every_ns = every_ns
        self._at = 0
        self.name = ""
        """As the meter last named it; empty while it has not."""
        self.unit: Unit | None = None
        self._told_ns = self._missed_ns = 0
        self._last: Value | None = None

    @property
    def known(self) -> bool:
        """Whether this meter answers the question."""
        return bool(self.name)

    @property
    def question(self) -> str:
        """What to ask; empty where this meter answers none."""
        return self._questions[self._at] if self._at < len(self._questions) else ""

    def restart(self) -> None:
        """The meter may be another one: all that was known is forgotten."""
        self._at, self.name, self._last = 0, "", None

    def is_due(self, at_ns: int) -> bool:
        """Whether it is time to ask, for the first time or again."""
        return bool(self.question) and (not self.known or at_ns - self._told_ns >= self._every_ns)

    def told(self, name: str, unit: Unit | None, at_ns: int) -> bool:
        """The meter has answered; whether that is another function than before."""
        changed = self.known and name != self.name
        self.name, self.unit, self._told_ns = name, unit, at_ns
        return changed

    def missed(self, at_ns: int) -> None:
        """No answer in time: where none has ever come, the next question is tried next time."""
        if not self.known:
            self._at += 1
            self._missed_ns = at_ns

    def told_late(self, name: str, unit: Unit | None, at_ns: int) -> None:
        """The answer to the question that was missed last has come after all: the meter knows it."""
        if not self.known and self._at and at_ns - self._missed_ns < _LATE_NS:
            self._at -= 1
            self.told(name, unit, at_ns)

    def doubts(self, value: Value) -> bool:
        """Whether this reading is unlike the last one, so that the function may be another."""
        before, self._last = self._last, value
        if not self.known or before is None:
            return False
        if value.flags or before.flags:
            return value.flags != before.flags
        coarse, fine = max(value.resolution, before.resolution), min(value.resolution, before.resolution)
        if coarse > _RANGES_APART * fine:
            return True
        larger = max(abs(value.value), abs(before.value))
        return abs(value.value - before.value) > _JUMP * larger + _COUNTS * coarse
