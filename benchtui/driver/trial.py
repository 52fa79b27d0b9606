"""A driver tried on bytes: how many readings it makes of them, and how much it cannot make sense of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchtui.model.readings import NO_VALUE
from benchtui.model.units import Unit

from .contract import LineDefaults, Out
from .listener import Listener

_END_NS = 2_000_000_000
_MOST_JUNK = 0.1
_STRIPPED = bytes(n & 0x7F for n in range(256))


@dataclass(frozen=True, slots=True)
class Chunk:
    """Bytes that came together, and when."""

    at_ns: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Fit:
    """What a driver made of what was heard."""

    readings: int
    junk: int
    """Bytes that are no reading."""
    total: int
    """Bytes heard."""
    seconds: float
    """From the first reading to the last."""
    line: LineDefaults
    """How the line is to be set: as it was heard, or with seven bits and the parity that the bytes show."""
    value: float | None = None
    """The last one; None where it said over range."""
    resolution: float = 0.0
    unit: Unit = Unit.UNKNOWN
    identity: str = ""
    why: str = ""
    """What the driver said of the first bytes that are no reading."""
    told: tuple[str, ...] = ()
    """What else it told of the meter, each once."""

    @property
    def fits(self) -> bool:
        """At least two readings, and hardly anything besides."""
        return self.readings >= 2 and self.junk <= _MOST_JUNK * self.total

    @property
    def rate(self) -> float:
        """Readings a second; 0 where it cannot be told."""
        return (self.readings - 1) / self.seconds if self.readings > 1 and self.seconds > 0 else 0.0


class Tally:
    """Adds up what a driver says."""

    def __init__(self) -> None:
        self.readings = self.junk = self.total = 0
        self._first_ns = self._last_ns = 0
        self._value: float | None = None
        self._resolution = 0.0
        self._unit = Unit.UNKNOWN
        self._identity = self._why = ""
        self._told: dict[str, None] = {}

    def take(self, out: Out, at_ns: int) -> None:
        """What one call gave."""
        self.junk += sum(t.count for t in out.troubles if t.kind == "garbled")
        self._identity = out.identity or self._identity
        self._why = self._why or next((t.text for t in out.troubles if t.kind == "garbled"), "")
        self._told |= dict.fromkeys(t.text for t in out.troubles if t.kind == "driver")
        n = len(out.readings)
        if not n:
            return
        if not self.readings:
            self._first_ns = at_ns
        self.readings += n
        self._last_ns = at_ns
        r = out.readings
        self._value = None if int(r.flags[-1]) & NO_VALUE else float(r.value[-1])
        self._resolution, self._unit = float(r.resolution[-1]), Unit(int(r.unit[-1]))

    def fit(self, line: LineDefaults) -> Fit:
        """The sum."""
        seconds = (self._last_ns - self._first_ns) / 1e9
        return Fit(
            self.readings, self.junk, self.total, seconds, line,
            self._value, self._resolution, self._unit, self._identity, self._why, tuple(self._told),
        )  # fmt: skip


def only_listens(listener: Listener) -> bool:
    """Whether a fresh driver sends nothing by itself. It is started for that, at 0."""
    out = listener.start(0)
    return not out.send and listener.wake_ns is None


def tried(listener: Listener, chunks: Sequence[Chunk], line: LineDefaults) -> Fit:
    """A fresh driver that only listens, on what was heard; nothing that it sends goes anywhere."""
    tally, at = Tally(), 0
    tally.take(listener.start(chunks[0].at_ns if chunks else 0), 0)
    for chunk in chunks:
        at = chunk.at_ns
        _tick(listener, tally, at)
        tally.total += len(chunk.data)
        tally.take(listener.feed(chunk.data, at), at)
    _tick(listener, tally, at + _END_NS)
    return tally.fit(line)


def _tick(listener: Listener, tally: Tally, until_ns: int) -> None:
    """All ticks that are due by then."""
    for _ in range(100):
        wake = listener.wake_ns
        if wake is None or wake > until_ns:
            return
        tally.take(listener.tick(wake), wake)


def stripped(chunks: Sequence[Chunk]) -> list[Chunk]:
    """The same without the highest bit of each byte."""
    return [replace(c, data=c.data.translate(_STRIPPED)) for c in chunks]
