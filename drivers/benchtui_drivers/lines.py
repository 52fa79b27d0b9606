"""Meters that send text lines: a number a line, a value with its unit, or as described in the bench entry.

With no option at all it reads `285.3`, `285.3 V DC`, `DC mV -12.5`, `OL kohm` and the like. Options:

    description     the name of a description, or its tables: [line] and, in [lines], any of these keys; what
                    the bench entry says itself stands before it
    pattern         a regular expression that the whole line must fit, with the groups value (needed), unit,
                    prefix, flags and sign
    units           what the wire writes -> unit word: { "DCV" = "V", "~" = "mVac" }
    prefixes        what the wire writes -> SI prefix: { "1" = "m" }
    decimal         comma, where the meter writes 12,5 for 12.5; a pattern is given the point
    overload        words for "over range": ["OL"]
    minus           what the group sign says for a negative value: ["-"]
    flags           what the wire writes -> hold, low_battery or overload: { "H" = "hold" }
    resolution      one count of the last digit, where the digits written do not tell: "0.1 V"
    terminator      any (CR, LF or both), cr, lf, crlf
    repeats         how many times each conversion is sent
    strip_high_bit  true where the eighth bit is parity
    request         what to send for a reading; with it: every ("0.5 s"), answer_within ("1 s")
    at_start        what to send once after opening
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from benchtui.driver.columns import Rows
from benchtui.driver.contract import Driver, DriverOptions, Out
from benchtui.driver.framing import LONGEST, looks_like_text
from benchtui.driver.junk import Junk
from benchtui.model.notes import Trouble
from benchtui.model.readings import Ints, Readings

from .lines_plan import Plan, read_plan
from .lines_shipped import shipped

_COMMA = re.compile(rb"(?<=[0-9]),(?=[0-9])")
_WHY_COMMA = 'a comma between digits; if it is the decimal sign, write decimal = "comma" in the bench file'


class LinesDriver:
    """One meter that sends text lines, by itself or when asked."""

    channels: tuple[str, ...] = ("",)

    def __init__(self, plan: Plan, resolved: Mapping[str, Any]) -> None:
        """`resolved`: the options with the description itself in place of its name."""
        self.line = plan.line
        self.resolved = resolved
        self._reader = plan.reader
        self._fits = plan.fits
        self._comma = plan.comma
        self._framer = plan.framer
        self._repeats = plan.repeats
        self._at_start = plan.at_start
        self._asking = plan.asking
        self._junk = Junk("line")
        self._joined = bytearray()
        self._spoilt = False
        self._previous = b""
        self._copies = 0
        self._copy_kept = False

    def start(self, at_ns: int) -> Out:
        """Joins the stream wherever it is: the first piece of a line is thrown away and counted."""
        skipped = len(self._framer.restart()) + len(self._joined)
        self._joined.clear()
        self._spoilt = False
        self._copies = 0
        if self._asking is not None:
            self._asking.start(at_ns)
        return Out(troubles=self._junk.rest(at_ns), send=self._at_start, skipped=skipped)

    def feed(self, data: bytes, at_ns: int) -> Out:
        """Bytes; any complete line in them is a reading, or junk."""
        if self._asking is not None and self._asking.settling:
            return Out(skipped=len(data))
        got = self._framer.feed(data)
        troubles: list[Trouble] = []
        skipped = 0
        if got.joined:
            skipped = self._join(got.before, at_ns, troubles, ended=got.ended)
        else:
            troubles += self._junk.add(got.before, at_ns)
        readings = self._read(got.block, at_ns, troubles) if got.block else Readings.empty()
        troubles += self._junk.add(got.after, at_ns)
        if self._asking is not None and got.block.strip(b"\n"):
            self._asking.answered(at_ns)
        return Out(readings, tuple(troubles), skipped=skipped)

    def tick(self, at_ns: int) -> Out:
        """Asks when it is time to; tells junk that nothing has followed."""
        troubles = list(self._junk.tick(at_ns))
        send = b""
        if self._asking is not None and (send := self._asking.tick(at_ns)):
            troubles += self._junk.add(self._framer.restart(synchronised=True), at_ns)
        return Out(troubles=tuple(troubles), send=send)

    @property
    def wake_ns(self) -> int | None:
        """The next question, or the next time to tell junk."""
        due = [self._junk.wake_ns, None if self._asking is None else self._asking.wake_ns]
        return min((d for d in due if d is not None), default=None)

    def _join(self, piece: bytes, at_ns: int, troubles: list[Trouble], *, ended: bool) -> int:
        """The rest of a line that was joined in its middle; gives the bytes to count as skipped.

        A piece of a clean line is what joining always costs; anything else is junk.
        """
        if self._spoilt:
            self._spoilt = not ended
            troubles += self._junk.add(piece, at_ns)
            return 0
        self._joined += piece
        joined = bytes(self._joined)
        if len(joined) > LONGEST or not looks_like_text(joined):
            self._spoilt = not ended
            self._joined.clear()
            troubles += self._junk.add(joined, at_ns)
            return 0
        if not ended:
            return 0
        self._joined.clear()
        return len(joined)

    def _read(self, block: bytes, at_ns: int, troubles: list[Trouble]) -> Readings:
        rows = self._reader.rows(_COMMA.sub(b".", block) if self._comma else block)
        lines: list[bytes] = []
        if rows.junk or self._repeats > 1:
            lines = block.split(b"\n")
        if rows.junk:
            self._tell_junk(rows, lines, at_ns, troubles)
        elif len(rows.line):
            troubles += self._junk.good(at_ns, len(rows.line))
        n = len(rows.line)
        t_ns = np.empty(n, np.int64)
        t_ns.fill(at_ns)
        readings = Readings(t_ns, np.zeros(n, np.int16), rows.unit, rows.value, rows.resolution, rows.flags)
        return readings if self._repeats == 1 else readings.take(self._without_copies(rows, lines))

    def _tell_junk(self, rows: Rows, lines: list[bytes], at_ns: int, troubles: list[Trouble]) -> None:
        """Takes good and bad lines in the order in which they came."""
        good = set(rows.line.tolist())
        bad = set(rows.junk)
        for number, line in enumerate(lines):
            if number in bad:
                troubles += self._junk.add(line, at_ns, self._why(line))
            elif number in good:
                troubles += self._junk.good(at_ns)

    def _why(self, line: bytes) -> str:
        """What is wrong with a line that is no reading, where that can be told."""
        if self._comma or b"," not in line or len(line) > LONGEST:
            return ""
        return _WHY_COMMA if self._fits(_COMMA.sub(b".", line)) else ""

    def _without_copies(self, rows: Rows, lines: list[bytes]) -> Ints:
        """The rows that begin a conversion: each is sent `repeats` times, a damaged copy counts as one."""
        row_of = {number: row for row, number in enumerate(rows.line.tolist())}
        bad = set(rows.junk)
        kept: list[int] = []
        for number, line in enumerate(lines):
            if number not in row_of and number not in bad:
                continue
            if self._copies == 0:
                self._copy_kept = False
            if number in bad:
                self._copies += 1
            elif not self._copy_kept or line != self._previous:
                kept.append(row_of[number])
                self._copies = self._copies + 1 if not self._copy_kept else 1
                self._previous, self._copy_kept = line, True
            else:
                self._copies += 1
            self._copies %= self._repeats
        return np.array(kept, np.int64)


def open_driver(options: DriverOptions) -> Driver:
    """A driver for one meter that sends text lines.

    Raises:
        DriverError: an option is unknown or wrong.
    """
    said = options.options.get("description")
    resolved = dict(options.options)
    if isinstance(said, str):
        resolved["description"] = shipped(said)
    return LinesDriver(read_plan(replace(options, options=resolved)), resolved)
