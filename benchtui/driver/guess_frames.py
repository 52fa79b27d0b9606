"""Where frames begin in a stream of bytes, and what stands at each place of them: fixed or changing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

_LONGEST = 64
_BURST_NS = 20_000_000
"""Silence longer than this ends a burst; cheap adapters stamp up to 16 ms late."""
_MOSTLY = 0.9
_LEAST_FRAMES = 3


@dataclass(frozen=True, slots=True)
class Framing:
    """How the stream is cut."""

    length: int
    offset: int
    """Bytes before the first whole frame."""
    how: str
    """index (a counting half of each byte), silence, end (of a line), or repeat (the same bytes again)."""
    half: str = ""
    """high or low: where the index stands."""
    first: int = 0
    """The number of the first byte, where there is an index."""
    gap_s: float = 0.0
    """The shortest silence between two frames, where that is how they are told apart."""
    end: bytes = b""
    """What ends every frame, where that is how they are told apart."""

    def cut(self, data: bytes) -> list[bytes]:
        """The whole frames in these bytes, as far as they keep in step."""
        last = len(data) - self.length + 1
        return [data[i : i + self.length] for i in range(self.offset, last, self.length)]


@dataclass(frozen=True, slots=True)
class Column:
    """What stands at one place of every frame."""

    fixed: int
    """The bits that never changed."""
    value: int
    """Their value."""
    seen: tuple[int, ...]
    """Every byte that was seen there, rising."""

    @property
    def is_fixed(self) -> bool:
        """Whether it was always the same byte."""
        return len(self.seen) == 1

    @property
    def is_digit(self) -> bool:
        """Whether it was always an ASCII digit."""
        return all(0x30 <= b <= 0x39 for b in self.seen)


def columns(frames: Sequence[bytes]) -> tuple[Column, ...]:
    """Place by place, over frames of one length."""
    found = []
    for place in zip(*frames, strict=True):
        changed = 0
        for byte in place:
            changed |= byte ^ place[0]
        fixed = ~changed & 0xFF
        found.append(Column(fixed, place[0] & fixed, tuple(sorted(set(place)))))
    return tuple(found)


def find_framing(chunks: Sequence[tuple[int, bytes]]) -> Framing | None:
    """The surest way to cut these (when, bytes) into frames of one length; None if there is none."""
    data = b"".join(piece for _, piece in chunks)
    if (by_index := _by_index(data)) is not None:
        return by_index
    by_silence, by_repeat = _by_silence(chunks), _by_repeat(data)
    if by_silence is None or by_repeat is None:
        return by_silence or by_repeat
    # An adapter or a system may cut a steady stream into bursts of its own making: the bytes know better.
    better = _alike(data, by_repeat.length) > _alike(data, by_silence.length) + 0.1
    return by_repeat if better else by_silence


def _by_index(data: bytes) -> Framing | None:
    """Half of each byte counts up by one, and begins again."""
    for half, shift in (("high", 4), ("low", 0)):
        numbers = [b >> shift & 0xF for b in data]
        first, last = min(numbers), max(numbers)
        length = last - first + 1
        if length < 4 or len(data) < _LEAST_FRAMES * length:
            continue
        steps = sum((b - a) % length == 1 for a, b in pairwise(numbers))
        wraps = numbers.count(last)
        if steps >= _MOSTLY * (len(data) - 1) and wraps >= _LEAST_FRAMES - 1:
            return Framing(length, numbers.index(first), "index", half, first)
    return None


def _by_silence(chunks: Sequence[tuple[int, bytes]]) -> Framing | None:
    """Bursts of one length with silence between them."""
    bursts: list[bytes] = []
    gaps: list[int] = []
    before = None
    for at, piece in chunks:
        if before is None or at - before > _BURST_NS:
            if before is not None:
                gaps.append(at - before)
            bursts.append(b"")
        bursts[-1] += piece
        before = at
    if len(bursts) < _LEAST_FRAMES + 1:
        return None
    whole = Counter(len(b) for b in bursts[1:])
    length, times = whole.most_common(1)[0]
    if times < _MOSTLY * (len(bursts) - 2) or not 2 <= length <= 256:
        return None
    return Framing(length, len(bursts[0]) % length, "silence", gap_s=min(gaps) / 1e9)


def _by_repeat(data: bytes) -> Framing | None:
    """The same bytes at one distance, again and again."""
    most = min(_LONGEST, len(data) // _LEAST_FRAMES)
    chance = sum((n / len(data)) ** 2 for n in Counter(data).values())
    scores = {}
    for length in range(2, most + 1):
        scores[length] = _alike(data, length)
    if not scores:
        return None
    best = max(scores.values())
    if best < max(0.3, chance + 0.15):
        return None
    # A multiple of the length repeats as well: the shortest that is nearly as good.
    length = min(n for n, score in scores.items() if score >= best - 0.05)
    return Framing(length, _phase(data, length), "repeat")


def _alike(data: bytes, length: int) -> float:
    return sum(a == b for a, b in zip(data, data[length:], strict=False)) / (len(data) - length)


def _phase(data: bytes, length: int) -> int:
    """Where frames begin: behind CR LF or CR if each holds one, else at the longest stretch that is fixed."""
    at = columns([data[i : i + length] for i in range(0, len(data) - length + 1, length)])
    fixed = [c.value if c.is_fixed else None for c in at]
    for ending in ((0x0D, 0x0A), (0x0D,), (0x0A,), (0x03,)):
        for n in range(length):
            if all(fixed[(n + k) % length] == byte for k, byte in enumerate(ending)):
                return (n + len(ending)) % length
    starts = [n for n in range(length) if fixed[n] is not None and fixed[n - 1] is None]
    return max(starts, key=lambda n: _run(fixed, n), default=0)


def _run(fixed: Sequence[int | None], start: int) -> int:
    """How many bytes stand fixed from here on."""
    turned = [*fixed[start:], *fixed[:start]]
    return turned.index(None) if None in turned else len(turned)
