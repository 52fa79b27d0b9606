"""Bytes into lines, in bounded memory, with what was thrown away counted."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.model.notes import plain

LONGEST = 256
"""Bytes; no meter's line is longer."""

_TEXT = bytes((0x09, *range(0x20, 0x7F))) + "°µΩμΩ".encode() + b"\xb0\xb5"


def shown(data: bytes) -> str:
    """Bytes of a wire as text: UTF-8 where they are, else Latin-1; nothing that a terminal would act on."""
    return plain(text_of(data))


def text_of(data: bytes) -> str:
    """UTF-8 where it is valid, else Latin-1. Not yet plain: for matching, never for showing."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def looks_like_text(data: bytes) -> bool:
    """Whether these could be part of a line of a meter: printable ASCII and the signs of units."""
    return not data.translate(None, _TEXT)


@dataclass(frozen=True, slots=True)
class Lines:
    """What one piece of bytes completed, in the order `before`, `block`, `after`."""

    before: bytes
    """Thrown away: the rest of a line that was joined in its middle, or that grew too long."""
    joined: bool
    """Whether `before` is (a part of) the line that was joined in its middle."""
    ended: bool
    """Whether the line that `before` is of ended here."""
    block: bytes
    """Complete lines, joined by LF, each without its own end. Empty lines among them mean nothing."""
    after: bytes
    """Thrown away: the beginning of a line that has grown too long and has not ended yet."""

    def lines(self) -> list[bytes]:
        """The complete lines that are not empty."""
        return [line for line in self.block.split(b"\n") if line]


class LineFramer:
    """Cuts a stream into lines. Holds at most one line; any cut of the same bytes gives the same lines."""

    def __init__(
        self,
        ends: str = "any",
        *,
        longest: int = LONGEST,
        synchronised: bool = False,
        strip_high_bit: bool = False,
    ) -> None:
        """`ends`: `cr`, `lf`, or `any` for either or both. Not `synchronised`: the first piece of a line is
        thrown away, for nobody knows how much of it is missing."""
        self._longest = longest
        self._both = ends == "any"
        self._table = _table(ends, strip_high_bit)
        self._tail = b""
        self._dropping = False
        self._joining = False
        self.restart(synchronised=synchronised)

    def restart(self, *, synchronised: bool = False) -> bytes:
        """Forgets a line not yet ended; gives what was forgotten."""
        tail, self._tail = self._tail, b""
        self._dropping = self._joining = not synchronised
        return tail

    def feed(self, data: bytes) -> Lines:
        """The lines that these bytes complete."""
        if self._table is not None:
            data = data.translate(self._table)
        if self._both:
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        before, joined, ended = b"", self._joining, self._dropping
        if self._dropping:
            end = data.find(b"\n")
            if end < 0:
                return Lines(data, joined, False, b"", b"")
            before, data = data[:end], data[end + 1 :]
            self._dropping = self._joining = False
        if self._tail:
            data = self._tail + data
        end = data.rfind(b"\n")
        block, tail, after = data[: max(end, 0)], data[end + 1 :], b""
        if len(tail) > self._longest:
            tail, after, self._dropping = b"", tail, True
        self._tail = tail
        return Lines(before, joined, ended, block, after)


def _table(ends: str, strip_high_bit: bool) -> bytes | None:
    """Which byte becomes which before lines are cut; None where none changes."""
    to = [n & 0x7F if strip_high_bit else n for n in range(256)]
    swap = {"cr": {0x0D: 0x0A, 0x0A: 0x20}, "lf": {0x0D: 0x20}, "any": {}}[ends]
    table = bytes(swap.get(n, n) for n in to)
    return None if table == bytes(range(256)) else table
