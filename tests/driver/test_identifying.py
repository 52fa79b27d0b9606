"""Which driver and description fit what was heard: of every format that ships, from its bytes alone."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

import pytest

from benchtui.chart.bench_file import read_bench
from benchtui.driver.candidate import Candidate, candidates
from benchtui.driver.contract import LineDefaults
from benchtui.driver.identifying import asking, entry, fitting, listening, opened
from benchtui.driver.trial import Chunk
from benchtui.model.units import Unit
from tests.drivers.frames.wires import ascii_9, ascii_11, ascii_14_flags, ascii_14_range, segments_14

MS = 1_000_000
HEARD = LineDefaults(baud=2400)


def as_it_is(driver: str, options: Mapping[str, Any]) -> Mapping[str, Any]:
    return options


def chunks(frames: list[bytes]) -> list[Chunk]:
    data = b"".join(frames)[3:]
    return [Chunk(n * 20 * MS, data[i : i + 7]) for n, i in enumerate(range(0, len(data), 7))]


WIRES = {
    "segments-14": [segments_14(f"{n}", 1) for n in range(2850, 2870)],
    "ascii-9": [ascii_9(f"{n}") for n in range(2850, 2870)],
    "ascii-11-twice": [ascii_11(f"{n}") for n in range(2850, 2870) for _ in range(2)],
    "ascii-14-range": [ascii_14_range(f"{n}") for n in range(12850, 12870)],
    "ascii-14-flags": [ascii_14_flags(f"+{n}", 4) for n in range(2850, 2870)],
    "value-unit": [b"%d.3 V DC\r\n" % n for n in range(280, 300)],
    "number": [b"+2.%dE+02\n" % n for n in range(830, 860)],
}


@pytest.mark.parametrize("name", WIRES)
def test_every_shipped_format_is_recognised(name: str) -> None:
    """From its bytes, joined in the middle: its description comes first, and every byte fits."""
    ways = listening(candidates(), as_it_is)
    fits = fitting(ways, chunks(WIRES[name]), as_it_is, HEARD)
    assert fits[0].candidate.options.get("description") == name
    assert fits[0].fit.junk == 0
    assert fits[0].fit.readings >= 18


@pytest.mark.parametrize("name", ["number", "value-unit"])
def test_text_at_seven_bits_is_read_through_its_parity(name: str) -> None:
    """Heard as eight bits: the entry says seven, and which parity."""
    odd = [bytes(b | (0x80 if b.bit_count() % 2 == 0 else 0) for b in line) for line in WIRES[name]]
    best = fitting(listening(candidates(), as_it_is), chunks(odd), as_it_is, HEARD)[0]
    assert (best.fit.line.bits, best.fit.line.parity) == (7, "odd")
    text = entry(best, "A", "/dev/ttyUSB0", LineDefaults(), {"dtr": True, "rts": False})
    made = tomllib.loads(text)["meter"][0]
    assert (made["baud"], made["bits"], made["parity"]) == (2400, 7, "odd")
    assert made["power_pins"] == {"dtr": True, "rts": False}


def test_a_decimal_comma_is_recognised() -> None:
    """The entry says so, and reads it."""
    comma = [b"%d,3 V DC\r\n" % n for n in range(280, 300)]
    (best,) = fitting(listening(candidates(), as_it_is), chunks(comma), as_it_is, HEARD)
    assert (best.fit.value, best.fit.junk) == (299.3, 0)
    (meter,) = read_bench(entry(best, "A", "/dev/ttyUSB0", LineDefaults()), "pasted").meters
    assert meter.options == {"description": "value-unit", "decimal": "comma"}


def test_noise_fits_nothing() -> None:
    """No driver makes a reading of it that would be offered."""
    import random

    noise = [random.Random(n).randbytes(14) for n in range(60)]
    assert fitting(listening(candidates(), as_it_is), chunks(noise), as_it_is, HEARD) == []


def test_an_entry_is_a_bench_file() -> None:
    """It is read by the reader of bench files as it stands, whatever is in a port's name."""
    best = fitting(listening(candidates(), as_it_is), chunks(WIRES["segments-14"]), as_it_is, HEARD)[0]
    listener = opened(best.candidate, as_it_is)
    assert listener is not None
    for port in ("/dev/ttyUSB0", 'C:\\odd "name"', "usb:1209:0001@1-2"):
        bench = read_bench(entry(best, "A", port, listener.line), "pasted")
        (meter,) = bench.meters
        assert (meter.port, meter.driver, meter.measures) == (port, "frames", Unit.V)
        assert meter.serial.baud is None, "the description says it"


def test_who_asks_is_not_who_listens() -> None:
    """A driver that sends anything by itself is never tried while only listening was allowed."""
    ways = candidates()
    assert "scpi" in {c.driver for c in asking(ways, as_it_is)}
    assert "scpi" not in {c.driver for c in listening(ways, as_it_is)}
    assert all(c.sends for c in asking(ways, as_it_is) if c.driver == "scpi")


def test_a_candidate_that_cannot_be_opened_is_left_out() -> None:
    """It costs nothing else."""
    broken = Candidate("frames", "none", {"description": "there-is-none"})
    assert opened(broken, as_it_is) is None
    assert fitting([broken], chunks(WIRES["number"]), as_it_is, HEARD) == []
