"""Digits that hold still."""

from __future__ import annotations

from dataclasses import replace

from benchtui.tui.still import Still
from benchtui.watch.board import Board

from .scenes import S, row


def _shown(still: Still, values: list[tuple[float, float]]) -> list[float | None]:
    boards = [Board(at_ns=int(t * S), rows=(row("B+1", v),)) for t, v in values]
    return [still.levels(b).get("B+1") for b in boards]


def test_a_level_between_two_numbers_does_not_flicker() -> None:
    """Half a step to and fro changes nothing; 0.7 of a step does."""
    values = [(0.0, 284.0), (1.0, 284.5), (2.0, 283.6), (3.0, 284.7)]
    assert _shown(Still(), values) == [284.0, 284.0, 284.0, 284.7]


def test_a_number_changes_at_most_twice_a_second() -> None:
    """A second change within half a second waits."""
    values = [(0.0, 284.0), (0.6, 290.0), (0.9, 300.0), (1.1, 310.0)]
    assert _shown(Still(), values) == [284.0, 290.0, 290.0, 310.0]


def test_a_reading_that_is_gone_is_forgotten() -> None:
    """After a gap the first level is shown at once."""
    still = Still()
    _shown(still, [(0.0, 284.0)])
    assert still.levels(Board(at_ns=S // 10, rows=(row("B+1", None),))) == {}
    assert _shown(still, [(0.2, 284.3)]) == [284.3]


def test_time_that_goes_back_starts_afresh() -> None:
    """A replay that begins again shows its own first level."""
    still = Still()
    _shown(still, [(9.0, 284.0)])
    assert _shown(still, [(0.0, 284.2)]) == [284.2]


def test_points_are_held_apart() -> None:
    """One point's change does not hold back another's."""
    still = Still()
    rows = (row("B+1", 284.0), row("B+2", 238.0))
    still.levels(Board(at_ns=0, rows=rows))
    moved = (rows[0], replace(rows[1], value=200.0, level=200.0))
    assert still.levels(Board(at_ns=S, rows=moved)) == {"B+1": 284.0, "B+2": 200.0}
