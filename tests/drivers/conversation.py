"""A SCPI meter in virtual time, for tests of the driver: in order like a real one, with any habits."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field

from benchtui.driver.contract import Driver, Out
from benchtui.model.notes import Trouble

SECOND = 1_000_000_000


@dataclass(slots=True)
class Reading:
    """A reading that the driver gave, and the number of the question it was given for."""

    t_s: float
    value: float
    flags: int
    unit: int
    asked: int
    """How many READ? the meter had heard by then."""


@dataclass(slots=True)
class Meter:
    """Answers one message after the other. READ? number n is answered by n, so that a shift shows."""

    takes_s: Callable[[int], float | None] = lambda n: 0.1
    """How long READ? number n takes; None: it is never answered."""
    says: Callable[[int], bytes] = lambda n: b"%d\n" % n
    echoes: bool = False
    deaf: frozenset[str] = frozenset()
    """Commands that it ignores."""
    refuses: frozenset[str] = frozenset()
    """Commands that leave an error in its queue."""
    asleep: Callable[[float], bool] = lambda t_s: False
    function: str = "VOLT:DC"
    """What it is set to; CONFigure sets it, and so does a hand at its knob."""
    turned: dict[float, str] = field(default_factory=dict)
    """At which time (s) somebody turns the knob to what."""
    in_order: bool = True
    heard: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    reads: int = 0
    busy_ns: int = 0

    def hears(self, data: bytes, at_ns: int) -> list[tuple[int, bytes]]:
        """(when, bytes) of what it sends to this."""
        if self.asleep(at_ns / SECOND):
            return []
        for when in [w for w in self.turned if w * SECOND <= at_ns]:
            self.function = self.turned.pop(when)
        coming = [(at_ns, data)] if self.echoes else []
        for line in data.decode().splitlines():
            self.heard.append(line)
            took, answer = self._answer(line)
            begins = max(at_ns, self.busy_ns) if self.in_order else at_ns
            ends = begins + int(took * SECOND)
            self.busy_ns = max(self.busy_ns, ends)
            if answer:
                coming.append((ends, answer))
        return coming

    def _answer(self, line: str) -> tuple[float, bytes]:
        if line == "READ?":
            self.reads += 1
            took = self.takes_s(self.reads)
            return (0.0, b"") if took is None else (took, self.says(self.reads))
        if line in self.deaf:
            return 0.0, b""
        if line in self.refuses:
            self.errors.append('-113,"Undefined header"')
        if line.startswith("CONF:") and line not in self.refuses:
            self.function = line.removeprefix("CONF:")
        if line == "FUNC?":
            return 0.02, b'"%s"\r\n' % self.function.encode()
        if line == "*IDN?":
            return 0.02, b"SALTMARSH,METER,0,1\r\n"
        if line == "SYST:ERR?":
            said = self.errors.pop(0) if self.errors else '0,"No error"'
            return 0.02, said.encode() + b"\r\n"
        return 0.0, b""


@dataclass(slots=True)
class Talk:
    """What came of it."""

    readings: list[Reading] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    identity: str = ""
    sent: list[tuple[float, str]] = field(default_factory=list)

    @property
    def shifted(self) -> list[Reading]:
        """Readings that answer another question than the last one sent."""
        return [r for r in self.readings if r.value != r.asked]


def talk(
    driver: Driver, meter: Meter, seconds: float, unasked: list[tuple[float, bytes]] | None = None
) -> Talk:
    """Lets the two talk for so many seconds; `unasked` comes by itself."""
    talk, at = Talk(), 0
    coming = [(int(t * SECOND), data) for t, data in unasked or []]
    heapq.heapify(coming)

    def take(out: Out) -> None:
        r = out.readings
        for value, flags, unit in zip(r.value.tolist(), r.flags.tolist(), r.unit.tolist(), strict=True):
            talk.readings.append(Reading(at / SECOND, value, flags, unit, meter.reads))
        talk.troubles += out.troubles
        talk.identity = out.identity or talk.identity
        if out.send:
            talk.sent.append((at / SECOND, out.send.decode().strip()))
            for answer in meter.hears(out.send, at):
                heapq.heappush(coming, answer)

    take(driver.start(0))
    while at < seconds * SECOND:
        due = [t for t in (driver.wake_ns, coming[0][0] if coming else None) if t is not None]
        at = max(at, min(due))
        while coming and coming[0][0] <= at:
            take(driver.feed(heapq.heappop(coming)[1], at))
        if driver.wake_ns is not None and driver.wake_ns <= at:
            take(driver.tick(at))
    return talk
