"""Random and mutated bytes through every driver of the catalogue, and back in step after them.

A hundred thousand bytes each time; with the marker `long`, twenty million for each driver. Drivers that ask
are given answers too, some of them damaged.
"""

from __future__ import annotations

import gc
import itertools
import random
import tracemalloc
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from benchtui.driver.catalogue import names, open_driver
from benchtui.driver.contract import DriverOptions, Out
from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.notes import plain
from benchtui.model.readings import NO_VALUE
from benchtui.model.units import Unit

from .conversation import Meter
from .frames.test_contract import ASKED
from .frames.wires import GOOD
from .modbus.line import Line

Peer = Callable[[bytes, int], bytes]
LEAST = {
    "segments-14": 4, "ascii-9": 3, "ascii-11-twice": 2, "ascii-14-flags": 3, "ascii-14-range": 2,
    "stx-16": 2, "bcd-8-xor": 4,
}  # fmt: skip
"""Readings that GOOD gives after garbage: of every frame from the second on; of those sent twice, two."""
REGISTERS = [
    {"name": name, "function": 4, "address": address, "type": type_}
    for name, address, type_ in (("a", 0, "uint16"), ("b", 10, "float32"), ("c", 20, "int32"))
]


def _scpi() -> Peer:
    meter = Meter()

    def answer(sent: bytes, at: int) -> bytes:
        meter.heard.clear()  # else it is the peer that grows
        return b"".join(data for _, data in meter.hears(sent, at))

    return answer


def _modbus() -> Peer:
    line = Line()

    def answer(sent: bytes, at: int) -> bytes:
        line.questions.clear()
        return b"".join(data for _, data in line.hears(sent, at))

    return answer


def _asked() -> Peer:
    said = itertools.count()
    return lambda sent, at: b"%6d\r" % (next(said) % 1000)


@dataclass(frozen=True, slots=True)
class Subject:
    """A driver, opened so; what its meter sends, or what answers it."""

    driver: str
    options: Mapping[str, Any] = field(default_factory=dict)
    good: bytes = b""
    least: int = 0
    """Readings that `good` gives, whatever came before."""
    peer: Callable[[], Peer] | None = None

    @property
    def id(self) -> str:
        """For the report."""
        described = self.options.get("description")
        return f"{self.driver} {described}" if isinstance(described, str) else self.driver


SUBJECTS = [
    Subject("lines", {}, b"285.3 V DC\r\n285.4 V DC\r\nOL V DC\r\n", 2),
    *(Subject("frames", {"description": name}, GOOD[name], LEAST[name]) for name in GOOD),
    Subject("frames", {"description": ASKED}, peer=_asked),
    Subject("scpi", {}, peer=_scpi),
    Subject("modbus", {"register": REGISTERS}, peer=_modbus),
]


def test_every_driver_of_the_catalogue_is_here() -> None:
    """One that is added must be fuzzed too."""
    assert {s.driver for s in SUBJECTS} == set(names())


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda s: s.id)
def test_no_bytes_can_hurt_a_driver(subject: Subject) -> None:
    """No exception, bounded memory, no special number as a value, nothing in a text that a screen acts on."""
    _fuzz(subject, 100_000, seed=1)


@pytest.mark.long
@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda s: s.id)
def test_twenty_million_bytes_for_each_driver(subject: Subject) -> None:
    """The same for longer; the twenty million of a driver are shared among the ways in which it is opened."""
    ways = sum(s.driver == subject.driver for s in SUBJECTS)
    _fuzz(subject, 20_000_000 // ways + 1, seed=2)


class _Run:
    """One driver, with bytes coming at it in virtual time."""

    def __init__(self, subject: Subject, rng: random.Random) -> None:
        driver = open_driver(subject.driver, DriverOptions("A", Unit.V, subject.options))
        channels = tuple(range(len(driver.channels)))
        self.listener = Listener(driver, MeterDescription("A", subject.driver, channels=channels))
        self.at = 0
        self.fed = 0
        self._rng = rng
        self._peer = subject.peer() if subject.peer is not None else None
        self.listener.start(0)

    def feed(self, data: bytes) -> int:
        """Gives how many readings came of it."""
        self.fed += len(data)
        return self._checked(self.listener.feed(data, self.at))

    def wait(self, most_ns: int, *, damaged: bool = False) -> int:
        """Ticks when they are due, and answers; gives how many readings came of it."""
        end, readings = self.at + most_ns, 0
        while (wake := self.listener.wake_ns) is not None and wake <= end:
            self.at = max(self.at, wake)
            out = self.listener.tick(self.at)
            readings += self._checked(out)
            if out.send and self._peer is not None:
                answer = self._peer(out.send, self.at)
                self.at += 20_000_000
                readings += self.feed(_mutated(self._rng, answer) if damaged and answer else answer)
        self.at = max(self.at, end)
        return readings

    def _checked(self, out: Out) -> int:
        assert not self.listener.ended, out.troubles
        values = out.readings.value[(out.readings.flags & NO_VALUE) == 0]
        assert (abs(values) < 9.9e37).all()
        assert all(t.text == plain(t.text) for t in out.troubles)
        return len(out.readings)


def _fuzz(subject: Subject, total: int, seed: int) -> None:
    rng = random.Random(seed)
    run = _Run(subject, rng)
    tracemalloc.start()
    try:
        before = 0
        for number in itertools.count():
            run.feed(_piece(rng, subject.good or b"\x01\x04\x02\x01\x02\xb8\xc0+2.85E+02\r\n"))
            run.wait(rng.randrange(1, 50_000_000), damaged=rng.random() < 0.5)
            if number % (50 if total < 1_000_000 else 1000) == 0:
                _is_back_in_step(subject, run)
            if run.fed > total // 2 and not before:
                before = _held()
            if run.fed >= total:
                break
        assert _held() - before < 200_000
    finally:
        tracemalloc.stop()


def _held() -> int:
    """Bytes that the drivers and what they use hold: other threads of the test run allocate, too."""
    gc.collect()
    ours = [tracemalloc.Filter(True, f"*{part}*") for part in ("benchtui", "numpy")]
    return sum(trace.size for trace in tracemalloc.take_snapshot().filter_traces(ours).traces)


def _is_back_in_step(subject: Subject, run: _Run) -> None:
    if subject.peer is None:
        assert run.feed(subject.good) >= subject.least
    else:
        assert run.wait(60_000_000_000) >= 2


def _piece(rng: random.Random, good: bytes) -> bytes:
    """Random bytes, bytes of numbers, good frames, or good frames mutated."""
    kind = rng.randrange(4)
    if kind == 0:
        return rng.randbytes(rng.randrange(300))
    if kind == 1:
        return bytes(
            rng.choice(b"0123456789+-.eE,\r\n OLVmk\x02\xaa\x01\x03\x04") for _ in range(rng.randrange(200))
        )
    return good * rng.randrange(1, 20) if kind == 2 else _mutated(rng, good * rng.randrange(1, 10))


def _mutated(rng: random.Random, good: bytes) -> bytes:
    """With bytes flipped, dropped, doubled or swapped."""
    data = bytearray(good)
    for _ in range(rng.randrange(1, 8)):
        place, kind = rng.randrange(len(data)), rng.randrange(4)
        if kind == 0:
            data[place] ^= 1 << rng.randrange(8)
        elif kind == 1 and len(data) > 1:
            del data[place]
        elif kind == 2:
            data.insert(place, rng.randrange(256))
        else:
            data[place] = data[rng.randrange(len(data))]
    return bytes(data)
