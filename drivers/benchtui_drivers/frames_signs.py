"""The parts of a description that say what stands beside the digits: point, flags, codes, function."""

from __future__ import annotations

from benchtui.model.notes import plain

from .frames_bits import Bits
from .frames_digits import MOST_DIGITS
from .frames_section import Section
from .frames_status import Codes, Lit, Part, PointBits, Said
from .frames_words import NOTHING, count


def read_point(section: Section | None, length: int) -> tuple[tuple[Part, ...], int]:
    """What `[point]` says: parts that say where the point is, and the digits behind one that is fixed."""
    if section is None:
        return (), 0
    parts: list[Part] = []
    behind = section.whole("behind", 0, 0, MOST_DIGITS) if section.given("behind") else None
    lit = section.inner("bits")
    if lit is not None and (bits := _point_bits(lit, length)):
        parts.append(PointBits(tuple(bits)))
    at = section.bits("at", length)
    codes = section.inner("codes")
    if at is not None and codes is not None:
        parts.append(Codes(at, {c: (Said(power=-n),) for c, n in _point_codes(codes, at)}))
    elif (at is None) != (codes is None) and not (section.given("at") and at is None):
        section.wrong("", "at and codes belong together")
    if len(parts) + (behind is not None) != 1:
        section.wrong("", "write one of: behind; bits; at with codes")
    section.finish()
    return tuple(parts), behind or 0


def _behind(section: Section, key: str) -> int:
    return section.whole(key, 0, 0, MOST_DIGITS)


def _point_bits(section: Section, length: int) -> list[tuple[Bits, int]]:
    found = []
    for key in section.keys:
        behind, bit = _behind(section, key), section.place(key, key, length)
        if bit is not None and bit.width != 1:
            section.wrong(key, "must be one bit, like 4.3")
        elif bit is not None:
            found.append((bit, behind))
    section.finish()
    return found


def _point_codes(section: Section, at: Bits) -> list[tuple[int, int]]:
    found = []
    for key in section.keys:
        behind, code = _behind(section, key), section.code(key, at)
        if code is not None:
            found.append((code, behind))
    section.finish()
    return found


def read_flags(section: Section | None, length: int) -> tuple[Part, ...]:
    """What `[flags]` says: bits that mean something when they are 1."""
    parts: list[Part] = []
    for key in section.keys if section is not None else ():
        assert section is not None
        meant = section.meaning(key, section.raw(key))
        bit = section.place(key, key, length)
        if bit is not None and bit.width != 1:
            section.wrong(key, "must be one bit, like 4.3")
        elif bit is not None and meant != NOTHING:
            parts.append(Lit(bit, meant))
    return tuple(parts)


def read_codes(sections: list[Section], length: int) -> tuple[Part, ...]:
    """What each `[[code]]` says: a place, and what each of its values means."""
    parts: list[Part] = []
    for section in sections:
        at, means = section.bits("at", length), section.inner("means")
        if at is None or means is None:
            if not section.given("at") or means is None:
                section.wrong("", "at and means are needed")
        else:
            codes = {}
            for key in means.keys:
                meant, code = means.meaning(key, means.raw(key)), means.code(key, at)
                if code is not None:
                    codes[code] = (Said(meant),)
            means.finish()
            parts.append(Codes(at, codes))
        section.finish()
    return tuple(parts)


def read_function(section: Section | None, length: int) -> tuple[Part, ...]:
    """What `[function]` says: a code, and what one count is on each range."""
    if section is None:
        return ()
    at, ranges, codes = section.bits("at", length), section.bits("range", length), section.inner("counts")
    if at is None or codes is None:
        if not section.given("at") or codes is None:
            section.wrong("", "at and counts are needed")
        section.finish()
        return ()
    found: dict[int, tuple[Said | None, ...]] = {}
    for key in codes.keys:
        said, code = codes.raw(key), codes.code(key, at)
        texts = [said] if isinstance(said, str) else said
        if not isinstance(texts, list) or not texts or not all(isinstance(t, str) for t in texts):
            codes.wrong(key, 'write one count for each range, like ["0.1 mV", "1 mV", "10 mV"]')
        elif len(texts) > 1 and ranges is None:
            codes.wrong(key, "has several counts, and no range is described to choose by")
        elif code is not None:
            found[code] = tuple(_count(codes, key, t) for t in texts)
    codes.finish()
    section.finish()
    return (Codes(at, found, ranges),)


def _count(section: Section, key: str, text: str) -> Said | None:
    if not text.strip():
        return None
    try:
        power, meant = count(text)
    except ValueError as error:
        section.wrong(key, plain(str(error), 400))
        return None
    return Said(meant, power)
