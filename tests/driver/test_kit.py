"""The contract kit finds out each kind of driver that breaks the contract."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable

import pytest

from benchtui.driver.contract import LineDefaults, Out
from benchtui.driver.framing import LineFramer
from benchtui.driver.kit import check_listening
from benchtui.driver.purity import impure_imports, watched
from benchtui.model.readings import Readings
from benchtui.model.units import Unit

WIRE = b"12.3\r\n12.4\r\n12.5\r\n12.6\r\n"


class Good:
    """A small honest driver: a plain number a line."""

    channels = ("",)
    line = LineDefaults()
    wake_ns: int | None = None

    def __init__(self) -> None:
        self.framer = LineFramer()

    def start(self, at_ns: int) -> Out:
        self.framer.restart(synchronised=False)
        return Out()

    def feed(self, data: bytes, at_ns: int) -> Out:
        values = [v for line in self.framer.feed(data).lines() if (v := _number(line)) is not None]
        return Out(Readings.of([at_ns] * len(values), 0, int(Unit.V), values))

    def tick(self, at_ns: int) -> Out:
        return Out()


def _number(line: bytes) -> float | None:
    try:
        return float(line) if line.strip(b"0123456789.") == b"" else None
    except ValueError:
        return None


class CutsAtReads(Good):
    """Takes the end of a read for the end of a line."""

    def feed(self, data: bytes, at_ns: int) -> Out:
        values = [v for line in data.split() if (v := _number(line)) is not None]
        return Out(Readings.of([at_ns] * len(values), 0, int(Unit.V), values))


class Hoards(Good):
    """Keeps every byte."""

    def __init__(self) -> None:
        super().__init__()
        self.all = bytearray()

    def feed(self, data: bytes, at_ns: int) -> Out:
        self.all += data
        return super().feed(data, at_ns)


class Raises(Good):
    """Falls over a byte that is no text."""

    def feed(self, data: bytes, at_ns: int) -> Out:
        data.decode("ascii")
        return super().feed(data, at_ns)


class KnowsTheTime(Good):
    """Gives another value at another instant."""

    def feed(self, data: bytes, at_ns: int) -> Out:
        r = super().feed(data, at_ns).readings
        return Out(Readings.of(r.t_ns, 0, int(Unit.V), r.value + at_ns // 10**18))


class Sleeps(Good):
    """Waits for the wire by itself."""

    def tick(self, at_ns: int) -> Out:
        time.sleep(0)
        return Out()


class Deaf(Good):
    """Never comes back after garbage."""

    def feed(self, data: bytes, at_ns: int) -> Out:
        if b"\x00" in data or b"x" in data:
            self.feed = lambda data, at_ns: Out()  # type: ignore[method-assign]
            return Out()
        return super().feed(data, at_ns)


class TicksEarly(Good):
    """Changes something at a tick that is not due."""

    ticks = itertools.count()

    def tick(self, at_ns: int) -> Out:
        return Out(Readings.of([at_ns], 0, int(Unit.V), [float(next(self.ticks))]))


def test_an_honest_driver_passes() -> None:
    """What keeps the contract is let through."""
    check_listening(_without_time(Good), WIRE, cuts=10)


@pytest.mark.parametrize(
    ("broken", "why"),
    [
        (CutsAtReads, "byte by byte"),
        (Hoards, "memory"),
        (Raises, "UnicodeDecodeError"),
        (KnowsTheTime, "other instants"),
        (Deaf, "garbage"),
        (TicksEarly, "ticks that are not due"),
        (Sleeps, "no clock"),
    ],
)
def test_a_broken_driver_is_found_out(broken: type[Good], why: str) -> None:
    """Each by the check that is meant for it."""
    with pytest.raises(AssertionError, match=why):
        check_listening(_without_time(broken) if broken is not Sleeps else broken, WIRE, cuts=10)


def test_a_kit_with_nothing_to_compare_says_so() -> None:
    """Bytes that give no readings prove nothing."""
    with pytest.raises(AssertionError, match="nothing to compare"):
        check_listening(Good, b"hello\r\n")


def test_the_import_of_a_clock_is_seen() -> None:
    """This module imports `time`, so a driver that lives here is impure."""
    assert any("imports time" in found for found in impure_imports(Good()))


def test_sleeping_and_opening_are_seen() -> None:
    """What a driver does is watched by the interpreter's audit events, in this thread only."""
    with watched() as events:
        time.sleep(0)
        open(__file__).close()
    assert {"time.sleep", "open"} <= set(events)


def _without_time(kind: type[Good]) -> Callable[[], Good]:
    """The same driver as if its module imported nothing forbidden."""
    return type(kind.__name__, (kind,), {"__module__": "benchtui.driver.contract"})
