"""Bytes that are no readings: counted, shown, and told as one trouble a stretch, not one a byte."""

from __future__ import annotations

from benchtui.model.notes import Trouble

from .framing import shown

_AT_MOST = 4096
"""Bytes of one trouble: a stretch that is longer is told in parts, however it was cut on the way."""
_PATIENCE_NS = 2_000_000_000
_AGAIN_NS = 10_000_000_000
_WRONG_SPEED = 24
"""So many bytes without one frame that fits, for so long, point to the speed rather than to a spike."""
_SAMPLE = 24
_ONE_IN = 32


class Junk:
    """What came and did not fit, since the last frame that did.

    Each call gives the troubles that are due by it. A stretch is told when a good frame ends it, when it has
    grown to 4096 bytes, or 2 s after it began (10 s, if still nothing has fitted since the last time). Where
    good and bad frames alternate, one trouble covers 32 good ones.
    """

    def __init__(self, frame: str = "line") -> None:
        """`frame` is what this wire calls a frame: line, answer, frame."""
        self.total = 0
        """Bytes since the driver was made."""
        self._frame = frame
        self._count = 0
        self._first = bytearray()
        self._why = ""
        self._good = _ONE_IN
        """Good frames since the last trouble."""
        self._fitted = False
        """Whether a frame has fitted since this stretch began."""
        self._patience_ns = _PATIENCE_NS
        self._wake_ns: int | None = None

    @property
    def wake_ns(self) -> int | None:
        """When `tick` is to be called; None while there is no junk."""
        return self._wake_ns

    def add(self, data: bytes, at_ns: int, why: str = "") -> tuple[Trouble, ...]:
        """More bytes that did not fit; `why`, where that is known: of a stretch the first reason is told."""
        troubles: list[Trouble] = []
        self._why = self._why or why
        self.total += len(data)
        while data:
            if self._wake_ns is None:
                self._wake_ns = at_ns + self._patience_ns
            piece, data = data[: _AT_MOST - self._count], data[_AT_MOST - self._count :]
            self._first += piece[: max(0, _SAMPLE - len(self._first))]
            self._count += len(piece)
            if self._count == _AT_MOST:
                troubles.append(self._told(at_ns, speed=not self._fitted))
                self._patience_ns = _AGAIN_NS
        return tuple(troubles)

    def good(self, at_ns: int, frames: int = 1) -> tuple[Trouble, ...]:
        """So many frames fitted, one after the other."""
        self._patience_ns = _PATIENCE_NS
        before, self._good = self._good, self._good + frames
        if not self._count:
            return ()
        self._fitted = True
        if self._good < _ONE_IN:
            return ()
        told = self._told(at_ns, speed=False)
        self._good = frames - max(1, _ONE_IN - before)
        return (told,)

    def rest(self, at_ns: int) -> tuple[Trouble, ...]:
        """What has not been told yet: the wire is gone."""
        return (self._told(at_ns, speed=False),) if self._count else ()

    def tick(self, at_ns: int) -> tuple[Trouble, ...]:
        """Time has passed."""
        if self._wake_ns is None or at_ns < self._wake_ns:
            return ()
        speed = not self._fitted and self._count >= _WRONG_SPEED
        self._patience_ns = _PATIENCE_NS if self._fitted else _AGAIN_NS
        self._good = 0
        return (self._told(at_ns, speed=speed),)

    def _told(self, at_ns: int, *, speed: bool) -> Trouble:
        count, sample, why = self._count, shown(bytes(self._first)), self._why
        self._count, self._wake_ns = 0, None
        self._fitted, self._why = False, ""
        self._first.clear()
        if why:
            text = f"{count} bytes that are no reading: {why}; they begin “{sample}”"
        elif speed:
            text = f"bytes come, no {self._frame} fits: check the speed; they begin “{sample}”"
        else:
            text = f"{count} byte{'s' if count != 1 else ''} that are no reading, beginning “{sample}”"
        return Trouble(at_ns, "", "garbled", text, count)
