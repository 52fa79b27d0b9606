"""Big numbers keep their places, rows that matter come into view, arrows point where values go."""

from __future__ import annotations

from dataclasses import replace

from benchtui.model.units import Unit
from benchtui.tui import format as fmt
from benchtui.tui.draw import table
from benchtui.tui.places import Places
from benchtui.tui.trend import Trend
from benchtui.watch.board import Board, Row

from . import scenes

S = scenes.S


def rows(*leads: tuple[str, int | None]) -> tuple[Row, ...]:
    return tuple(
        scenes.row(name, 100.0, meter=None if n is None else f"M{n}", channel=n) for name, n in leads
    )


def test_a_lead_that_moves_takes_its_place_with_it_and_no_other_moves() -> None:
    """The number of the roving meter stays where it was, under its new name."""
    places = Places()
    before = rows(("B+1", 0), ("B+2", 1), ("screen", None), ("regulator", 2))
    assert places.of(Board(rows=before))[:3] == ("B+1", "B+2", "regulator")
    after = rows(("B+1", None), ("B+2", 1), ("screen", 0), ("regulator", 2))
    assert places.of(Board(rows=after))[:3] == ("screen", "B+2", "regulator")


def test_a_point_that_is_not_measured_after_power_off_keeps_its_place() -> None:
    """There the screen says NOT MEASURED in large."""
    places = Places()
    places.of(Board(rows=rows(("B+1", 0), ("B+2", 1), ("screen", None))))
    hazard = scenes.bleeding().hazard
    moved = Board(rows=rows(("B+1", 0), ("B+2", None), ("screen", 1)), hazard=hazard)
    assert places.of(moved)[:2] == ("B+1", "B+2")


def test_a_hidden_row_with_a_fault_takes_the_place_of_the_last_calm_one() -> None:
    """All others stay where they are, and nothing is lost."""
    all_rows = [scenes.row(n, 1.0) for n in ("B+1", "B+2", "screen", "regulator", "mains")]
    shown, hidden = table.afloat(all_rows, 4)
    assert [r.point for r in shown] == ["B+1", "B+2", "screen"]
    all_rows[4] = replace(all_rows[4], sign="x", word="no reading")
    shown, hidden = table.afloat(all_rows, 4)
    assert [r.point for r in shown] == ["B+1", "B+2", "mains"]
    assert [r.point for r in hidden] == ["screen", "regulator"]
    assert table.afloat(all_rows, 5) == (all_rows, [])


def test_a_row_that_says_rising_while_it_falls_is_drawn_falling() -> None:
    """Once it has fallen for some time by more than its noise."""
    trend = Trend()
    shown = None
    for i in range(20):
        row = scenes.row("B+1", 300.0 - i, "^", "rising")
        shown = trend.turned(Board(at_ns=i * S // 2, rows=(row,))).rows[0]
    assert shown is not None
    assert (shown.sign, shown.word) == ("v", "falling")
    rising = Trend()
    for i in range(20):
        board = Board(at_ns=i * S // 2, rows=(scenes.row("B+1", 200.0 + i, "^", "rising"),))
        assert rising.turned(board) is board


def test_a_reading_that_is_not_nothing_is_never_rounded_to_0() -> None:
    """150 mV on a point of 285 V is 0.15 V, in the block digits, in the bar and in texts."""
    row = scenes.row("B+1", 0.15, "", "", step=0.01)
    assert fmt.far(row).whole == "0.15 V"
    assert fmt.plain_value(0.15, Unit.V, 0.1) == "0.15 V"
    assert fmt.far(scenes.row("B+1", 284.4)).whole == "284 V"
    assert fmt.far(scenes.row("B+1", 0.0)).whole == "0 V"


def test_a_time_that_has_come_is_about_now() -> None:
    """Never `in 0:00`."""
    assert fmt.soon(0.0) == fmt.soon(-3.0) == "about now"
    assert fmt.soon(3.0) == "in 0:05"
