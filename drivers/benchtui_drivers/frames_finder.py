"""Frames found in a stream of bytes, cut anyhow; or between silences."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchtui.model.readings import Ints

from .frames_format import Decoded, Format
from .frames_sync import rows_at, without_overlap

MOST_OF_A_BURST = 64
"""Frames; more without any silence are not what was described."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Bytes that are no frame."""

    data: bytes
    after: int
    """How many frames of the same call came before them."""
    near: bytes = b""
    """The frame that begins with them and fits, but is no reading; it may end behind them."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What one call found: readings in order, and the bytes between them."""

    readings: Decoded | None = None
    frames: tuple[bytes, ...] = ()
    """The frames of the readings, where they are asked for."""
    pieces: tuple[Piece, ...] = ()

    @property
    def count(self) -> int:
        """How many readings."""
        return 0 if self.readings is None else len(self.readings.value)

    def first(self) -> Found:
        """Only the first reading, and what came before it."""
        readings = None if self.readings is None else self.readings.take(np.arange(1))
        return Found(readings, self.frames[:1], tuple(p for p in self.pieces if p.after == 0))

    def in_order(self) -> Iterator[tuple[int, Piece | None]]:
        """(frames, the bytes behind them), one after the other."""
        done = 0
        for piece in self.pieces:
            yield piece.after - done, piece
            done = piece.after
        if self.count > done:
            yield self.count - done, None


class Stream:
    """Finds frames wherever everything fits. Holds less than two frames; any cut gives the same."""

    def __init__(self, form: Format, *, weak: bool, keep_frames: bool = False) -> None:
        """`weak`: a frame counts only right behind another that fits. `keep_frames`: gives their bytes."""
        self._form = form
        self._weak = weak
        self._keep = keep_frames
        self._held = b""
        self._tried = 0
        """Up to here, in what is held, every place was tried."""
        self._told = 0
        """Up to here it was told what the bytes are."""

    def restart(self) -> bytes:
        """Forgets everything; gives the bytes that were not told yet."""
        rest, self._held = self._held[self._told :], b""
        self._tried = self._told = 0
        return rest

    wake_ns: int | None = None
    """It never waits."""

    def tick(self, at_ns: int) -> Found:
        """Nothing follows from silence."""
        return Found()

    def feed(self, data: bytes, at_ns: int) -> Found:
        """What these bytes complete."""
        held, length = self._held + data, self._form.length
        raw = np.frombuffer(held, np.uint8)
        starts = self._form.template.starts(raw)
        new = starts[np.searchsorted(starts, self._tried) :]
        found = Found()
        if len(new):
            follows = np.isin(new - length, starts)
            decoded = self._form.decode(rows_at(raw, new, length))
            taken = decoded.good & (new >= self._told)
            if self._weak:
                taken &= follows
            chosen = np.flatnonzero(taken)
            if len(chosen) > 1:
                kept = without_overlap(new[chosen], length)
                chosen = np.searchsorted(new, kept)
            near = new[follows & ~decoded.good]
            found = self._found(held, decoded, chosen, new[chosen], near)
        tried = max(self._tried, len(held) - length + 1)
        if tried > self._told:
            last = found.count
            near = new[follows & ~decoded.good] if len(new) else new
            pieces = self._pieces(held, self._told, tried, last, near)
            found = Found(found.readings, found.frames, found.pieces + pieces)
            self._told = tried
        drop = max(0, tried - length)
        self._held, self._tried, self._told = held[drop:], tried - drop, self._told - drop
        return found

    def _found(self, held: bytes, decoded: Decoded, chosen: Ints, starts: Ints, near: Ints) -> Found:
        """The chosen frames, and what stands before and between them."""
        length = self._form.length
        if not len(chosen):
            return Found()
        ends = np.concatenate([[self._told], starts[:-1] + length])
        pieces: list[Piece] = []
        for n in np.flatnonzero(starts > ends).tolist():
            pieces += self._pieces(held, int(ends[n]), int(starts[n]), n, near)
        self._told = int(starts[-1]) + length
        frames = tuple(held[s : s + length] for s in starts.tolist()) if self._keep else ()
        return Found(decoded.take(chosen), frames, tuple(pieces))

    def _pieces(self, held: bytes, start: int, end: int, after: int, near: Ints) -> tuple[Piece, ...]:
        """These bytes, cut where a frame begins that is near to a reading."""
        cuts = near[np.searchsorted(near, start) : np.searchsorted(near, end)].tolist()
        edges = [start, *(c for c in cuts if c > start), end]
        nears = {c: held[c : c + self._form.length] for c in cuts}
        return tuple(Piece(held[a:b], after, nears.get(a, b"")) for a, b in itertools.pairwise(edges))


class Bursts:
    """Finds frames between silences: one frame or some, and nothing else. Bounded."""

    def __init__(self, form: Format, gap_ns: int, *, keep_frames: bool = False) -> None:
        """A silence of `gap_ns` or more ends a burst."""
        self._form = form
        self._gap_ns = gap_ns
        self._keep = keep_frames
        self._burst = b""
        self._spilt = False
        """Whether the burst that is under way was given up."""
        self._latest_ns = 0
        self.wake_ns: int | None = None
        """When the silence is long enough."""

    def restart(self) -> bytes:
        """Forgets everything; gives the bytes that were not told yet."""
        rest, self._burst = self._burst, b""
        self._spilt, self.wake_ns = False, None
        return rest

    def tick(self, at_ns: int) -> Found:
        """The burst is over, if it is silent for long enough."""
        if self.wake_ns is None or at_ns < self.wake_ns:
            return Found()
        self._spilt = False
        return self._judged(self.restart())

    def feed(self, data: bytes, at_ns: int) -> Found:
        """Bytes; what was before them is judged if they come after a silence."""
        found = self.tick(at_ns)
        if not data:
            return found
        self.wake_ns = at_ns + self._gap_ns
        if not self._spilt:
            self._burst += data
            if len(self._burst) <= MOST_OF_A_BURST * self._form.length:
                return found
            data, self._burst, self._spilt = self._burst, b"", True
        return Found(found.readings, found.frames, (*found.pieces, Piece(data, found.count)))

    def _judged(self, burst: bytes) -> Found:
        length = self._form.length
        if not burst or len(burst) % length:
            return Found(pieces=(Piece(burst, 0),) if burst else ())
        rows = np.frombuffer(burst, np.uint8).reshape(-1, length)
        fits = self._form.template.fits(rows)
        decoded = self._form.decode(rows)
        good = fits & decoded.good
        chosen, bad = np.flatnonzero(good), np.flatnonzero(~good)
        before = np.cumsum(good)
        frames = [burst[n * length : (n + 1) * length] for n in range(len(rows))]
        return Found(
            decoded.take(chosen) if len(chosen) else None,
            tuple(frames[n] for n in chosen.tolist()) if self._keep else (),
            tuple(Piece(frames[n], int(before[n]), frames[n] if fits[n] else b"") for n in bad.tolist()),
        )
