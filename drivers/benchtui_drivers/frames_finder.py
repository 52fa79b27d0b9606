"""Frames found in a stream of bytes, cut anyhow; or between silences."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchtui.model.readings import Ints

from .checksum import Rows
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
    frames: Rows | None = None
    """The frames of the readings."""
    pieces: tuple[Piece, ...] = ()

    @property
    def count(self) -> int:
        """How many readings."""
        return 0 if self.readings is None else len(self.readings.value)

    def first(self) -> Found:
        """Only the first reading, and what came before it."""
        readings = None if self.readings is None else self.readings.take(np.arange(1))
        return Found(readings, pieces=tuple(p for p in self.pieces if p.after == 0))

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

    def __init__(self, form: Format, *, weak: bool) -> None:
        """`weak`: a frame counts only right behind another that fits."""
        self._form = form
        self._weak = weak
        self._held = b""
        self._tried = 0
        """Up to here, in what is held, every place was tried."""
        self._told = 0
        """Up to here it was told what the bytes are."""

        self._behind = False
        """Whether a reading's frame ends there."""

    def restart(self) -> bytes:
        """Forgets everything; gives the bytes that were not told yet."""
        rest, self._held = self._held[self._told :], b""
        self._tried = self._told = 0
        self._behind = False
        return rest

    wake_ns: int | None = None
    """It never waits."""

    def tick(self, at_ns: int) -> Found:
        """Nothing follows from silence."""
        return Found()

    def feed(self, data: bytes, at_ns: int) -> Found:
        """What these bytes complete."""
        self._held += data
        if self._behind and len(self._held) - self._told < self._form.length:
            return Found()  # all that could be complete overlaps what is told
        raw = np.frombuffer(self._held, np.uint8)
        found = self._next_ones(raw) if self._behind else None
        if found is None:
            found = self._searched(raw)
        drop = max(0, self._tried - self._form.length)
        self._held, self._tried, self._told = self._held[drop:], self._tried - drop, self._told - drop
        return found

    def _next_ones(self, raw: NDArray[np.uint8]) -> Found | None:
        """Frame behind frame, as nearly always; None if there is anything else."""
        length = self._form.length
        end = self._told + (len(raw) - self._told) // length * length
        rows = raw[self._told : end].reshape(-1, length)
        if not self._form.template.fit_all(rows):
            return None
        decoded = self._form.decode(rows)
        if not decoded.good.all():
            return None
        self._told, self._tried = end, len(raw) - length + 1
        return Found(decoded, rows)

    def _searched(self, raw: NDArray[np.uint8]) -> Found:
        """Every place is tried."""
        length = self._form.length
        starts, unchecked = self._form.template.starts(raw)
        new = starts[np.searchsorted(starts, self._tried) :]
        found, near = Found(), self._unchecked(starts, unchecked)
        if len(new):
            follows = np.isin(new - length, starts)
            rows = rows_at(raw, new, length)
            decoded = self._form.decode(rows)
            taken = decoded.good & (new >= self._told)
            if self._weak:
                taken &= follows
            chosen = np.flatnonzero(taken)
            chosen = np.searchsorted(new, without_overlap(new[chosen], length))
            near = np.union1d(near, new[follows & ~decoded.good])
            found = Found(decoded.take(chosen), rows[chosen], self._between(new[chosen], near))
            if len(chosen):
                self._told, self._behind = int(new[chosen[-1]]) + length, True
        self._tried = max(self._tried, len(raw) - length + 1)
        if self._tried > self._told:
            rest = self._pieces(self._told, self._tried, found.count, near)
            found = replace(found, pieces=found.pieces + rest)
            self._told, self._behind = self._tried, False
        return found

    def _unchecked(self, starts: Ints, unchecked: Ints) -> Ints:
        """Frames with a wrong check that stand right behind another, and so are no chance."""
        new = unchecked[np.searchsorted(unchecked, self._tried) :]
        behind = new - self._form.length
        return new[np.isin(behind, starts) | np.isin(behind, unchecked)]

    def _between(self, starts: Ints, near: Ints) -> tuple[Piece, ...]:
        """What stands before and between these frames."""
        pieces: tuple[Piece, ...] = ()
        if len(starts):
            ends = np.concatenate([[self._told], starts[:-1] + self._form.length])
            for n in np.flatnonzero(starts > ends).tolist():
                pieces += self._pieces(int(ends[n]), int(starts[n]), n, near)
        return pieces

    def _pieces(self, start: int, end: int, after: int, near: Ints) -> tuple[Piece, ...]:
        """These bytes, cut where a frame begins that is near to a reading."""
        cuts = near[np.searchsorted(near, start) : np.searchsorted(near, end)].tolist()
        edges = [start, *(c for c in cuts if c > start), end]
        nears = {c: self._held[c : c + self._form.length] for c in cuts}
        return tuple(Piece(self._held[a:b], after, nears.get(a, b"")) for a, b in itertools.pairwise(edges))


class Bursts:
    """Finds frames between silences: one frame or some, and nothing else. Bounded."""

    def __init__(self, form: Format, gap_ns: int) -> None:
        """A silence of `gap_ns` or more ends a burst."""
        self._form = form
        self._gap_ns = gap_ns
        self._burst = b""
        self._spilt = False
        """Whether the burst that is under way was given up."""
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
        return replace(found, pieces=(*found.pieces, Piece(data, found.count)))

    def _judged(self, burst: bytes) -> Found:
        length = self._form.length
        if not burst or len(burst) % length:
            return Found(pieces=(Piece(burst, 0),) if burst else ())
        rows = np.frombuffer(burst, np.uint8).reshape(-1, length)
        fits, fixed = self._form.template.fits(rows)
        decoded = self._form.decode(rows)
        good = fits & decoded.good
        chosen, bad = np.flatnonzero(good), np.flatnonzero(~good)
        before = np.cumsum(good)
        frames = [burst[n * length : (n + 1) * length] for n in range(len(rows))]
        return Found(
            decoded.take(chosen),
            rows[chosen],
            tuple(Piece(frames[n], int(before[n]), frames[n] if fixed[n] else b"") for n in bad.tolist()),
        )
