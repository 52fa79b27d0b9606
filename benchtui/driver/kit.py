"""The contract kit: one line of pytest that holds any driver, ours or anyone's, to the contract.

    check_listening(lambda: open_driver("mine", DriverOptions("meter")), b"12.3\\r\\n12.4\\r\\n12.5\\r\\n")

`check_asking` does the same for a driver that asks, with a far end that answers.
"""

from __future__ import annotations

import gc
import random
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from .contract import Driver, Out
from .description import MeterDescription
from .listener import Listener
from .purity import impure_imports, watched

Make: TypeAlias = Callable[[], Driver]
Peer: TypeAlias = Callable[[bytes], bytes]
"""Gives what the meter answers to what was sent; empty for no answer."""
Row: TypeAlias = tuple[int, int, str, str, int]

_STEP_NS = 1_000_000
_MOST_GROWTH = 150_000
_GARBAGE = 300_000
"""Bytes: twice what may stay behind, so that a driver that keeps all of it is found out."""


@dataclass(slots=True)
class Heard:
    """What a driver gave, in order, without times. Values as text, so that NaN equals NaN."""

    rows: list[Row] = field(default_factory=list)
    troubles: list[tuple[str, str, int]] = field(default_factory=list)
    sent: list[bytes] = field(default_factory=list)

    def take(self, out: Out, at_ns: int) -> None:
        r = out.readings
        self.rows += [
            (int(c), int(u), repr(float(v)), repr(float(s)), int(f))
            for c, u, v, s, f in zip(r.channel, r.unit, r.value, r.resolution, r.flags, strict=True)
        ]
        self.troubles += [(t.kind, t.text, t.count) for t in out.troubles]
        if out.send:
            self.sent.append(out.send)


def check_listening(make: Make, wire: bytes, *, cuts: int = 100, seed: int = 1) -> None:
    """Holds a driver that only listens to the contract. `wire` is what its meter sends: three frames or more.

    Raises:
        AssertionError: the contract is broken; the text says how.
    """
    whole = _listen(make, [wire])
    _hold(
        len(whole.rows) >= 2, "these bytes should give at least two readings: the kit has nothing to compare"
    )
    rng = random.Random(seed)
    _same(whole, _listen(make, [wire[i : i + 1] for i in range(len(wire))]), "byte by byte")
    for number in range(cuts):
        _same(whole, _listen(make, _cut(wire, rng)), f"random cut {number}")
    _same(whole, _listen(make, [wire], since=10**18), "at other instants")
    for name, garbage in _garbage(rng, 600):
        around = _listen(make, [*_cut(garbage, rng), wire, *_cut(garbage, rng), wire])
        times = _times_within(whole.rows[1:], around.rows)
        _hold(times >= 2, f"after garbage ({name}) the readings from the second frame on are not all found")
    _no_early_ticks(make, wire)
    _check_bounds(make)
    _check_purity(make, wire)


def check_asking(
    make: Make, peer: Callable[[], Peer], *, seconds: float = 30.0, cuts: int = 20, seed: int = 1
) -> None:
    """Holds a driver that asks to the contract. `peer` makes a fresh meter.

    Raises:
        AssertionError: the contract is broken; the text says how.
    """
    whole = _converse(make, peer(), seconds, lambda data: [data])
    _hold(len(whole.rows) >= 2, "the meter was not read twice: the kit has nothing to compare")
    rng = random.Random(seed)
    by_byte = _converse(make, peer(), seconds, lambda data: [data[i : i + 1] for i in range(len(data))])
    _same(whole, by_byte, "byte by byte")
    for number in range(cuts):
        _same(whole, _converse(make, peer(), seconds, lambda data: _cut(data, rng)), f"random cut {number}")
    for name, garbage in _garbage(rng, 600):
        heard = _converse(make, peer(), seconds, lambda data: [data], garbage)
        _hold(len(heard.rows) >= 2, f"after garbage ({name}) it does not come back to readings")
    _check_bounds(make)
    _check_purity(make, b"")


def _listen(make: Make, pieces: Sequence[bytes], since: int = 0) -> Heard:
    heard, listener, at = Heard(), _listener(make), since
    heard.take(listener.start(at), at)
    for piece in pieces:
        at += _STEP_NS
        heard.take(listener.feed(piece, at), at)
        _alive(listener, heard)
    return heard


def _converse(
    make: Make, peer: Peer, seconds: float, cut: Callable[[bytes], list[bytes]], garbage: bytes = b""
) -> Heard:
    """Virtual time: ticks when they are due, answers 20 ms after the question, garbage once at a third."""
    heard, listener, at = Heard(), _listener(make), 0
    heard.take(listener.start(at), at)
    coming: list[tuple[int, bytes]] = [(int(seconds * 1e9 / 3), garbage)] if garbage else []
    while at < seconds * 1e9:
        due = [t for t in (listener.wake_ns, coming[0][0] if coming else None) if t is not None]
        if not due:
            break
        at = max(at, min(due))
        sent = b""
        while coming and coming[0][0] <= at:
            for piece in cut(coming.pop(0)[1]):
                out = listener.feed(piece, at)
                heard.take(out, at)
                sent += out.send
        wake = listener.wake_ns
        if wake is not None and wake <= at:
            out = listener.tick(at)
            heard.take(out, at)
            sent += out.send
            after = listener.wake_ns
            _hold(
                after is None or after > at or bool(out.send),
                "a due tick must send something or move `wake_ns` on",
            )
        _alive(listener, heard)
        if sent and (answer := peer(sent)):
            coming = sorted([*coming, (at + 20 * _STEP_NS, answer)])
    return heard


def _no_early_ticks(make: Make, wire: bytes) -> None:
    """A tick before `wake_ns` changes nothing."""
    plain, ticked = _listener(make), _listener(make)
    first, second = Heard(), Heard()
    for at, piece in enumerate([b"", *(wire[i : i + 3] for i in range(0, len(wire), 3))]):
        if at == 0:
            first.take(plain.start(0), 0)
            second.take(ticked.start(0), 0)
        else:
            first.take(plain.feed(piece, at), at)
            second.take(ticked.feed(piece, at), at)
        wake = ticked.wake_ns
        if wake is None or wake > at:
            second.take(ticked.tick(at), at)
            _hold(ticked.wake_ns == wake, "a tick that was not due moved `wake_ns`")
    _same(first, second, "with ticks that are not due")


def _check_bounds(make: Make) -> None:
    """Whatever comes, memory is bounded and no call raises."""
    rng = random.Random(2)
    for name, garbage in _garbage(rng, 4096):
        listener, heard, at = _listener(make), Heard(), 0
        heard.take(listener.start(0), 0)
        heard.take(listener.feed(garbage, 0), 0)
        gc.collect()
        tracemalloc.start()
        try:
            before = tracemalloc.get_traced_memory()[0]
            for _ in range(_GARBAGE // len(garbage)):
                at += _STEP_NS
                listener.feed(garbage, at)
                wake = listener.wake_ns
                if wake is not None and wake <= at:
                    listener.tick(at)
                _alive(listener, heard)
            gc.collect()
            growth = tracemalloc.get_traced_memory()[0] - before
        finally:
            tracemalloc.stop()
        _hold(
            growth < _MOST_GROWTH,
            f"{_GARBAGE} bytes of garbage ({name}) left {growth} bytes of memory behind",
        )


def _check_purity(make: Make, wire: bytes) -> None:
    impure = impure_imports(make())
    _hold(not impure, "a driver does no I/O and has no clock: " + "; ".join(impure))
    driver = make()
    driver.start(0)
    with watched() as events:
        driver.feed(wire + b"\xff" * 50, 1)
        driver.tick(driver.wake_ns or 2)
    _hold(not events, f"a driver does no I/O and has no clock: it did {', '.join(sorted(set(events)))}")


def _hold(holds: bool, why: str) -> None:
    """An explicit check: `assert` would vanish under `python -O`."""
    if not holds:
        raise AssertionError(why)


def _listener(make: Make) -> Listener:
    driver = make()
    return Listener(driver, MeterDescription("meter", "driver", channels=tuple(range(len(driver.channels)))))


def _alive(listener: Listener, heard: Heard) -> None:
    _hold(not listener.ended, heard.troubles[-1][1] if heard.troubles else "the driver failed")


def _same(one: Heard, other: Heard, how: str) -> None:
    _hold(other.rows == one.rows, f"{how}: other readings: {_first_difference(one.rows, other.rows)}")
    _hold(
        other.troubles == one.troubles,
        f"{how}: other troubles: {_first_difference(one.troubles, other.troubles)}",
    )
    _hold(b"".join(other.sent) == b"".join(one.sent), f"{how}: it sent something else")


def _first_difference(one: Sequence[object], other: Sequence[object]) -> str:
    for a, b in zip(one, other, strict=False):
        if a != b:
            return f"{b} instead of {a}"
    return f"{len(other)} instead of {len(one)}"


def _times_within(part: list[Row], rows: list[Row]) -> int:
    """How many times the part stands in the rows as a stretch."""
    return sum(rows[i : i + len(part)] == part for i in range(len(rows) - len(part) + 1))


def _cut(data: bytes, rng: random.Random) -> list[bytes]:
    places = sorted(rng.randrange(len(data) + 1) for _ in range(rng.randrange(1, 8))) if data else []
    return [data[a:b] for a, b in zip([0, *places], [*places, len(data)], strict=True)]


def _garbage(rng: random.Random, size: int) -> Iterator[tuple[str, bytes]]:
    yield "random bytes", rng.randbytes(size)
    yield "no line end", b"x" * size
    yield "line ends only", b"\r\n" * (size // 2)
    yield "text", bytes(rng.choice(b"0123456789+-.eEV \r\n") for _ in range(size))
    yield "escape sequences", (b"\x1b[2J\x1b]0;x\x07[/x]\xc2\x9b" * size)[:size]
    yield "high bytes", bytes(rng.randrange(128, 256) for _ in range(size))
