"""A described frame, read strictly from its TOML tables: every mistake at once, in words to act on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from benchtui.driver.contract import LineDefaults
from benchtui.model.errors import DriverError
from benchtui.model.readings import Bools
from benchtui.model.units import Unit

from .checksum import Check, Crc
from .frames_bits import Bits, Columns
from .frames_digits import Display
from .frames_format import Format
from .frames_section import Section
from .frames_status import MOST_BITS, Codes, Said, Status
from .frames_sync import SURE_BITS, Template, allowed, inner_start, sure_bits
from .frames_value import read_codes, read_flags, read_function, read_point, read_value
from .frames_words import Vocabulary

LONGEST = 256
"""Bytes of a frame."""
SOURCES = ("from a published data sheet", "from memory", "found by trying")
_PARITIES = ("none", "even", "odd", "mark", "space")


@dataclass(frozen=True, slots=True)
class Ask:
    """A meter that sends only when it is asked."""

    send: bytes
    every_ns: int
    within_ns: int


@dataclass(frozen=True, slots=True)
class Description:
    """A wire format, ready to be used."""

    form: Format
    line: LineDefaults
    strip_high_bit: bool
    repeats: int
    gap_ns: int
    """0 where silence does not matter."""
    weak: bool
    """Whether a frame by itself is not enough to be sure of one."""
    ask: Ask | None


@dataclass(frozen=True, slots=True)
class _Frame:
    """What `[frame]` and `[check]` say."""

    length: int
    mask: bytes
    want: bytes
    repeats: int
    gap_ns: int
    check: Check | None


def read_description(given: Mapping[str, Any], measures: Unit) -> Description:
    """The description in these tables; `measures` is the unit where the wire does not tell one.

    Raises:
        DriverError: with every mistake, a line each.
    """
    problems: list[str] = []
    top = Section(given, "", problems, "frames")
    _head(top)
    line, strip = _line(top.inner("line"), problems)
    owners = _Owners(problems)
    frame = _frame(top.inner("frame"), top.inner("check"), owners, problems)
    form = _format(top, frame, owners, measures, problems)
    ask = _ask(top.inner("ask"))
    top.finish()
    if ask is not None and frame.repeats > 1:
        problems.append("[ask]: a meter that is asked answers once: leave repeats out")
    weak = _weak(form, frame, ask, problems) if form is not None and not problems else False
    if problems or form is None:
        raise DriverError("\n".join(dict.fromkeys(problems)))
    return Description(form, line, strip, frame.repeats, frame.gap_ns, weak, ask)


def _head(top: Section) -> None:
    """What is there for people."""
    top.text("title")
    top.text("about")
    if top.given("source"):
        top.choice("source", SOURCES, SOURCES[-1])


def _line(section: Section | None, problems: list[str]) -> tuple[LineDefaults, bool]:
    if section is None:
        problems.append("[line]: is needed: baud, and bits, parity, stop where they are not 8, none, 1")
        return LineDefaults(), False
    if not section.given("baud"):
        section.wrong("baud", "is needed, like 2400")
    stop = section.raw("stop")
    if stop not in (None, 1, 1.5, 2) or isinstance(stop, bool):
        section.wrong("stop", "must be 1, 1.5 or 2")
        stop = None
    bits = section.whole("bits", 8, 5, 8)
    line = LineDefaults(
        baud=section.whole("baud", 9600, 50, 4_000_000),
        bits=bits,
        parity=section.choice("parity", _PARITIES, "none"),
        stop=1 if stop is None else stop,
    )
    strip = section.flag("strip_high_bit", bits < 8)
    section.finish()
    return line, strip


class _Owners:
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


def _frame(section: Section | None, check: Section | None, owners: _Owners, problems: list[str]) -> _Frame:
    if section is None:
        problems.append("[frame]: is needed: the length, and how a frame begins or ends")
        return _Frame(LONGEST, b"", b"", 1, 0, None)
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
    return _Frame(
        length, bytes(fixed.mask), bytes(fixed.want), repeats, int(gap * 1e9), _check(check, length, owners)
    )


class _Fixed:
    """The bits that are the same in every frame."""

    def __init__(self, length: int, owners: _Owners) -> None:
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


def _check(section: Section | None, length: int, owners: _Owners) -> Check | None:
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


def _format(
    top: Section, frame: _Frame, owners: _Owners, measures: Unit, problems: list[str]
) -> Format | None:
    length = frame.length
    point, behind = read_point(top.inner("point"), length)
    flags = read_flags(top.inner("flags"), length)
    codes = read_codes(top.each("code"), length)
    function = read_function(top.inner("function"), length)
    named = (("[point]", point), ("[flags]", flags), ("[[code]]", codes), ("[function]", function))
    parts = tuple(part for _, some in named for part in some)
    meanings = [m for part in parts for m in part.meanings]
    marks = ("" if any(m.minus for m in meanings) else "+-") + ("" if top.given("point") else ".")
    value = read_value(top.inner("value"), length, problems, marks)
    for name, some in named:
        for n, part in enumerate(some, 1):
            for bits in part.places:
                owners.claim(bits.places, f"{name} {bits.text}" if name != "[[code]]" else f"[[code]] {n}")
    for n, bits in enumerate(value.display.places if value.display is not None else (), 1):
        owners.claim(bits.places, f"digit {n}")
    width = sum(bits.width for part in parts for bits in part.places)
    if width > MOST_BITS:
        problems.append(f"{width} bits carry flags and codes; at most {MOST_BITS} can")
    if value.display is None:
        return None
    always = Said(value.unit.meaning, -behind)
    vocabulary = Vocabulary.of([*meanings, always.meaning], measures)
    template = Template(frame.mask, frame.want, frame.check)
    return Format(template, value.display, Status(parts, always, vocabulary), value.words)


def _ask(section: Section | None) -> Ask | None:
    if section is None:
        return None
    send = section.octets("send")
    if not section.given("send"):
        section.wrong("send", "is needed: what asks for a reading, like [0x44]")
    every, within = section.seconds("every", 0.5, 0.01), section.seconds("answer_within", 1.0, 0.02, 60.0)
    section.finish()
    return Ask(send, int(every * 1e9), int(within * 1e9))


def _weak(form: Format, frame: _Frame, ask: Ask | None, problems: list[str]) -> bool:
    """Whether a frame alone could be chance. One that could begin anywhere is a mistake."""
    if frame.gap_ns:
        return False
    can = allowed(form.template, _tables(form))
    if not any(frame.mask) and frame.check is None:
        problems.append(
            "[frame]: nothing tells where a frame begins: write index, start, end, fixed, or the gap of "
            "silence between frames"
        )
        return False
    inner = inner_start(can)
    if inner is not None and frame.check is None:
        problems.append(
            f"[frame]: a frame could just as well begin at byte {inner}: describe more of what is fixed "
            "(start, end, fixed), a check, or the gap of silence between frames"
        )
    return ask is None and sure_bits(can, frame.check) < SURE_BITS


def _tables(form: Format) -> Iterable[tuple[int, Bools]]:
    """What single bytes can hold, where a digit or a code stands in one byte."""
    every = np.arange(256, dtype=np.uint8)
    display = form.display
    for digit in display.digits if isinstance(display, Display) else ():
        if len(digit.bits.runs) == 1:
            yield digit.bits.runs[0].byte, digit.table[_alone(digit.bits, every)] > 0
    for part in form.status.parts:
        if isinstance(part, Codes) and len(part.at.runs) == 1:
            yield part.at.runs[0].byte, np.isin(_alone(part.at, every), list(part.codes))


def _alone(bits: Bits, every: Columns) -> Columns:
    run = bits.runs[0]
    alone: Columns = (every >> np.uint8(run.low)) & np.uint8((1 << run.width) - 1)
    return alone
