"""Which points are drawn large, held from board to board: a lead that moves shifts no other number."""

from __future__ import annotations

from benchtui.watch.board import Board, Row

from .draw.glance import large

MOST = 5
"""Large points on the widest screen."""


class Places:
    """The large points in their order, with the channel that reads each."""

    def __init__(self) -> None:
        self._held: list[tuple[str, int | None]] = []

    def of(self, board: Board) -> tuple[str, ...]:
        """The points to be drawn large, the first in the first place; what the board wishes comes first.

        A place goes with the lead of its meter. One that never had a meter is given to a point that has one.
        """
        if board.large:
            self._held = []
            return board.large
        rows = {r.point: r for r in board.rows}
        if not any(r.meter is not None for r in board.rows):
            return tuple(name for name, _ in self._held)
        chosen, rest = large(board, MOST)
        kept = [(name, channel) for name, channel in self._held if name in rows]
        spare = [r for r in (*chosen, *rest) if r.point not in {name for name, _ in kept}]
        for place in range(len(kept)):
            name, channel = kept[place]
            row = rows[name]
            if row.meter is not None or row.seen:
                kept[place] = (name, row.channel)
                continue
            later = [rows[other] for other, _ in kept[place + 1 :]]
            heir = _heir(board, [*later, *spare], name, channel)
            if heir in later:
                other = place + 1 + later.index(heir)
                kept[place], kept[other] = (heir.point, heir.channel), (name, None)
            elif heir is not None:
                spare.remove(heir)
                kept[place] = (heir.point, heir.channel)
        kept += [(r.point, r.channel) for r in spare[: MOST - len(kept)]]
        self._held = kept
        return tuple(name for name, _ in kept)


def _heir(board: Board, spare: list[Row], name: str, channel: int | None) -> Row | None:
    """Who takes the place of a point that no meter is on: where its lead went, or the first with a meter.

    A point that must be treated as live after power-off keeps its place, and says so there.
    """
    hazard = board.hazard
    if hazard.phase in ("off", "below") and name in hazard.not_measured:
        return None
    if channel is not None:
        return next((r for r in spare if r.channel == channel and not r.seen), None)
    return next((r for r in spare if r.meter is not None and r.unit.is_voltage), None)
