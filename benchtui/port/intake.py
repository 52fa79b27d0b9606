"""The intake: where the links' readings and the technician's notes become one timeline, under a watermark.

How the laws are kept: a link stamps its slot *before* it decodes and clears it once what it heard is queued.
A drain takes everything up to "now, and every pending stamp"; nothing at or before that instant can come
later. Every stamp is an instant of its own, so the order of the timeline does not hang on thread timing.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

from benchtui.driver.contract import Out
from benchtui.model.block import Block
from benchtui.model.notes import Mark, Note, Trouble, plain
from benchtui.model.readings import Readings
from benchtui.model.units import Unit

_LOG_WATERMARK_NS = 1_000_000_000
_STUCK_S = 5.0
_STUCK_DRAINS = 20


class WireSink(Protocol):
    """Where a wire log is written to; each call returns at once and never raises."""

    def rx(self, t_ns: int, meter: str, data: bytes) -> None: ...
    def tx(self, t_ns: int, meter: str, data: bytes) -> None: ...
    def event(self, t_ns: int, meter: str, event: str, text: str = "") -> None: ...
    def note(self, note: Note) -> None: ...
    def reading(
        self, t_ns: int, channel: int, unit: int, value: float, resolution: float, flags: int
    ) -> None: ...
    def upto(self, t_ns: int) -> None: ...
    def end(self, t_ns: int) -> None: ...


class Abandoned(Exception):
    """A driver did not come back: its meter is out of the session, so that the others are not held up."""


class Slot:
    """One link's place in the intake. `stamp` and `clear` come in pairs, from the link's thread."""

    def __init__(self, intake: Intake, meter: str) -> None:
        self._intake = intake
        self.meter = meter
        self.pending: int | None = None
        """The instant that is being decoded; the watermark stays before it."""
        self.since = 0.0
        """When it was stamped, on a clock that stands still while the machine sleeps; seconds."""
        self.waited = 0
        """How many drains it has held up."""
        self.abandoned = False

    def stamp(self) -> int:
        """This instant, held until `clear`. Waits while the intake is full, so that nothing is dropped.

        Raises:
            Abandoned: the last decoding took so long that the session went on without this meter.
        """
        return self._intake._stamp(self)

    def clear(self, *outs: Out) -> None:
        """Queues what was heard at the stamped instant and lets the watermark pass it."""
        self._intake._clear(self, outs)


class Intake:
    """A bounded, thread-safe meeting place of all sources of one session."""

    def __init__(
        self,
        now_ns: Callable[[], int],
        notes: Sequence[Note] = (),
        log: WireSink | None = None,
        most_rows: int = 500_000,
    ) -> None:
        """`notes` stand at the start of the timeline (the leads as they are clipped on, at 0)."""
        self._now_ns = now_ns
        self._log = log
        self._most_rows = most_rows
        self._lock = threading.Condition()
        self._slots: list[Slot] = []
        self._parts: list[Readings] = []
        self._notes: list[Note] = list(notes)
        self._rows = 0
        self._last_stamp = max((n.t_ns for n in notes), default=0)
        self._upto = -1
        self._logged_upto = 0
        self._closed = False
        if log is not None:
            for note in notes:
                log.note(note)

    def slot(self, meter: str = "") -> Slot:
        """A place for one more link, that of this meter."""
        with self._lock:
            slot = Slot(self, meter)
            self._slots.append(slot)
            return slot

    def put_note(self, note: Note) -> Note:
        """Puts a note on the timeline now; gives it back with its time and its texts made plain.

        Its own `t_ns` is not used.
        """
        if isinstance(note, Mark):
            note = replace(note, note=plain(note.note), what=plain(note.what))
        elif isinstance(note, Trouble):
            note = replace(note, text=plain(note.text))
        with self._lock:
            stamped = replace(note, t_ns=self._instant())
            self._notes.append(stamped)
            if self._log is not None:
                self._log.note(stamped)
            return stamped

    def put_reading(
        self, channel: int, unit: Unit, value: float, resolution: float = 0.0, flags: int = 0
    ) -> int:
        """Puts a reading that came over no wire (the eye, a typed needle) on the timeline now; its time."""
        with self._lock:
            t_ns = self._instant()
            self._queue(Readings.of([t_ns], channel, int(unit), [value], resolution, int(flags)))
            if self._log is not None:
                self._log.reading(t_ns, channel, int(unit), value, resolution, int(flags))
            return t_ns

    def drain(self) -> Block:
        """Everything up to now and every pending stamp, in order; the watermark never falls.

        While a pending stamp holds the watermark where it was, the block is empty.
        """
        with self._lock:
            self._abandon_stuck()
            now = max(self._now_ns(), self._last_stamp)
            upto = min([now, *(s.pending - 1 for s in self._slots if s.pending is not None)])
            if upto <= self._upto:
                return Block(upto_ns=max(self._upto, 0))
            self._upto = upto
            self._last_stamp = max(self._last_stamp, upto)
            if self._log is not None and upto - self._logged_upto >= _LOG_WATERMARK_NS:
                self._logged_upto = upto
                self._log.upto(upto)
            return self._taken(upto)

    def close(self) -> Block:
        """The last block, once all links have ended; later stamps are refused. Ends the wire log."""
        block = self.drain()
        with self._lock:
            if not self._closed:
                self._closed = True
                self._lock.notify_all()
                if self._log is not None:
                    self._log.end(block.upto_ns)
        return block

    def _instant(self) -> int:
        """An instant that no other stamp has and that no drain has passed. Call with the lock held."""
        self._last_stamp = max(self._now_ns(), self._last_stamp + 1)
        return self._last_stamp

    def _stamp(self, slot: Slot) -> int:
        with self._lock:
            while self._rows >= self._most_rows and not self._closed:
                self._lock.wait(0.5)
            if slot.abandoned:
                raise Abandoned
            slot.pending, slot.since, slot.waited = self._instant(), time.monotonic(), 0
            return slot.pending

    def _clear(self, slot: Slot, outs: Sequence[Out]) -> None:
        with self._lock:
            if slot.abandoned:
                return
            for out in outs:
                if len(out.readings):
                    self._queue(out.readings)
                self._notes.extend(out.troubles)
            slot.pending = None

    def _abandon_stuck(self) -> None:
        """Goes on without a meter whose driver does not come back; a stopped program does not count."""
        now = time.monotonic()
        for slot in self._slots:
            if slot.pending is None:
                continue
            slot.waited += 1
            if slot.waited > _STUCK_DRAINS and now - slot.since > _STUCK_S:
                slot.pending, slot.abandoned = None, True
                text = f"the driver has not come back for {_STUCK_S:g} s; this meter is not read any more"
                trouble = Trouble(self._instant(), slot.meter, "driver", text)
                self._notes.append(trouble)
                if self._log is not None:
                    self._log.note(trouble)

    def _queue(self, readings: Readings) -> None:
        self._parts.append(readings)
        self._rows += len(readings)

    def _taken(self, upto: int) -> Block:
        """Takes all up to `upto` off the queue. A queued part has one instant for all its rows."""
        now = [p for p in self._parts if p.t_ns[0] <= upto]
        if len(now) < len(self._parts):
            self._parts = [p for p in self._parts if p.t_ns[0] > upto]
        else:
            self._parts = []
        notes = sorted((n for n in self._notes if n.t_ns <= upto), key=lambda n: n.t_ns)
        self._notes = [n for n in self._notes if n.t_ns > upto]
        readings = Readings.joined(now).in_order()
        self._rows -= len(readings)
        self._lock.notify_all()
        return Block(readings, tuple(notes), upto)
