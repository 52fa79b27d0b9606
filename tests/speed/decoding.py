"""How fast text lines are decoded, beside a bare loop of `float(line)` over the same bytes.

Run it: `python -m tests.speed.decoding`. It prints, and asserts only that the values are the same.

Two goals, for a meter that sends one form, as meters do: 100 times the fastest line there is, in pieces of
any of these sizes; and at most 5 times as long as the bare loop, in pieces of 4096 bytes and more. A link
reads all that is there, and 4095 bytes are what a Linux terminal holds for it (N_TTY_BUF_SIZE, from
memory): when time is short, pieces are that long. Shorter ones come when there is time to spare; then a
call costs more than its lines do, whatever reads them, and what counts is the first goal.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.model.units import Unit

LINES = 200_000
FASTEST = 921_600 / 10
"""Bytes a second of the fastest line that sends text."""
PIECES = (512, 4096, 65536)
PATTERN = r"(?P<sign>[+-])(?P<value>\d{3}\.\d)(?P<prefix>[ m])V"


def _forms(rng: random.Random) -> dict[str, tuple[dict[str, str], Callable[[], str]]]:
    return {
        "plain number a line": ({}, lambda: f"{rng.uniform(-40, 400):.2f}"),
        "value with unit a line": ({}, lambda: f"{rng.uniform(100, 400):.1f} V DC"),
        "NR3, as SCPI meters send": ({}, lambda: f"{rng.uniform(100, 400):+.6E}"),
        "described by a pattern": ({"pattern": PATTERN}, lambda: f"{rng.uniform(100, 400):+.1f} V"),
    }


def _number(line: str) -> str:
    return line.replace(" V DC", "").replace(" V", "")


def _best(run: Callable[[], object], times: int = 3) -> float:
    """The shortest of some runs, seconds."""
    taken = []
    for _ in range(times):
        begun = time.process_time()
        run()
        taken.append(time.process_time() - begun)
    return min(taken)


def main() -> None:
    """Prints a line for each form and size of piece."""
    rng = random.Random(1)
    print(f"{LINES} lines; bare: [float(line) for line in data.split(b'\\n')] over the numbers alone")
    for name, (options, make) in _forms(rng).items():
        lines = [make() for _ in range(LINES)]
        wire = ("\n".join(lines) + "\n").encode()
        numbers = "\n".join(_number(line) for line in lines).encode()
        bare = [float(line) for line in numbers.split(b"\n")]
        bare_s = _best(lambda numbers=numbers: [float(line) for line in numbers.split(b"\n")])
        for size in PIECES:
            pieces = [wire[i : i + size] for i in range(0, len(wire), size)]

            def decode(pieces: list[bytes] = pieces, options: dict[str, str] = options) -> list[float]:
                driver = open_driver("lines", DriverOptions("A", Unit.V, options))
                driver.start(0)
                driver.feed(b"\n", 0)
                outs = [driver.feed(piece, n) for n, piece in enumerate(pieces)]
                return [v for out in outs for v in out.readings.value.tolist()]

            assert decode() == bare, "the values differ"
            taken = _best(decode)
            print(
                f"{name:26} pieces of {size:6}: {LINES / taken / 1e6:5.2f} million readings/s, "
                f"{len(wire) / taken / FASTEST:4.0f} times the fastest line, "
                f"bare {LINES / bare_s / 1e6:5.2f}, {taken / bare_s:4.2f} times as long"
            )


if __name__ == "__main__":
    main()
