"""Frames as meters send them, put together by hand from what each description says; for tests only."""

from __future__ import annotations

from functools import reduce
from typing import Any

from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import Driver, DriverOptions
from benchtui.model.units import Unit

SEGMENTS_14 = {
    "0": 0x7D, "1": 0x05, "2": 0x5B, "3": 0x1F, "4": 0x27, "5": 0x3E, "6": 0x7E, "7": 0x15, "8": 0x7F,
    "9": 0x3F, "L": 0x68, " ": 0x00, "-": 0x02, "?": 0x13,
}  # fmt: skip
"""Seven bits of a digit in the order e f a d c g b; written down from memory, not made by the program."""


def segments_14(
    digits: str, point: int = 0, *, signs: dict[str, bool] | None = None, dc: bool = True
) -> bytes:
    """14 bytes with index nibbles. `point`: digits behind it; `signs`: further bits, like {"13.2": True}."""
    low = [0] * 15
    low[1] = 0b0101 if dc else 0b1001
    for n, digit in enumerate(digits):
        low[2 + 2 * n] |= SEGMENTS_14[digit] >> 4
        low[3 + 2 * n] |= SEGMENTS_14[digit] & 15
    if point:
        low[10 - 2 * point] |= 8
    for place in signs if signs is not None else {"13.2": True}:
        byte, bit = place.split(".")
        low[int(byte)] |= 1 << int(bit)
    return bytes(n << 4 | low[n] for n in range(1, 15))


def ascii_9(digits: str, range_: int = 3, function: int = 0xB, status: int = 0) -> bytes:
    """Range, four digits, function, status, CR LF."""
    return bytes([0x30 + range_, *digits.encode(), 0x30 + function, 0x30 + status]) + b"\r\n"


def ascii_11(
    digits: str, range_: int = 3, function: int = 0xB, status: int = 0, options: tuple[int, int] = (0, 8)
) -> bytes:
    """Range, four digits, function, status, two options, CR LF."""
    head = [0x30 + range_, *digits.encode(), 0x30 + function, 0x30 + status]
    return bytes([*head, *(0x30 + o for o in options)]) + b"\r\n"


def ascii_14_range(
    digits: str, range_: int = 2, status: int = 0, options: tuple[int, ...] = (0, 0, 8, 0)
) -> bytes:
    """Range, five digits, function (volts), status, four options, CR LF."""
    head = [0x30 + range_, *digits.encode(), 0x3B, 0x30 + status]
    return bytes([*head, *(0x30 + o for o in options)]) + b"\r\n"


def ascii_14_flags(text: str, point: int, signs: bytes = b"\x10\x00\x00\x80") -> bytes:
    """Sign and four digits, a blank, the point, four bytes of signs, the bar graph, CR LF."""
    return text.encode() + b" " + bytes([0x30 + point]) + signs + b"\x05\r\n"


def stx_16(digits: str, unit: str = "00", minus: bool = False, point: int = 0) -> bytes:
    """STX, 4, display 1, unit code, sign, point, eight digits, CR."""
    return b"\x0241" + f"{unit}{int(minus)}{point}{digits}".encode() + b"\r"


def bcd_8(digits: str, flags: int = 0x20, point: int = 1, unit: int = 1) -> bytes:
    """AA, flags, six packed digits, point, unit, exclusive-or of all before."""
    body = bytes([0xAA, flags, *bytes.fromhex(digits), point, unit])
    return body + bytes([reduce(lambda a, b: a ^ b, body)])


GOOD: dict[str, bytes] = {
    "segments-14": b"".join(
        [
            segments_14("2853", 1), segments_14(" 285", 2), segments_14(" 0L ", 1),
            segments_14("0001", 3, signs={"13.2": True, "2.3": True, "13.0": True}), segments_14("2854", 1),
        ]
    ),
    "ascii-9": ascii_9("2853") + ascii_9("0012", status=4) + ascii_9("0000", status=1) + ascii_9("2854"),
    "ascii-11-twice": b"".join(2 * ascii_11(d) for d in ("2853", "2854", "2854", "0012")),
    "ascii-14-flags": b"".join(
        [
            ascii_14_flags("+2853", 4), ascii_14_flags("-0012", 1), ascii_14_flags("+?0:?", 0),
            ascii_14_flags("+2854", 4),
        ]
    ),
    "ascii-14-range": ascii_14_range("22853") + ascii_14_range("00012", status=4) + ascii_14_range("22854"),
    "stx-16": stx_16("00002853", point=1) + stx_16("00000012", "01", True) + stx_16("    2854", point=1),
    "bcd-8-xor": b"".join(bcd_8(d) for d in ("002853", "002854", "002855", "002856", "002857")),
}  # fmt: skip
"""A few good frames of each description that comes with the program."""


def frames(description: object, measures: Unit = Unit.V, **options: Any) -> Driver:
    """A driver with this description."""
    return open_driver("frames", DriverOptions("A", measures, {"description": description, **options}))


def heard(driver: Driver, *pieces: bytes) -> list[float]:
    """The values that these bytes give, a piece each millisecond."""
    driver.start(0)
    return [v for n, p in enumerate(pieces) for v in driver.feed(p, n * 10**6).readings.value.tolist()]
