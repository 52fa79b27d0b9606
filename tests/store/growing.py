"""A child process that records until it is killed: says what it has put, as it puts it."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from benchtui.model.block import Block
from benchtui.model.notes import Mark
from benchtui.model.readings import Readings
from benchtui.store.keeper import Keeper
from benchtui.store.session import Session

from .made import HEADER


def main() -> None:
    """Three channels, a reading of each every 20 ms and a mark every second, on a real clock."""
    keeper = Keeper(Session.create(Path(sys.argv[1]), HEADER))
    began = time.monotonic_ns()
    print("ready", flush=True)
    number = 0
    while True:
        t_ns = time.monotonic_ns() - began
        value = number / 10
        block = Block(
            Readings.of([t_ns] * 3, [0, 1, 2], 1, [value, -value, 1.0], 0.1),
            (Mark(t_ns, "note", str(number)),) if number % 50 == 0 else (),
            t_ns,
        )
        print(number, t_ns, flush=True)
        keeper.put(block)
        number += 1
        time.sleep(0.02)


if __name__ == "__main__":
    main()
