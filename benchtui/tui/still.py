"""Digits that do not flicker: a shown level stays until the level has really moved."""

from __future__ import annotations

from benchtui.watch.board import Board, Row

from .format import finite, shown_step

LEAST_MOVE = 0.7
"""Steps of the display by which a level must have moved; half a step would flicker between two numbers."""
LEAST_NS = 500_000_000
"""Nanoseconds between two changes of one number."""


class Still:
    """Levels as they are shown, held between boards; its time is the boards'."""

    def __init__(self) -> None:
        self._held: dict[str, tuple[float, int]] = {}
        self._at_ns = 0

    def levels(self, board: Board) -> dict[str, float]:
        """The level to show of each point that has one. Boards come in order of time; going back forgets."""
        if board.at_ns < self._at_ns:
            self._held.clear()
        self._at_ns = board.at_ns
        out: dict[str, float] = {}
        for row in board.rows:
            level = finite(row.level if row.level is not None else row.value)
            if level is None:
                self._held.pop(row.point, None)
            else:
                out[row.point] = self._held_or(row, level)
        return out

    def _held_or(self, row: Row, level: float) -> float:
        held, since = self._held.get(row.point, (level, -LEAST_NS))
        moved = abs(level - held) >= LEAST_MOVE * shown_step(row, level) * (1 - 1e-9)
        fresh = row.point not in self._held
        if fresh or (moved and self._at_ns - since >= LEAST_NS):
            self._held[row.point] = (level, self._at_ns)
            return level
        return held
