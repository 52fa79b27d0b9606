"""What stands on the timeline beside readings: marks, leads and wire trouble."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

MARK_KINDS = ("tap", "adjust", "heat", "cool", "swap", "reseat", "on", "off", "condition", "note")


@dataclass(frozen=True, slots=True)
class Mark:
    """What the technician did, and when."""

    t_ns: int
    kind: str
    """One of MARK_KINDS."""
    note: str = ""
    what: str = ""
    """The part or place it was done to, where told."""


@dataclass(frozen=True, slots=True)
class Lead:
    """From this moment this channel's lead is on this point (None: on nothing)."""

    t_ns: int
    channel: int
    point: str | None


TROUBLE_KINDS = ("garbled", "lost", "back", "driver")


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something about the wire: bytes that are no readings, a port gone or back, a driver that failed."""

    t_ns: int
    meter: str
    kind: str
    """One of TROUBLE_KINDS."""
    text: str = ""
    """Plain words for a person; no control characters."""
    count: int = 1
    """Bytes thrown away, or times it happened."""


Note: TypeAlias = Mark | Lead | Trouble
"""Notes sort by time, before readings of the same time; notes of equal time stay in the order given."""


def plain(text: str, most: int = 400) -> str:
    """The text without anything that a terminal would act on, at most `most` characters.

    Control characters (C0, C1, DEL), bidirectional controls and other invisible formatting become one
    U+00B7 each.
    """
    if len(text) <= most and text.isascii() and text.isprintable():
        return text
    shown = text[: most + 1]
    clean = "".join(c if _harmless(c) else "\u00b7" for c in shown)
    return clean if len(clean) <= most else clean[: most - 1] + "\u2026"


_HIDDEN = frozenset((0x061C, 0x200E, 0x200F, 0x2028, 0x2029, 0xFEFF, 0x00AD))
_HIDDEN_RANGES = (
    (0, 0x1F),
    (0x7F, 0x9F),
    (0x200B, 0x200D),
    (0x202A, 0x202E),
    (0x2060, 0x206F),
    (0xD800, 0xDFFF),
)


def _harmless(c: str) -> bool:
    n = ord(c)
    return n not in _HIDDEN and not any(low <= n <= high for low, high in _HIDDEN_RANGES)
