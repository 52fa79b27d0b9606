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

from .frames_bits import Bits, Columns
from .frames_digits import Display
from .frames_format import Format
from .frames_frame import Frame, Owners, read_frame
from .frames_section import Section
from .frames_signs import read_codes, read_flags, read_function, read_point
from .frames_status import MOST_BITS, Codes, Said, Status
from .frames_sync import SURE_BITS, Template, allowed, inner_start, sure_bits
from .frames_value import read_value
from .frames_words import Vocabulary
from .serial_line import read_serial_line

SOURCES = ("from a published data sheet", "from memory", "found by trying")


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


def read_description(given: Mapping[str, Any], measures: Unit) -> Description:
    """The description in these tables; `measures` is the unit where the wire does not tell one.

    Raises:
        DriverError: with every mistake, a line each.
    """
    problems: list[str] = []
    top = Section(given, "", problems, "frames")
    _head(top)
    line, strip = _line(top.inner("line"), problems)
    owners = Owners(problems)
    frame = read_frame(top.inner("frame"), top.inner("check"), owners, problems)
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
    line = read_serial_line(section)
    strip = section.flag("strip_high_bit", line.bits < 8)
    section.finish()
    return line, strip


def _format(top: Section, frame: Frame, owners: Owners, measures: Unit, problems: list[str]) -> Format | None:
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


def _weak(form: Format, frame: Frame, ask: Ask | None, problems: list[str]) -> bool:
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
