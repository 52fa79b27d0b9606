"""What bytes of an unknown meter look like: text lines or frames, how long, how often, what stands where.

Guesses, for a person to go on from; the drivers decide what is a reading. Pure: bytes and instants in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from .guess_frames import Column, Framing, columns, find_framing
from .trial import Chunk

_LEAST = 24
"""Bytes; fewer are no ground for a guess."""
_TEXT = frozenset((0x09, *range(0x20, 0x7F), 0x0A, 0x0D))
_MOSTLY = 0.97
_ENOUGH = 6


@dataclass(frozen=True, slots=True)
class Guess:
    """What it looks like."""

    kind: str
    """silence, few, lines, frames, or unclear (nothing repeats: often the wrong speed)."""
    total: int
    """Bytes."""
    seven_bit: str = ""
    """odd, even, mark: the highest bit of each byte is a parity bit of this kind; empty where it is not."""
    ends: str = ""
    """What ends a line: CR, LF, CR LF."""
    lengths: tuple[int, int] = (0, 0)
    """Shortest and longest line or frame, in bytes, with its end."""
    period_s: float | None = None
    """From one line or frame to the next."""
    framing: Framing | None = None
    """Where lines or frames all have one length."""
    columns: tuple[Column, ...] = ()
    """What stands at each place of such a frame."""
    frames: tuple[bytes, ...] = ()
    """As cut, the newest last."""


def guess(chunks: Sequence[Chunk]) -> Guess:
    """What these bytes look like."""
    data = b"".join(c.data for c in chunks)
    if len(data) < _LEAST:
        return Guess("few" if data else "silence", len(data))
    seven = parity_of(data)
    if seven:
        data = bytes(b & 0x7F for b in data)
        chunks = [Chunk(c.at_ns, bytes(b & 0x7F for b in c.data)) for c in chunks]
    by_line = _lines(chunks, data, seven)
    if by_line is not None:
        return by_line
    framing = find_framing([(c.at_ns, c.data) for c in chunks])
    if framing is None:
        return Guess("unclear", len(data), seven)
    frames = framing.cut(data)
    if len(frames) >= _ENOUGH and all(c.fixed == 0 for c in columns(frames)):
        # Bursts in which nothing ever repeats, not even a bit: that is noise, or another speed.
        return Guess("unclear", len(data), period_s=_period(chunks, len(frames)))
    return Guess(
        "frames", len(data), seven,
        lengths=(framing.length, framing.length),
        period_s=_period(chunks, len(frames)),
        framing=framing,
        columns=columns(frames),
        frames=tuple(frames),
    )  # fmt: skip


def parity_of(data: bytes) -> str:
    """Which parity the highest bits are, if they are one: odd, even or mark; empty for none.

    Only where the other seven bits are text: any binary byte could be of either parity.
    """
    if not any(b & 0x80 for b in data):
        return ""
    if sum((b & 0x7F) in _TEXT for b in data) < _MOSTLY * len(data):
        return ""
    ones = Counter(b.bit_count() & 1 for b in data)
    if ones[1] >= _MOSTLY * len(data):
        return "odd"
    if ones[0] >= _MOSTLY * len(data):
        return "even"
    return "mark" if sum(b >> 7 for b in data) >= _MOSTLY * len(data) else ""


def _lines(chunks: Sequence[Chunk], data: bytes, seven: str) -> Guess | None:
    """As text lines; None if it is no text, or never ends a line."""
    if sum(b in _TEXT for b in data) < _MOSTLY * len(data):
        return None
    crlf, cr, lf = data.count(b"\r\n"), data.count(b"\r"), data.count(b"\n")
    end, name = (b"\r\n", "CR LF") if crlf >= 2 else (b"\n", "LF") if lf >= 2 else (b"\r", "CR")
    if max(cr, lf) < 2:
        return None
    # The first piece may be half a line, the last one has not ended.
    whole = [line + end for line in data.split(end)[1:-1] if line.strip()]
    if not whole:
        return None
    sizes = {len(line) for line in whole}
    framing = None
    if len(sizes) == 1 and len(whole) >= 3:
        framing = Framing(len(whole[0]), 0, "end", end=end)
    return Guess(
        "lines", len(data), seven, name, (min(sizes), max(sizes)), _period(chunks, len(whole)),
        framing, columns(whole) if framing is not None else (), tuple(whole),
    )  # fmt: skip


def _period(chunks: Sequence[Chunk], count: int) -> float | None:
    """Seconds from one frame to the next: of the bursts where they are one a frame, else over all."""
    if count < 2:
        return None
    times = [c.at_ns for c in chunks]
    apart = [b - a for a, b in pairwise(times)]
    if apart and abs(len(chunks) - count) <= 2:
        return median(apart) / 1e9
    spread = (times[-1] - times[0]) / 1e9
    return spread / (count - 1) if spread > 0 else None
