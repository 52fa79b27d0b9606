"""How fast frames are decoded, beside a bare loop of `float(line)` over the same readings as text lines.

Run it: `python -m tests.speed.decoding_frames`. It prints, and asserts only that the values are the same. A
frame is no text, so the bare loop is given the numbers that the frames show, a line each, and twice where a
meter sends each twice. *Steady*: as a meter sends them, only the digits change; the goals of `decoding.py`
are for this. *Mixed*: signs, ranges and overload change each time, as no meter does; it shows the worst, of
which only the first goal is asked.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import DriverOptions
from benchtui.model.units import Unit
from tests.drivers.frames import wires

from .decoding import _best

FRAMES = 200_000
PIECES = (512, 4096, 65536)
FASTEST = 115_200 / 10
"""Bytes a second of the fastest line that sends frames."""
STEADY: dict[str, Callable[[int], bytes]] = {
    "segments-14": lambda n: wires.segments_14(f"{n % 10000:04}", 1),
    "ascii-9": lambda n: wires.ascii_9(f"{n % 10000:04}"),
    "ascii-11-twice": lambda n: 2 * wires.ascii_11(f"{n % 10000:04}"),
    "ascii-14-flags": lambda n: wires.ascii_14_flags(f"+{n % 10000:04}", 4),
    "ascii-14-range": lambda n: wires.ascii_14_range(f"{n % 20000:05}"),
    "stx-16": lambda n: wires.stx_16(f"{n % 10000:08}", point=1),
    "bcd-8-xor": lambda n: wires.bcd_8(f"{n % 10000:06}"),
}


def _wires(rng: random.Random) -> dict[str, tuple[str, bytes]]:
    """What is sent -> (description, bytes)."""
    found = {}
    for name, make in STEADY.items():
        many = [make(rng.randrange(20000)) for _ in range(FRAMES)]
        found[f"{name}, steady"] = (name, b"".join(many))
    for name in ("segments-14", "ascii-14-flags"):
        good = wires.GOOD[name]
        found[f"{name}, mixed"] = (name, good * (FRAMES // 4))
    return found


def _read(name: str, pieces: list[bytes]) -> list[float]:
    driver = open_driver("frames", DriverOptions("A", Unit.V, {"description": name}))
    driver.start(0)
    outs = [driver.feed(piece, n) for n, piece in enumerate(pieces)]
    return [v for out in outs for v in out.readings.value.tolist()]


def main() -> None:
    """Prints a line for each kind of stream and size of piece."""
    print("bare: [float(line) for line in data.split(b'\\n')] over the numbers that the frames show")
    for label, (name, wire) in _wires(random.Random(1)).items():
        shown = _read(name, [wire])
        times = 2 if name.endswith("-twice") else 1
        numbers = "\n".join(f"{v:.10g}" for v in shown for _ in range(times)).encode()
        bare_s = _best(lambda numbers=numbers: [float(line) for line in numbers.split(b"\n")])
        for size in PIECES:
            pieces = [wire[i : i + size] for i in range(0, len(wire), size)]
            assert repr(_read(name, pieces)) == repr(shown), "the values differ"
            taken = _best(lambda name=name, pieces=pieces: _read(name, pieces))
            print(
                f"{label:23} pieces of {size:6}: {len(shown) / taken / 1e6:5.2f} million readings/s, "
                f"{len(wire) / taken / FASTEST:6.0f} times the fastest line, "
                f"bare {len(shown) / bare_s / 1e6:5.2f}, {taken / bare_s:5.2f} times as long"
            )


if __name__ == "__main__":
    main()
