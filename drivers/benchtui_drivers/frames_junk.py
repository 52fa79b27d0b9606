"""Bytes that are no frame, told as one trouble a stretch: in hex, and with the reason where one is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from benchtui.driver.framing import shown
from benchtui.driver.junk import Junk
from benchtui.model.notes import Trouble

_SAMPLE = 16
"""Bytes."""


class FrameJunk:
    """`Junk`, for bytes that are no text. A stretch of bytes is told as it stands there."""

    def __init__(self) -> None:
        self._junk = Junk("frame")
        self._count = 0
        self._first = b""
        self._why = ""

    @property
    def wake_ns(self) -> int | None:
        """When `tick` is to be called; None while there is no junk."""
        return self._junk.wake_ns

    def add(self, data: bytes, at_ns: int, why: Callable[[], str] | None = None) -> tuple[Trouble, ...]:
        """More bytes that are no frame. `why`: the reason, where they begin with something near to one."""
        if why is not None and not self._why:
            self._why = why()
        troubles: list[Trouble] = []
        for told in self._junk.add(data, at_ns):
            part = told.count - self._count
            self._first += data[: min(part, _SAMPLE - len(self._first))]
            data = data[part:]
            troubles.append(self._told(told))
        self._first += data[: _SAMPLE - len(self._first)]
        self._count += len(data)
        return tuple(troubles)

    def good(self, at_ns: int, frames: int) -> tuple[Trouble, ...]:
        """So many frames fitted, one after the other."""
        return tuple(self._told(t) for t in self._junk.good(at_ns, frames))

    def rest(self, at_ns: int) -> tuple[Trouble, ...]:
        """What has not been told yet: the wire is gone."""
        return tuple(self._told(t) for t in self._junk.rest(at_ns))

    def tick(self, at_ns: int) -> tuple[Trouble, ...]:
        """Time has passed."""
        return tuple(self._told(t) for t in self._junk.tick(at_ns))

    def _told(self, trouble: Trouble) -> Trouble:
        head = trouble.text.partition("“")[0]
        if self._why:
            head = f"{trouble.count} bytes that are no reading: {self._why}; they begin "
        text = head + as_bytes(self._first)
        self._count, self._first, self._why = 0, b"", ""
        return replace(trouble, text=text)


def as_bytes(data: bytes) -> str:
    """Bytes for a person: hex, and as text beside it where they are."""
    hexed = data.hex(" ").upper()
    body = data.rstrip(b"\r\n")
    printable = bool(body) and all(0x20 <= b < 0x7F for b in body)
    return f"{hexed} (“{shown(body)}”)" if printable else hexed
