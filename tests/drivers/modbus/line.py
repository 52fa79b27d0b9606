"""A line with Modbus stations in virtual time, with any habits; for tests only.

Each register holds a number that says which register it is and how many times it was asked for, so that an
answer given for another question shows.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field

from benchtui_drivers.modbus_frames import sealed

from benchtui.driver.contract import Driver, Out
from benchtui.model.notes import Trouble

SECOND = 1_000_000_000


@dataclass(slots=True)
class Reading:
    """One reading, and how often its register had been asked for by then."""

    t_s: float
    channel: int
    value: float
    asked: int


@dataclass(slots=True)
class Line:
    """Stations that answer in order. Register a, asked for the n-th time, holds 1000 a + n."""

    takes_s: Callable[[int, int], float | None] = lambda station, n: 0.02
    """How long the n-th question takes its station; None: it is never answered."""
    stations: frozenset[int] = frozenset((1, 2))
    knows_echo: str = "yes"
    """yes; no: an exception; deaf: silence."""
    keeps_echo: bool = False
    """Whether the answer to an echo is never lost."""
    returns_sent: bool = False
    """Whether the line returns what is sent on it."""
    absent: frozenset[int] = frozenset()
    """Addresses that are refused."""
    asked: dict[tuple[int, int], int] = field(default_factory=dict)
    questions: list[tuple[float, bytes]] = field(default_factory=list)
    _busy: dict[int, int] = field(default_factory=dict)

    def hears(self, data: bytes, at_ns: int) -> list[tuple[int, bytes]]:
        """(when, bytes) of what comes back."""
        assert len(data) == 8
        assert sealed(data[:6]) == data
        self.questions.append((at_ns / SECOND, data))
        coming = [(at_ns, data)] if self.returns_sent else []
        station, function = data[0], data[1]
        if station not in self.stations:
            return coming
        took = self.takes_s(station, len(self.questions))
        if took is None and function == 8 and self.keeps_echo:
            took = 0.02
        answer = self._answer(data)
        if took is None or not answer:
            return coming
        ends = max(at_ns, self._busy.get(station, 0)) + int(took * SECOND)
        self._busy[station] = ends
        assert function in (3, 4, 8)
        return [*coming, (ends, answer)]

    def _answer(self, data: bytes) -> bytes:
        station, function = data[0], data[1]
        address, count = int.from_bytes(data[2:4], "big"), int.from_bytes(data[4:6], "big")
        if function == 8:
            return {"yes": data, "no": sealed(bytes((station, 0x88, 1))), "deaf": b""}[self.knows_echo]
        if self.absent & set(range(address, address + count)):
            return sealed(bytes((station, function | 0x80, 2)))
        body = bytes((station, function, 2 * count))
        for n in range(address, address + count):
            times = self.asked[station, n] = self.asked.get((station, n), 0) + 1
            body += ((1000 * n + times) & 0xFFFF).to_bytes(2, "big")
        return sealed(body)


@dataclass(slots=True)
class Talk:
    """What came of it."""

    readings: list[Reading] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    skipped: int = 0


def talk(
    driver: Driver, line: Line, seconds: float, *, unasked: list[tuple[float, bytes]] | None = None
) -> Talk:
    """Lets them talk for so many seconds; `unasked` comes by itself."""
    said, at = Talk(), 0
    registers = driver._plan.registers  # type: ignore[attr-defined]
    coming = [(int(t * SECOND), data) for t, data in unasked or []]
    heapq.heapify(coming)

    def take(out: Out) -> None:
        r = out.readings
        for channel, value in zip(r.channel.tolist(), r.value.tolist(), strict=True):
            register = registers[channel]
            asked = line.asked.get((register.station, register.address), 0)
            said.readings.append(Reading(at / SECOND, channel, value, 1000 * register.address + asked))
        said.troubles += out.troubles
        said.skipped += out.skipped
        if out.send:
            for answer in line.hears(out.send, at):
                heapq.heappush(coming, answer)

    take(driver.start(0))
    while at < seconds * SECOND:
        due = [t for t in (driver.wake_ns, coming[0][0] if coming else None) if t is not None]
        at = max(at, min(due))
        while coming and coming[0][0] <= at:
            take(driver.feed(heapq.heappop(coming)[1], at))
        if driver.wake_ns is not None and driver.wake_ns <= at:
            take(driver.tick(at))
    return said
