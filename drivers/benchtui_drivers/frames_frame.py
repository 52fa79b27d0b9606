"""The part of a description that says what is the same in every frame: its ends, its numbers, its check."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .checksum import Check, Crc
from .frames_section import Section

LONGEST = 256
"""Bytes of a frame."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What `[frame]` and `[check]` say."""

    length: int
    mask: bytes
    want: bytes
    repeats: int
    gap_ns: int
    check: Check | None


class Owners:
    """Who reads which bit: none may have two meanings."""

    def __init__(self, problems: list[str]) -> None:
        self._problems = problems
        self._of: dict[tuple[int, int], str] = {}

    def claim(self, places: Iterable[tuple[int, int]], owner: str) -> None:
        """Takes these (byte, bit) for this owner; a bit that has one already is a mistake."""
        clashes: dict[str, tuple[int, int]] = {}
        for place in places:
            other = self._of.setdefault(place, owner)
            if other != owner:
                clashes.setdefault(other, place)
        for other, (byte, bit) in clashes.items():
            self._problems.append(f"{owner}: overlaps with {other}: both use {byte + 1}.{bit}")


def read_frame(section: Section | None, check: Section | None, owners: Owners, problems: list[str]) -> Frame:
    """What they say; what is wrong with them goes to `problems`."""
    if section is None:
        problems.append("[frame]: is needed: the length, and how a frame begins or ends")
        return Frame(LONGEST, b"", b"", 1, 0, None)
    if not section.given("length"):
        section.wrong("length", f"is needed: the bytes of a frame, 2 to {LONGEST}")
    length = section.whole("length", LONGEST, 2, LONGEST)
    fixed = _Fixed(length, owners)
    start, end = section.octets("start"), section.octets("end")
    if len(start) + len(end) > length:
        section.wrong("", f"start and end are longer than the frame, {length} bytes")
    else:
        for n, byte in enumerate(start):
            fixed.put(n, 0xFF, byte, "[frame] start")
        for n, byte in enumerate(end, length - len(end)):
            fixed.put(n, 0xFF, byte, "[frame] end")
    _index(section, fixed)
    _fixed_bits(section.inner("fixed"), fixed)
    gap = section.seconds("gap", 0.0, 0.02, 2.0)
    repeats = section.whole("repeats", 1, 1, 8)
    section.finish()
    return Frame(
        length, bytes(fixed.mask), bytes(fixed.want), repeats, int(gap * 1e9), _check(check, length, owners)
    )


class _Fixed:
    """The bits that are the same in every frame."""

    def __init__(self, length: int, owners: Owners) -> None:
        self.mask, self.want = bytearray(length), bytearray(length)
        self._owners = owners

    def put(self, byte: int, mask: int, want: int, owner: str) -> None:
        """These bits of this byte are fixed."""
        self._owners.claim(((byte, b) for b in range(8) if mask >> b & 1), owner)
        self.mask[byte] |= mask
        self.want[byte] = (self.want[byte] & ~mask) | (want & mask)


def _index(section: Section, fixed: _Fixed) -> None:
    """The number of each byte, in one of its halves."""
    first = section.whole("index_from", 1, 0, 15)
    if not section.given("index") or not section.given("length"):
        if section.given("index"):
            section.raw("index")
        elif section.given("index_from"):
            section.wrong("index_from", "means something only beside index")
        return
    half = section.choice("index", ("high", "low"), "high")
    if len(fixed.mask) + first > 16:
        section.wrong("index", f"half a byte counts to 15, not to {len(fixed.mask) + first - 1}")
        return
    shift = 4 if half == "high" else 0
    for n in range(len(fixed.mask)):
        fixed.put(n, 0xF << shift, (n + first) << shift, "[frame] index")


def _fixed_bits(section: Section | None, fixed: _Fixed) -> None:
    if section is None:
        return
    length = len(fixed.mask)
    for key in section.keys:
        bits = section.place(key, key, length)
        if bits is None:
            section.raw(key)
            continue
        value = section.whole(key, 0, 0, (1 << bits.width) - 1)
        for run in reversed(bits.runs):
            part = value & (1 << run.width) - 1
            value >>= run.width
            fixed.put(run.byte, ((1 << run.width) - 1) << run.low, part << run.low, f"[frame.fixed] {key}")
    section.finish()


def _check(section: Section | None, length: int, owners: Owners) -> Check | None:
    if section is None:
        return None
    kind = section.choice("kind", ("sum", "xor", "crc"), "sum")
    if not section.given("kind"):
        section.wrong("kind", "is needed, one of: sum, xor, crc")
    over, at = section.span("over", length), section.span("at", length)
    low_first = section.choice("order", ("high first", "low first"), "high first") == "low first"
    start, complement, crc = 0, "none", None
    if kind == "crc":
        crc = _crc(section)
    else:
        start = section.whole("start", 0, 0, 0xFFFF)
        complement = section.choice("complement", ("none", "ones", "twos"), "none")
    section.finish()
    if over is None or at is None:
        return None
    if over[0] < at[1] and at[0] < over[1]:
        section.wrong("at", "stands within the bytes that it covers")
    width = at[1] - at[0]
    needed = 1 if kind == "xor" else (crc.width + 7) // 8 if crc is not None else width
    if width != needed or width > 8:
        section.wrong("at", f"is {width} bytes long; this check has {min(needed, 8)}")
    owners.claim(((n, b) for n in range(*at) for b in range(8)), "[check] at")
    return Check(kind, over, at, low_first, start, complement, crc)


def _crc(section: Section) -> Crc | None:
    width = section.whole("width", 16, 3, 64)
    most = (1 << width) - 1
    for key in ("width", "poly"):
        if not section.given(key):
            section.wrong(key, "is needed for a crc: the CRC catalogues list it")
    return Crc(
        width=width,
        poly=section.whole("poly", 1, 1, most),
        init=section.whole("init", 0, 0, most),
        refin=section.flag("refin"),
        refout=section.flag("refout"),
        xorout=section.whole("xorout", 0, 0, most),
    )
