"""Random and mutated bytes through every driver that only listens: no exception, bounded, and back in step.

Half a million bytes each time; with the marker `long`, twenty million.
"""

from __future__ import annotations

import random
import tracemalloc
from collections.abc import Mapping
from typing import Any

import pytest

from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.notes import plain
from benchtui.model.readings import NO_VALUE
from benchtui.model.units import Unit

DRIVERS: list[tuple[str, Unit, Mapping[str, Any], bytes]] = [
    ("lines", Unit.V, {}, b"285.3 V DC\r\n"),
    ("lines", Unit.V, {}, b"-12.5\n"),
    ("lines", Unit.UNKNOWN, {"pattern": r"(?P<value>[+-]\d{1,5}\.\d*) ?(?P<unit>[a-zA-Z]*)"}, b"+1.25 mV\r"),
    ("lines", Unit.STATE, {"repeats": 2}, b"lit\nlit\n"),
    ("lines", Unit.V, {"description": "number"}, b"+285.3\r\n"),
    ("scpi", Unit.V, {}, b"+2.853000E+02\r\n"),
    ("scpi", Unit.UNKNOWN, {"every": 0}, b'"VOLT:AC"\r\n'),
]


def _fuzz(name: str, measures: Unit, options: Mapping[str, Any], good: bytes, total: int, seed: int) -> None:
    description = MeterDescription("A", name, measures, options)
    listener, rng, at, fed = Listener.of(description), random.Random(seed), 0, 0
    listener.start(0)
    tracemalloc.start()
    half = 0
    try:
        while fed < total:
            half = half or (fed > total // 2) * tracemalloc.get_traced_memory()[0]
            piece = _piece(rng, good)
            fed += len(piece)
            at += rng.randrange(1, 50_000_000)
            out = listener.feed(piece, at)
            wake = listener.wake_ns
            if wake is not None and wake <= at:
                listener.tick(at)
            assert not listener.ended, out.troubles
            values = out.readings.value[(out.readings.flags & NO_VALUE) == 0]
            assert (abs(values) < 9.9e37).all()
            assert all(t.text == plain(t.text) for t in out.troubles)
        whole = tracemalloc.get_traced_memory()[0]
        assert whole < 1_000_000  # shapes learnt, and what the interpreter keeps in its free lists
        assert total < 1_000_000 or whole - half < 200_000
    finally:
        tracemalloc.stop()
    if name == "lines":
        lost = listener.feed(good, at)  # may end what was garbage
        found = listener.feed(good, at)
        assert len(found.readings) + len(lost.readings) >= 1


def _piece(rng: random.Random, good: bytes) -> bytes:
    """Random bytes, good frames, or good frames with bytes flipped, dropped, doubled or swapped."""
    kind = rng.randrange(5)
    if kind == 0:
        return rng.randbytes(rng.randrange(200))
    if kind == 1:
        return good * rng.randrange(1, 20)
    if kind == 2:
        return bytes(rng.choice(b"0123456789+-.eE,\r\n OLVmk") for _ in range(rng.randrange(100)))
    data = bytearray(good * rng.randrange(1, 10))
    for _ in range(rng.randrange(1, 8)):
        place = rng.randrange(len(data))
        if kind == 3:
            data[place] ^= 1 << rng.randrange(8)
        elif rng.random() < 0.5 and len(data) > 1:
            del data[place]
        else:
            data.insert(place, rng.randrange(256))
    return bytes(data)


@pytest.mark.parametrize(("name", "measures", "options", "good"), DRIVERS)
def test_no_bytes_can_hurt_a_driver(
    name: str, measures: Unit, options: Mapping[str, Any], good: bytes
) -> None:
    """No exception, no unbounded memory, no special number as a value, no control character in a text."""
    _fuzz(name, measures, options, good, 100_000, seed=1)


@pytest.mark.long
@pytest.mark.parametrize(("name", "measures", "options", "good"), DRIVERS)
@pytest.mark.parametrize("seed", [2, 3])
def test_twenty_million_bytes(
    name: str, measures: Unit, options: Mapping[str, Any], good: bytes, seed: int
) -> None:
    """The same, for longer: two million bytes for each of ten."""
    _fuzz(name, measures, options, good, 2_000_000, seed)
