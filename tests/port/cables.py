"""Cables for tests: pseudo-terminals that can be pulled, and what comes out of a session on them."""

from __future__ import annotations

import os
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchtui.chart.bench import Bench, MeterEntry, SerialSettings
from benchtui.chart.chart import Chart
from benchtui.model.block import Block
from benchtui.model.notes import Note, Trouble
from benchtui.model.readings import Readings
from benchtui.model.units import Unit
from benchtui.port.clock import Clock
from benchtui.port.hookup import Hookup, hook_up
from benchtui.port.intake import WireSink
from benchtui.port.opener import Opener, open_port
from benchtui.port.wires import Wires

PATIENCE_S = 60.0
"""For something that must happen; never a time that is asserted."""


class Cable:
    """A pseudo-terminal behind a name that outlives it, as a by-id path outlives a replug."""

    def __init__(self, name: Path) -> None:
        self.name = name
        self._ends: tuple[int, int] | None = None
        self.plug()

    def plug(self) -> None:
        """A new device behind the old name."""
        far, near = os.openpty()
        tty.setraw(near)
        self._ends = (far, near)
        fresh = self.name.with_suffix(".new")
        fresh.symlink_to(os.ttyname(near))
        fresh.replace(self.name)

    def unplug(self) -> None:
        """Both ends are gone, and the name with them."""
        self.name.unlink(missing_ok=True)
        if self._ends is not None:
            for end in self._ends:
                os.close(end)
            self._ends = None

    def send(self, data: bytes) -> None:
        """What the meter says."""
        assert self._ends is not None
        os.write(self._ends[0], data)

    def send_at(self, data: bytes, baud: int = 9600) -> None:
        """What the meter says, in the pieces and at the pace in which a line of this speed brings it."""
        for i in range(0, len(data), 8):
            piece = data[i : i + 8]
            self.send(piece)
            time.sleep(len(piece) * 10 / baud)

    def heard(self) -> bytes:
        """What the computer has sent; waits for it."""
        assert self._ends is not None
        return os.read(self._ends[0], 4096)


@dataclass(slots=True)
class Session:
    """A live session without a screen: what has been drained from it so far."""

    wires: Wires
    hookup: Hookup
    blocks: list[Block] = field(default_factory=list)

    def drain(self) -> None:
        self.blocks.append(self.wires.drain())

    def until(self, there: Callable[[], bool]) -> None:
        """Drains until this holds."""
        end = time.monotonic() + PATIENCE_S
        while not there():
            assert time.monotonic() < end, f"it did not come about; links: {self.wires.status()}"
            time.sleep(0.005)
            self.drain()

    def until_state(self, meter: str, *states: str) -> None:
        self.until(lambda: self.wires.status()[meter].state in states)

    def close(self) -> None:
        self.blocks.append(self.wires.close())

    @property
    def readings(self) -> Readings:
        return Readings.joined([b.readings for b in self.blocks])

    @property
    def values(self) -> list[float]:
        return [v for b in self.blocks for v in b.readings.value.tolist()]

    @property
    def notes(self) -> list[Note]:
        return [n for b in self.blocks for n in b.notes]

    def troubles(self, *kinds: str) -> list[Trouble]:
        return [n for n in self.notes if isinstance(n, Trouble) and (not kinds or n.kind in kinds)]


def meter(name: str, port: str | Path, driver: str = "lines", **given: Any) -> MeterEntry:
    """A bench entry."""
    serial = given.pop("serial", SerialSettings())
    measures = given.pop("measures", Unit.V)
    return MeterEntry(name, driver, str(port), measures, f"point {name}", serial=serial, options=given)


@contextmanager
def session(
    *meters: MeterEntry,
    clock: Clock | None = None,
    log: Callable[[Hookup, Clock], WireSink] | None = None,
    opener: Opener = open_port,
) -> Iterator[Session]:
    """A live session on these meters, closed at the end."""
    hookup = hook_up(Bench(meters), Chart("test"))
    clock = clock or Clock()
    sink = None if log is None else log(hookup, clock)
    running = Session(Wires(hookup, clock, opener=opener, log=sink), hookup)
    try:
        yield running
    finally:
        running.close()
