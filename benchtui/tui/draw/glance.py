"""What one drawing is made from, and the few questions every part of the screen asks of it."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import isfinite

from benchtui.model.findings import Finding
from benchtui.model.units import Unit
from benchtui.watch.board import Board, Interval, Row

from ..format import clock, finite

NS = 1e9


@dataclass(frozen=True, slots=True)
class Glance:
    """A board with what the drawing adds to it: held digits, the words of findings, keys."""

    board: Board
    say: Callable[[Finding], str]
    """The text of a finding."""
    levels: Mapping[str, float] = field(default_factory=dict)
    """Point -> level to show; the row's own where a point is missing."""
    keys: Mapping[str, str] = field(default_factory=dict)
    """Seen point -> the key that says it went out, or lit."""
    flash: bool = False
    """A fault was announced a moment ago: the bottom bar is shown turned round, once."""
    ended: bool = False
    """A replay has come to its end."""
    held_ns: int | None = None
    """The strip charts stand still since this instant; None while they move. Numbers are never held."""
    trouble: str = ""
    """Why nothing can be recorded now."""
    mishap: str = ""
    """What happened to the file of the session, which goes on in another."""
    said: str = ""
    """What the last key did, for the key line."""
    asked: int | None = None
    """The fault that the person asked to see in the bar; None: the most pressing."""
    places: Mapping[str, str] = field(default_factory=dict)
    """Point -> where the chart says it is."""

    def row(self, point: str | None) -> Row | None:
        """The row of a point, if the board has it."""
        return next((r for r in self.board.rows if r.point == point), None)

    def level(self, row: Row) -> float | None:
        """The level to show of a row: the one that is held still, else its own."""
        held = self.levels.get(row.point)
        return held if held is not None else finite(row.level if row.level is not None else row.value)

    def row_of(self, finding: Finding) -> Row | None:
        return None if finding.point is None else self.row(finding.point)


def sound(board: Board) -> Board:
    """The board without bounds that are no numbers: the same one if there are none."""
    rows = tuple(_sound(r) for r in board.rows)
    hazard = replace(board.hazard, bleed=_whole(board.hazard.bleed))
    same = all(a is b for a, b in zip(rows, board.rows, strict=True)) and hazard == board.hazard
    return board if same else replace(board, rows=rows, hazard=hazard)


def _whole(foreseen: Interval | None) -> Interval | None:
    """A prediction all of whose numbers are numbers."""
    if foreseen is None:
        return None
    parts = (
        foreseen.value,
        foreseen.low,
        foreseen.high,
        foreseen.at_s,
        foreseen.at_low_s,
        foreseen.at_high_s,
    )
    return foreseen if all(map(isfinite, parts)) else None


def _sound(row: Row) -> Row:
    bounds = (row.low, row.nominal, row.high, row.limit, row.accuracy)
    numbers = all(v is None or isfinite(v) for v in bounds) and isfinite(row.step) and isfinite(row.noise)
    if numbers and row.predicted is _whole(row.predicted) and row.bleed is _whole(row.bleed):
        return row
    return replace(
        row,
        low=finite(row.low),
        nominal=finite(row.nominal),
        high=finite(row.high),
        limit=finite(row.limit),
        accuracy=finite(row.accuracy),
        step=finite(row.step) or 0.0,
        noise=finite(row.noise) or 0.0,
        predicted=_whole(row.predicted),
        bleed=_whole(row.bleed),
    )


def run_starts(board: Board) -> list[int]:
    """When the runs so far began, in order."""
    starts = {f.start_ns for f in board.findings if f.kind == "power_on"}
    if board.on_ns is not None:
        starts.add(board.on_ns)
    elif board.run_since_ns is not None:
        starts.add(board.run_since_ns)
    return sorted(starts)


def origin(board: Board, t_ns: int) -> int:
    """The beginning of the run in which an instant lies; 0 before the first."""
    starts = run_starts(board)
    place = bisect_right(starts, t_ns)
    return starts[place - 1] if place else 0


def told(board: Board, t_ns: int) -> str:
    """An instant as the clock of its run shows it: `4:07`."""
    return clock((t_ns - origin(board, t_ns)) / NS)


def in_run(board: Board, t_ns: int) -> str:
    """The same; of an earlier run with its number: `4:07 of run 1`."""
    starts = run_starts(board)
    place = bisect_right(starts, t_ns)
    return told(board, t_ns) + (f" of run {place}" if 0 < place < len(starts) else "")


def this_run(board: Board) -> int:
    """When the present run began, or the last one; 0 before the first."""
    starts = run_starts(board)
    return starts[-1] if starts else 0


def large(board: Board, most: int) -> tuple[list[Row], list[Row]]:
    """The rows to be drawn large, and all others in the order of the chart.

    Without a wish on the board: what has a meter before what has none, and never a point of two states
    while another is left. The choice does not depend on any reading, so nothing changes place.
    """
    by_name = {r.point: r for r in board.rows}
    chosen = [by_name[name] for name in dict.fromkeys(board.large) if name in by_name]
    rest = sorted(
        (r for r in board.rows if r.point not in board.large),
        key=lambda r: (r.unit is Unit.STATE, r.meter is None, r.unit is not Unit.V),
    )
    chosen = (chosen + rest)[:most]
    names = {r.point for r in chosen}
    return chosen, [r for r in board.rows if r.point not in names]
