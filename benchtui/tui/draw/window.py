"""The stretch of time that a strip chart shows."""

from __future__ import annotations

from dataclasses import dataclass

from benchtui.watch.board import Board, Row

from .glance import NS, run_starts

LEAST_NS = 60_000_000_000
"""The shortest stretch that is chosen without being asked for."""
_SPANS_S = (60, 90, 120, 180, 240, 300, 450, 600, 900, 1200, 1800, 2700, 3600)
_TICKS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)
TICK_COLUMNS = 16
"""Columns between two times on the axis, at least."""
SHORTEST_NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Window:
    """From `start_ns` to `end_ns`, and the instant that its clock counts from."""

    start_ns: int
    end_ns: int
    origin_ns: int

    def column(self, t_ns: int, columns: int) -> float:
        """Where an instant stands among so many columns; below 0 or beyond them if it is outside."""
        return (t_ns - self.start_ns) / max(self.end_ns - self.start_ns, 1) * columns


@dataclass(frozen=True, slots=True)
class Stretch:
    """What a person chose to see: `span_ns` None is the whole run, `end_ns` None follows the present."""

    span_ns: int | None = None
    end_ns: int | None = None

    def zoomed(self, board: Board, factor: float) -> Stretch:
        """A stretch longer by `factor`, with the same end; the whole session is the longest."""
        now = window(board, None, self)
        span = int((now.end_ns - now.start_ns) * factor)
        return Stretch(min(max(span, SHORTEST_NS), max(board.at_ns, LEAST_NS)), self.end_ns)

    def shifted(self, board: Board, part: float) -> Stretch:
        """Moved by a part of its length; moved up to the present, it follows it again."""
        now = window(board, None, self)
        span = now.end_ns - now.start_ns
        end = now.end_ns + int(part * span)
        if end >= board.at_ns:
            return Stretch(self.span_ns, None)
        return Stretch(span, max(end, min(span, board.at_ns)))

    def at(self, board: Board, t_ns: int) -> Stretch:
        """Moved so that an instant is in view, a third from the right."""
        now = window(board, None, self)
        if now.start_ns <= t_ns <= now.end_ns:
            return self
        span = now.end_ns - now.start_ns
        end = t_ns + span // 3
        return Stretch(span, None) if end >= board.at_ns else Stretch(span, max(end, span))


def window(board: Board, row: Row | None = None, chosen: Stretch | None = None) -> Window:
    """The run so far, at least a minute of it, and on to where a predicted level will be reached."""
    chosen = chosen or Stretch()
    starts = run_starts(board)
    begun = starts[-1] if starts else max(board.at_ns - LEAST_NS, 0)
    if chosen.span_ns is None and chosen.end_ns is None:
        foreseen = row.predicted.at_s * 1.02 * NS if row is not None and row.predicted is not None else 0.0
        passed = (board.at_ns - begun) / NS
        ahead = (foreseen - begun) / NS if foreseen > board.at_ns else 0.0
        span_s = passed
        if ahead or passed < _SPANS_S[0]:
            span_s = next((s for s in _SPANS_S if s >= max(ahead, passed)), max(ahead, passed))
        return Window(begun, begun + int(span_s * NS), begun)
    end = board.at_ns if chosen.end_ns is None else chosen.end_ns
    span = chosen.span_ns if chosen.span_ns is not None else max(board.at_ns - begun, LEAST_NS)
    start = max(end - span, 0)
    origin = max((s for s in starts if s <= end), default=0)
    return Window(start, start + span, origin)


def ticks(shown: Window, columns: int) -> list[tuple[int, float]]:
    """(column, seconds since the window's origin) of the times to be written on the axis."""
    span_s = (shown.end_ns - shown.start_ns) / NS
    step = next((t for t in _TICKS_S if t / span_s * columns >= TICK_COLUMNS), _TICKS_S[-1])
    first = (shown.start_ns - shown.origin_ns) / NS
    k = int(first // step) + 1
    out = []
    while k * step < first + span_s:
        if k != 0:
            at = shown.column(shown.origin_ns + int(k * step * NS), columns)
            out.append((int(at + 1e-6), float(k * step)))
        k += 1
    return out
