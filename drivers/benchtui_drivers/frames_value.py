"""The part of a description that says where the value stands: digits, words, decimal point, unit, flags."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from benchtui.model.notes import plain
from benchtui.model.readings import Flag

from .frames_bits import Bits
from .frames_digits import MOST_DIGITS, Digit, Display, Whole, table
from .frames_section import Section
from .frames_status import Said
from .segments import NUMBER, SHAPES, as_shown, patterns

KINDS = ("segments", "bcd", "ascii", "binary")
_SEGMENTS = tuple("abcdefg")
_MEANINGS = {"overload": Flag.OVERLOAD, "invalid": Flag.INVALID}


@dataclass(frozen=True, slots=True)
class Value:
    """What `[value]` says."""

    display: Display | Whole | None
    """None where a mistake was made."""
    words: Mapping[bytes, int]
    unit: Said
    """What every frame says, where the unit is fixed."""


def read_value(section: Section | None, length: int, problems: list[str], marks: str) -> Value:
    """The value. `marks`: which of `+-.` its digits can hold: those that are not described by themselves."""
    if section is None:
        problems.append("[value]: is needed: it says where the digits stand")
        return Value(None, {}, Said())
    kind = section.text("kind")
    if kind not in KINDS:
        section.wrong("kind", f"is needed, one of: {', '.join(KINDS)}")
        return Value(None, {}, Said())
    words = _words(section, kind)
    display: Display | Whole | None
    if kind == "binary":
        display = _whole(section, length)
    else:
        places = _digits(section, length)
        character = {"segments": _segments, "bcd": _bcd}.get(kind, _ascii)
        display = _display(section, places, character(section, words, marks))
    unit = Said(section.meaning("unit", section.text("unit"))) if section.given("unit") else Said()
    section.finish()
    return Value(display, {word.encode("latin-1"): flag for word, flag in words.items()}, unit)


def _words(section: Section, kind: str) -> dict[str, int]:
    """What the display shows when it shows no number, without blanks around it, without points -> flags."""
    words: dict[str, int] = {}
    for shown, meant in section.table("shows").items():
        word = as_shown(shown) if kind == "segments" else shown
        word = word.replace(".", "").strip()
        if meant not in _MEANINGS:
            section.wrong("shows", f"“{plain(meant, 40)}” is none of: {', '.join(_MEANINGS)}")
        elif not word or word.isdigit() or not all(0x20 <= ord(c) < 0x7F for c in word):
            section.wrong(
                "shows", f"“{plain(shown, 40)}” is no word; write what the display shows, like “0L”"
            )
        else:
            words[word] = int(_MEANINGS[meant])
    return words


def _digits(section: Section, length: int) -> list[Bits]:
    texts = section.texts("digits")
    if not texts:
        section.wrong(
            "digits", 'is needed: the place of each digit, from left to right, like ["2", "3", "4"]'
        )
    places = [p for t in texts if (p := section.place("digits", t, length)) is not None]
    if len(places) > MOST_DIGITS:
        section.wrong("digits", f"are {len(places)}; at most {MOST_DIGITS}")
    for place in places:
        if place.width > 8:
            section.wrong(
                "digits", f"“{plain(place.text, 40)}” has {place.width} bits; a digit has at most 8"
            )
    return [p for p in places if p.width <= 8]


def _display(
    section: Section, places: list[Bits], characters: Callable[[Bits], Mapping[int, str]]
) -> Display | None:
    more = _patterns(section)
    digits = [Digit(bits, table(bits, {**characters(bits), **more})) for bits in places]
    return Display(tuple(digits)) if digits else None


def _patterns(section: Section) -> dict[int, str]:
    """Further values of a digit -> the character that they show."""
    found: dict[int, str] = {}
    for value, character in section.table("patterns").items():
        try:
            number = int(value, 0)
        except ValueError:
            number = -1
        if not 0 <= number < 256:
            section.wrong(
                "patterns", f"“{plain(value, 20)}” is no value of a digit; write a number like 0x7D"
            )
        elif len(character) != 1 or not 0x20 <= ord(character) < 0x7F:
            section.wrong("patterns", f"“{plain(character, 20)}” must be one character")
        else:
            found[number] = character
    return found


def _segments(section: Section, words: Mapping[str, int], marks: str) -> Callable[[Bits], Mapping[int, str]]:
    order = section.text("segments").split()
    if not order or len(set(order)) < len(order) or not set(order) <= set(_SEGMENTS):
        section.wrong("segments", "name the segments of a digit, the highest bit first, like “e f a d c g b”")
        order = list(_SEGMENTS)
    more = section.table("shapes")
    for shape, character in more.items():
        if not set(shape) <= set(_SEGMENTS) or len(character) != 1 or not 0x20 <= ord(character) < 0x7F:
            section.wrong("shapes", 'write segments and the character they show, like { "abcfg" = "9" }')
            more = {}
            break
    known = {*SHAPES, *more.values(), *section.table("patterns").values()}
    for strange in sorted({c for word in words for c in word} - known):
        section.wrong("shows", f"seven segments have no usual shape for “{strange}”; give it one in shapes")
    characters = "".join(c for c in NUMBER if c.isdigit() or c == " " or c in marks) + "".join(words)

    def of(bits: Bits) -> Mapping[int, str]:
        if bits.width != len(order):
            section.wrong(
                "digits", f"“{plain(bits.text, 40)}” has {bits.width} bits for {len(order)} segments"
            )
            return {}
        return patterns(characters, order, more)

    return of


def _bcd(section: Section, words: Mapping[str, int], marks: str) -> Callable[[Bits], Mapping[int, str]]:
    return lambda bits: {n: str(n) for n in range(10)}


def _ascii(section: Section, words: Mapping[str, int], marks: str) -> Callable[[Bits], Mapping[int, str]]:
    characters = "0123456789 " + marks + "".join(words)

    def of(bits: Bits) -> Mapping[int, str]:
        if bits.width not in (7, 8):
            section.wrong("digits", f"“{plain(bits.text, 40)}” is no whole byte, so no character of a text")
        return {ord(c): c for c in characters}

    return of


def _whole(section: Section, length: int) -> Whole | None:
    signed = section.flag("signed")
    bits = section.bits("number", length)
    if bits is None and not section.given("number"):
        section.wrong("number", "is needed: the place of the number, its highest byte first, like “3 4”")
    return None if bits is None else Whole(bits, signed)
