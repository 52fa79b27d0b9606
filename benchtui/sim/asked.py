"""A simulated meter that speaks when asked: SCPI."""

from __future__ import annotations

import math
from collections import deque

from benchtui.model.units import Unit

from .speech import Shown


def nr3(shown: Shown) -> str:
    """NR3 of IEEE 488.2 with all digits of the display; 9.9E37 where over range (SCPI-99)."""
    if shown.over:
        return "+9.90000000E+37"
    if shown.value == 0.0:
        return f"{0.0:+.{max(1, shown.decimals)}E}"
    digits = math.floor(math.log10(abs(shown.value))) + shown.decimals
    return f"{shown.value:+.{max(1, digits)}E}"


_FUNCTIONS = {Unit.V: '"VOLT"', Unit.VAC: '"VOLT:AC"'}


class Scpi:
    """A meter that is asked: IEEE 488.2 common commands and as much of SCPI-99 as a small voltmeter has.

    It measures all the time; READ? is answered by the first conversion that ends after the question, FETC? by
    the last one. Unknown commands go to the error queue, which holds ten.
    """

    def __init__(self, name: str, unit: Unit = Unit.V) -> None:
        self.name = name
        self.unit = unit
        """What it is set to measure; CONF and MEAS change it."""
        self._line = b""
        self._waiting: deque[str] = deque()
        """What has been asked and waits for a conversion: one entry a message."""
        self._errors: deque[str] = deque()
        self._last: Shown | None = None

    def hear(self, data: bytes) -> bytes:
        """Bytes from the computer; gives what can be answered at once."""
        *lines, self._line = (self._line + data).split(b"\n")
        self._line = self._line[-256:]
        return b"".join(self._message(line.decode("ascii", "replace").strip()) for line in lines)

    def converted(self, shown: Shown) -> bytes:
        """A conversion has ended: answers whoever waits for one."""
        self._last = shown
        answer = b"".join(f"{nr3(shown)}\n".encode("ascii") for _ in self._waiting)
        self._waiting.clear()
        return answer

    def _message(self, message: str) -> bytes:
        answers = [
            answer for part in message.split(";") if (answer := self._command(part.strip())) is not None
        ]
        return (";".join(answers) + "\n").encode("ascii") if answers else b""

    def _command(self, command: str) -> str | None:
        """One program message unit; None where there is nothing to say now."""
        header, _, argument = command.partition(" ")
        words = [_short(word) for word in header.lstrip(":").upper().split(":")]
        match words:
            case ["*IDN?"]:
                return f"SALTMARSH SIMULATED,VOLTMETER,{self.name.upper()},1957"
            case ["*RST"] | ["*CLS"] | ["*WAI"] | ["ABOR"] | ["INIT"] | ["SYST", "REM"] | ["SYST", "LOC"]:
                if words == ["*CLS"]:
                    self._errors.clear()
                return None
            case ["*OPC?"] | ["*TST?"]:
                return "1" if words == ["*OPC?"] else "0"
            case ["SYST", "ERR?"] | ["SYST", "ERR", "NEXT?"]:
                return self._errors.popleft() if self._errors else '0,"No error"'
            case ["SYST", "VERS?"]:
                return "1999.0"
            case ["CONF?"] | ["FUNC?"] | ["SENS", "FUNC?"]:
                return _FUNCTIONS[self.unit]
            case ["CONF", "VOLT"] | ["CONF", "VOLT", "DC" | "AC"]:
                self.unit = Unit.VAC if words[-1] == "AC" else Unit.V
                return None
            case ["FUNC"] | ["SENS", "FUNC"]:
                self._function(argument)
                return None
            case ["READ?"]:
                self._waiting.append("")
                return None
            case ["MEAS", "VOLT?"] | ["MEAS", "VOLT", "DC?" | "AC?"]:
                self.unit = Unit.VAC if words[-1] == "AC?" else Unit.V
                self._waiting.append("")
                return None
            case ["FETC?"]:
                return self._fetch()
            case ["VOLT" | "SENS" | "TRIG" | "SAMP", *_] if not header.endswith("?"):
                return None
            case _:
                self._error('-113,"Undefined header"')
                return None

    def _function(self, argument: str) -> None:
        name = argument.strip("\"' ").upper()
        if name not in ("VOLT", "VOLT:DC", "VOLT:AC"):
            self._error('-224,"Illegal parameter value"')
            return
        self.unit = Unit.VAC if name == "VOLT:AC" else Unit.V

    def _fetch(self) -> str | None:
        if self._last is None:
            self._error('-230,"Data corrupt or stale"')
            return None
        return nr3(self._last)

    def _error(self, error: str) -> None:
        if len(self._errors) >= 10:
            self._errors[-1] = '-350,"Queue overflow"'
        else:
            self._errors.append(error)


_LONG = {
    "SYSTEM": "SYST", "ERROR": "ERR", "CONFIGURE": "CONF", "VOLTAGE": "VOLT", "MEASURE": "MEAS",
    "FETCH": "FETC", "FUNCTION": "FUNC", "SENSE": "SENS", "ABORT": "ABOR", "INITIATE": "INIT",
    "REMOTE": "REM", "LOCAL": "LOC",
    "VERSION": "VERS", "TRIGGER": "TRIG", "SAMPLE": "SAMP",
}  # fmt: skip


def _short(word: str) -> str:
    """The short form of a word of a command's header; a question mark stays."""
    asks = word.endswith("?")
    bare = word[:-1] if asks else word
    return _LONG.get(bare, bare) + ("?" if asks else "")
