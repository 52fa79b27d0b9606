"""The one mutable thing: a source drained, judged, kept and shown, step by step, from one thread.

source (wires or a replay) --> bank (events) --> keeper (the file) and board (the screen)
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Protocol

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.course import Course
from benchtui.model.findings import Event
from benchtui.model.notes import Lead, Mark, Note, plain
from benchtui.model.units import Unit
from benchtui.store.history import History
from benchtui.store.keeper import Keeper
from benchtui.store.replaying import Replaying
from benchtui.watch.bank import Bank
from benchtui.watch.board import Board
from benchtui.watch.now import board as board_of

CLOCK_EVERY_NS = 60_000_000_000
"""How often the timeline's clock and the wall clock are written down together."""


class Source(Protocol):
    """Where a timeline comes from: live wires, or a recording that is replayed."""

    done: bool
    """True when nothing more will come."""

    def drain(self) -> Block:
        """Everything that has become certain since the last drain."""
        ...

    def put_note(self, note: Note) -> Note | None:
        """Puts a mark or a lead on the timeline now (its own time is not used); None where it cannot."""
        ...

    def put_reading(
        self, channel: int, unit: Unit, value: float, resolution: float = 0.0, flags: int = 0
    ) -> int | None:
        """Puts what the eye saw on the timeline now; its time, or None where none can be put."""
        ...

    def close(self) -> Block:
        """Ends the source and gives what was left."""
        ...


class Live:
    """A session as it goes: `step` it 10 to 30 times a second, then draw `board`.

    Not thread-safe: all calls come from one thread. Links and the keeper have threads of their own.
    """

    def __init__(
        self,
        source: Source,
        bank: Bank,
        *,
        keeper: Keeper | None = None,
        started: datetime | None = None,
        until_ns: int | None = None,
        fast: float = 1.0,
        on_mark: Callable[[Mark], None] | None = None,
    ) -> None:
        """
        Args:
            source: a timeline from its beginning.
            bank: fresh; its chart and channels are the session's.
            keeper: where the session is written; None where nothing is kept (a replay).
            started: the time of day at t_ns = 0, aware.
            until_ns: the session is done when its watermark reaches this.
            fast: how many times faster than life a live source runs.
            on_mark: is told of every mark that was put (the demo does to its set what was marked).
        """
        self.source = source
        self.bank = bank
        self.keeper = keeper
        self.replaying = isinstance(source, Replaying)
        self.new_events: list[Event] = []
        """The events that became known in the last step."""
        self.done = False
        """True when a replay or the time asked for has come to its end."""
        self.upto_ns = 0
        """The watermark: everything up to here has been judged."""
        self._board: Board | None = Board(
            set_name=bank.chart.name, chassis=bank.chart.chassis, started=started
        )
        self._history = History(bank.channels, {point.name: point.unit for point in bank.chart.points})
        self._acknowledged: set[int] = set()
        self._paused = False
        self._started = started
        self._until_ns = until_ns
        self._fast = fast
        self._on_mark = on_mark
        self._clock_due_ns = 0
        self._closed = False
        self._ending: str | None = None

    @property
    def board(self) -> Board:
        """What stands now; made when it is asked for, once a step."""
        if self._board is None:
            board = board_of(
                self.bank,
                acknowledged=frozenset(self._acknowledged),
                recording=self.keeper is not None and self.trouble is None,
                replaying=self.replaying,
                paused=self._paused,
                fast=self.speed,
            )
            self._board = replace(board, started=self._started)
        return self._board

    @property
    def chart(self) -> Chart:
        return self.bank.chart

    @property
    def settings(self) -> Settings:
        return self.bank.settings

    @property
    def trouble(self) -> str | None:
        """Why the session cannot be written now, in words for a person; None while all is well."""
        if self._ending is not None:
            return self._ending
        return self.keeper.trouble if self.keeper is not None else None

    @property
    def mishap(self) -> str | None:
        """What happened to the session's file, and where it goes on; None while nothing has."""
        return self.keeper.mishap if self.keeper is not None else None

    @property
    def paused(self) -> bool:
        return self._paused

    @property
    def speed(self) -> float:
        """How many times faster than life time goes by."""
        return self.source.speed if isinstance(self.source, Replaying) else self._fast

    def step(self) -> Board:
        """Takes what has come, judges and keeps it, and makes a new board of it all."""
        self.advance()
        return self.board

    def advance(self) -> None:
        """A step without a board, for one who only wants `new_events`: a sixth of the cost at nine points."""
        self._take(self.source.drain())
        self.done |= self.source.done
        if self._until_ns is not None and self.upto_ns >= self._until_ns:
            self.done = True

    def course(self, point: str, start_ns: int, end_ns: int, columns: int) -> Course:
        """The point's least and greatest values in so many equal columns of time, with its gaps."""
        return self._history.course(point, start_ns, end_ns, columns)

    def mark(self, kind: str, note: str = "", what: str = "") -> Mark | None:
        """What the technician just did (a kind of MARK_KINDS); None in a replay, which takes no marks."""
        put = self.source.put_note(Mark(0, kind, plain(note), plain(what)))
        if not isinstance(put, Mark):
            return None
        if self._on_mark is not None:
            self._on_mark(put)
        return put

    def seen(self, point: str, lit: bool) -> bool:
        """What the technician just saw of a point that is seen; False if it has no eye, or in a replay."""
        for number, channel in enumerate(self.bank.channels):
            if channel.eye and channel.name == point:
                return self.source.put_reading(number, Unit.STATE, float(lit)) is not None
        return False

    def move_lead(self, channel: int, point: str | None) -> bool:
        """From now on the channel's lead is on this point, or on none; False in a replay."""
        return self.source.put_note(Lead(0, channel, point)) is not None

    def acknowledge(self, finding: int | None) -> None:
        """The technician has seen this finding; None: all that stand now. It silences no later one."""
        listed = self.bank.folding.listed() if finding is None else []
        self._acknowledged |= {f.id for f in listed} if finding is None else {finding}

    def pause(self, paused: bool) -> None:
        """Stops a replay or lets it go on; a live session says so on the board and goes on recording."""
        self._paused = paused
        if isinstance(self.source, Replaying):
            self.source.pause(paused)

    def set_speed(self, speed: float) -> None:
        """A replay goes on so many times faster than life; a live session has only its own speed."""
        if isinstance(self.source, Replaying):
            self.source.speed = speed

    def close(self) -> None:
        """Ends the source and writes the rest; `new_events` and `trouble` say what came of it."""
        if self._closed:
            return
        self._closed = True
        self._take(self.source.close())
        self.done = True
        if self.keeper is not None:
            self._ending = self.keeper.close()

    def _take(self, block: Block) -> None:
        self.upto_ns = max(self.upto_ns, block.upto_ns)
        self.new_events = self.bank.feed(block)
        self._history.add(block)
        if self.keeper is not None:
            self._keep(self.keeper, block)
        self._board = None

    def _keep(self, keeper: Keeper, block: Block) -> None:
        keeper.put(block, self.new_events)
        if block.upto_ns >= self._clock_due_ns:
            self._clock_due_ns = block.upto_ns + CLOCK_EVERY_NS
            keeper.put_clock(block.upto_ns, time.time_ns())
