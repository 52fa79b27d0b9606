"""One table of a description of frames: bytes, places, meanings and codes, as people write them."""

from __future__ import annotations

from benchtui.model.notes import plain

from .frames_bits import MOST_BITS, Bits, parse_bits
from .frames_words import NOTHING, Meaning, meaning
from .tables import Table


class Section(Table):
    """A table of a description."""

    def octets(self, key: str) -> bytes:
        """Some bytes: a list of numbers like [0xAA, 0x55], or a text."""
        said = self.raw(key)
        if said is None:
            return b""
        if isinstance(said, str) and said and all(ord(c) < 256 for c in said):
            return said.encode("latin-1")
        whole = isinstance(said, list) and all(type(n) is int and 0 <= n < 256 for n in said)
        if whole and said:
            return bytes(said)
        self.wrong(key, 'write the bytes as a list, like [0xAA, 0x55], or as a text, like "\\r\\n"')
        return b""

    def bits(self, key: str, length: int) -> Bits | None:
        """A place in the frame; None if it is not there or wrong."""
        text = self.text(key)
        return self.place(key, text, length) if text else None

    def place(self, key: str, text: str, length: int, most: int = MOST_BITS) -> Bits | None:
        """The place that this text names; None if it names none."""
        try:
            return parse_bits(text, length, most)
        except ValueError as error:
            self.wrong(key, str(error))
            return None

    def span(self, key: str, length: int) -> tuple[int, int] | None:
        """Whole bytes side by side, like `13-14`: the first, from 0, and one past the last."""
        text = self.text(key)
        if not text:
            self.wrong(key, "is needed: write the bytes, like 1-13")
            return None
        bits = self.place(key, text, length, most=8 * length)
        if bits is None:
            return None
        first = bits.runs[0].byte
        if bits.whole_bytes and [r.byte for r in bits.runs] == list(range(first, first + len(bits.runs))):
            return first, first + len(bits.runs)
        self.wrong(key, "write whole bytes side by side, like 1-13")
        return None

    def meaning(self, key: str, text: object) -> Meaning:
        """What these words mean; nothing, if one of them is not in the closed list."""
        if not isinstance(text, str):
            self.wrong(key, 'write its meaning as a text, like "V" or "hold"')
            return NOTHING
        try:
            return meaning(text)
        except ValueError as error:
            self.wrong(key, plain(str(error), 400))
            return NOTHING

    def code(self, key: str, bits: Bits) -> int | None:
        """The number that a code is written as: `0x3B`, or its characters; None if it is none."""
        try:
            number = int(key, 0) if key[:2].lower() in ("0x", "0b") else _of_characters(key, bits)
        except ValueError:
            number = None
        if number is None:
            example = "“;”" if bits.whole_bytes == 1 else "0b101"
            self.wrong(key, f"is no code for {bits.text}; write a number like 0x3B, or like {example}")
            return None
        if not 0 <= number < 1 << bits.width:
            self.wrong(key, f"does not fit into the {bits.width} bits at {bits.text}")
            return None
        return number


def _of_characters(key: str, bits: Bits) -> int | None:
    if len(key) != bits.whole_bytes or not all(ord(c) < 256 for c in key):
        return None
    return int.from_bytes(key.encode("latin-1"), "big")
