"""Which lead moves where when the technician goes on to the next point."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.model.readings import Channel
from benchtui.model.units import Unit
from benchtui.watch.board import Board, Row


def meters(channels: Sequence[Channel]) -> list[int]:
    """The channels that have a lead to move: all but the eye's."""
    return [number for number, channel in enumerate(channels) if not channel.eye]


def channel_of(row: Row, channels: Sequence[Channel]) -> int | None:
    """The channel whose lead is on a row's point; None if none is."""
    if row.channel is not None or row.meter is None:
        return row.channel
    fitting = [n for n in meters(channels) if row.meter in (channels[n].name, channels[n].meter)]
    return fitting[0] if fitting else None


def row_of(board: Board, channels: Sequence[Channel], channel: int) -> Row | None:
    """The row of the point that a channel's lead is on."""
    return next((r for r in board.rows if channel_of(r, channels) == channel), None)


def next_point(board: Board, channels: Sequence[Channel], channel: int) -> Row | None:
    """The next point of the chart for a channel's lead, round at the end; None if nothing is left for it.

    Points that another meter is on, and those for the eye, are passed over; so are points of another unit
    than the one the lead is on, because a meter's switch does not turn by itself.
    """
    here = row_of(board, channels, channel)
    rows = list(board.rows)
    start = rows.index(here) + 1 if here is not None else 0
    for row in rows[start:] + rows[:start]:
        free = row.meter is None and not row.seen and row.unit is not Unit.STATE
        if free and (here is None or row.unit is here.unit):
            return row
    return None
