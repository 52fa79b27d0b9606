"""Arrows that point where a value goes: a row that says `rising` while its level falls is drawn falling."""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from benchtui.watch.board import Board, Row

from .format import finite

BACK_NS = 3_000_000_000
"""How far back a level is compared."""
EVERY_NS = 250_000_000
LEAST_PART = 0.002
"""Part of the level by which it must have moved to have moved at all."""


class Trend:
    """The last levels of each point, in the time of the boards."""

    def __init__(self) -> None:
        self._past: dict[str, deque[tuple[int, float]]] = {}
        self._at_ns = 0

    def turned(self, board: Board) -> Board:
        """The board, its arrows turned where the recent course goes the other way."""
        if board.at_ns < self._at_ns:
            self._past.clear()
        self._at_ns = board.at_ns
        rows = tuple(self._row(r) for r in board.rows)
        same = all(a is b for a, b in zip(rows, board.rows, strict=True))
        return board if same else replace(board, rows=rows)

    def _row(self, row: Row) -> Row:
        level = finite(row.level if row.level is not None else row.value)
        if row.sign not in ("^", "v") or level is None or row.meter is None:
            self._past.pop(row.point, None)
            return row
        past = self._past.setdefault(row.point, deque(maxlen=64))
        if not past or self._at_ns - past[-1][0] >= EVERY_NS:
            past.append((self._at_ns, level))
        while len(past) > 1 and self._at_ns - past[1][0] >= BACK_NS:
            past.popleft()
        moved = abs(level) - abs(past[0][1])
        least = max(LEAST_PART * abs(level), 3 * row.noise, 2 * row.step)
        if row.sign == "^" and moved < -least:
            return replace(row, sign="v", word="falling" if row.word == "rising" else row.word)
        if row.sign == "v" and moved > least:
            return replace(row, sign="^", word="rising" if row.word == "falling" else row.word)
        return row
