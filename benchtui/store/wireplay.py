"""A wire log, played: the bytes go through the drivers again and give the same readings at the same times."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from benchtui.driver.contract import Out
from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.block import Block
from benchtui.model.errors import DriverError, Problem, SessionError
from benchtui.model.notes import Note, plain
from benchtui.model.readings import Readings

from .strict import LATEST_NS
from .wire_header import FORMAT, Header, said
from .wire_notes import note_of

_BEGINS = re.compile(rb'\s*\{\s*"format"\s*:\s*"' + FORMAT.encode() + b'"')
_LONGEST_LINE = 1 << 24
_MOST_HELD = 100_000
_MOST_PROBLEMS = 100
MISTAKES = (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError)
"""What reading a line that holds anything at all can raise."""


@dataclass(frozen=True, slots=True)
class _Line:
    """One line after the header: when, and what it does."""

    t_ns: int
    run: Callable[[], Out | Note | Readings | None]
    watermark: bool = False


def is_wire_log(path: Path) -> bool:
    """Whether the file begins as a wire log does. Reads its first bytes only."""
    try:
        with path.open("rb") as file:
            return _BEGINS.match(file.read(200)) is not None
    except OSError:
        return False


def play(path: Path) -> WirePlayer:
    """A player for this log, its drivers opened.

    Raises:
        SessionError: the file cannot be read, is no wire log, or its header is damaged.
        DriverError: a driver that it needs is not installed or refuses its options.
    """
    return WirePlayer(path)


class WirePlayer:
    """Plays one log, once."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.problems: list[Problem] = []
        """Damaged lines that were left out, as far as it has been played: the first hundred, and the last."""
        self._left_out = 0
        self.cut = False
        """True once the end has been reached and was no `end` line: the recording was cut off."""
        try:
            self._file: BinaryIO = path.open("rb")
        except OSError as error:
            raise SessionError(f"{path}: cannot be read: {error.strerror}") from error
        try:
            first = self._file.readline(_LONGEST_LINE).decode("utf-8", "replace")
            self.header = Header.from_line(first, str(path))
            self._listeners = {m.name: self._heard(m) for m in self.header.meters}
        except DriverError as error:
            self._file.close()
            raise DriverError(f"{path}:1: {error}") from error
        except BaseException:
            self._file.close()
            raise
        self._upto = -1

    def _heard(self, meter: MeterDescription) -> Listener:
        listener = Listener.of(meter)
        has, given = len(listener.driver.channels), len(meter.channels)
        if has != given:
            raise DriverError(f"meter {meter.name}: its driver has {has} channels; {given} are given")
        return listener

    def blocks(self) -> Iterator[Block]:
        """The timeline, a block a watermark; memory holds no more than lies between two of them."""
        held: list[_Line] = []
        ended = False
        with self._file:
            for line in self._lines():
                held.append(line)
                if line.watermark:
                    ended = line.run() is not None
                    yield self._block(held, line.t_ns)
                    held = []
                elif len(held) >= _MOST_HELD:
                    held.sort(key=lambda x: x.t_ns)
                    half = held[: len(held) // 2]
                    held = held[len(held) // 2 :]
                    yield self._block(half, half[-1].t_ns)
        self.cut = not ended
        if held:
            yield self._block(held, max(line.t_ns for line in held))

    def _block(self, held: list[_Line], upto: int) -> Block:
        parts: list[Readings] = []
        notes: list[Note] = []
        for line in sorted(held, key=lambda x: x.t_ns):
            if line.watermark:
                continue
            heard = line.run()
            if isinstance(heard, Out):
                if len(heard.readings):
                    parts.append(heard.readings)
                notes.extend(heard.troubles)
            elif isinstance(heard, Readings):
                parts.append(heard)
            elif heard is not None:
                notes.append(heard)
        self._upto = upto
        return Block(Readings.joined(parts).in_order(), tuple(notes), upto)

    def _lines(self) -> Iterator[_Line]:
        number = 1
        while raw := self._file.readline(_LONGEST_LINE):
            number += 1
            try:
                line = self._line(json.loads(raw))
            except MISTAKES as error:
                if raw.endswith(b"\n"):  # else the recording was cut off here: nothing is wrong with the rest
                    self._report(number, f"damaged and left out: {plain(said(error), 120)}")
                continue
            if line.t_ns <= self._upto and not (line.watermark and line.t_ns == self._upto):
                self._report(number, "left out: its time had passed already")
                continue
            yield line

    def _report(self, line: int, what: str) -> None:
        self._left_out += 1
        if self._left_out > _MOST_PROBLEMS:
            what = f"left out; the last of {self._left_out} such lines"
            self.problems[_MOST_PROBLEMS:] = [Problem(str(self.path), line, "", what)]
        else:
            self.problems.append(Problem(str(self.path), line, "", what))

    def _line(self, given: Mapping[str, Any]) -> _Line:
        """Raises ValueError, KeyError, TypeError or AttributeError where it is damaged."""
        t_ns = given["t_ns"]
        if type(t_ns) is not int or not 0 <= t_ns < LATEST_NS:
            raise ValueError("its time is no number of nanoseconds")
        if "note" in given:
            note = note_of(t_ns, given["note"], len(self.header.channels))
            return _Line(t_ns, lambda: note)
        kind, event = given["dir"], given.get("event")
        if kind == "event" and event in ("upto", "end"):
            return _Line(t_ns, lambda: Out() if event == "end" else None, watermark=True)
        listener = self._listeners[given["meter"]]
        data = bytes.fromhex(given["hex"])
        if kind == "rx":
            return _Line(t_ns, lambda: listener.feed(data, t_ns))
        if kind == "tx":
            return _Line(t_ns, lambda: None)
        if kind == "event" and event == "start":
            return _Line(t_ns, lambda: listener.start(t_ns))
        if kind == "event" and event == "tick":
            return _Line(t_ns, lambda: listener.tick(t_ns))
        if kind == "event" and event == "lost":
            reason = str(given.get("text", ""))
            return _Line(t_ns, lambda: listener.lost(t_ns, reason))
        raise ValueError("it is of no kind that a wire log knows")


def last_time(path: Path) -> int:
    """The greatest time in the last lines of a wire log, in nanoseconds; 0 where there is none."""
    with path.open("rb") as file:
        size = file.seek(0, 2)
        file.seek(max(0, size - 65_536))
        lines = file.read().splitlines()
    latest = 0
    for line in lines:
        with suppress(*MISTAKES):
            t_ns = json.loads(line)["t_ns"]
            if type(t_ns) is int and t_ns < LATEST_NS:
                latest = max(latest, t_ns)
    return latest
