"""The keeper: writes a session as it grows, on its own thread, so that a stalled disk stalls nothing else."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic

from benchtui.model.block import Block
from benchtui.model.errors import SessionError
from benchtui.model.findings import Event
from benchtui.model.notes import Note, Trouble
from benchtui.model.readings import Readings

from .resuming import go_on
from .session import Session
from .standing import CUT, Standing

EVERY_S = 0.2
"""From one commit to the next, where the disk is quick enough; a commit holds all that came meanwhile."""
AGAIN_S = 1.0
"""How long after a failed commit the next is tried."""
LAST_WAIT_S = 10.0
"""How long `close` waits for a disk that does not answer."""


@dataclass(slots=True)
class _Waiting:
    """What is to be written in the next commit."""

    blocks: list[Block] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    clock: list[tuple[int, int]] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.blocks or self.clock)


class Keeper:
    """Takes blocks at once and commits them within `EVERY_S`; what cannot be written is kept and tried again.

    A failed commit never loses what it held, and shows in `trouble` until one succeeds. A file that is taken
    away, replaced or cut short meanwhile shows in `mishap` for good, and the session goes on in another.
    """

    def __init__(self, session: Session, folders: Sequence[Path] = ()) -> None:
        """Takes the session over: nobody else may use it until `close` has come back.

        `folders`: where it may go on if it cannot beside its first file.
        """
        self._session = session
        self._folders = tuple(folders)
        self._header = session.header()
        self._standing = Standing(session.path)
        self._notes: list[Note] = []
        self._events: list[Event] = []
        self._mishap: str | None = None
        self._lock = threading.Lock()
        self._came = threading.Event()
        self._closing = threading.Event()
        self._waiting = _Waiting()
        self._committed_ns = 0
        self._trouble: str | None = None
        self._thread = threading.Thread(target=self._work, name="session", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Why nothing can be written now (a full disk, a medium taken out); None while all is well."""
        with self._lock:
            return self._trouble

    @property
    def mishap(self) -> str | None:
        """What happened to the file, and where the session goes on; None while nothing has."""
        with self._lock:
            return self._mishap

    @property
    def path(self) -> Path:
        """The file that is being written."""
        with self._lock:
            return self._session.path

    @property
    def committed_ns(self) -> int:
        """Everything up to this instant is on the disk."""
        with self._lock:
            return self._committed_ns

    def put(self, block: Block, events: Sequence[Event] = ()) -> None:
        """The next block and its events, to be written soon. Returns at once."""
        with self._lock:
            self._waiting.blocks.append(block)
            self._waiting.events.extend(events)
        self._came.set()

    def put_clock(self, t_ns: int, wall_ns: int) -> None:
        """A pair of the timeline's clock and the wall clock, to be written soon. Returns at once."""
        with self._lock:
            self._waiting.clock.append((t_ns, wall_ns))
        self._came.set()

    def close(self) -> str | None:
        """Writes all that is left and closes the file; what could not be written is said, never raised."""
        self._closing.set()
        self._came.set()
        self._thread.join(LAST_WAIT_S)
        if self._thread.is_alive():
            return f"{self.path}: the disk does not answer: the end of the session is not written"
        return self.trouble

    def _work(self) -> None:
        while not self._closing.is_set():
            self._came.wait()
            self._came.clear()
            began = monotonic()
            if self._commit():
                self._closing.wait(max(0.0, EVERY_S - (monotonic() - began)))
            else:
                self._closing.wait(AGAIN_S)
                self._came.set()
        self._commit()
        try:
            self._stay()
            self._session.close()
        except SessionError as error:
            self._say(str(error))

    def _commit(self) -> bool:
        """One commit of all that waits; False if it failed, and all of it waits again."""
        with self._lock:
            batch, self._waiting = self._waiting, _Waiting()
        if not batch:
            return True
        try:
            block = _joined(batch.blocks)
            self._stay()
            with self._session.atomic():
                if block is not None:
                    self._session.add(block, batch.events)
                for pair in batch.clock:
                    self._session.add_clock(*pair)
            self._session.fold()
            self._standing.written()
        except SessionError as error:
            with self._lock:
                self._waiting.blocks[:0] = batch.blocks
                self._waiting.events[:0] = batch.events
                self._waiting.clock[:0] = batch.clock
            self._say(str(error))
            return False
        with self._lock:
            self._trouble = None
            self._committed_ns = max(self._committed_ns, block.upto_ns if block is not None else 0)
        self._notes += [n for n in block.notes if not isinstance(n, Trouble)] if block is not None else []
        self._events += batch.events
        return True

    def _stay(self) -> None:
        """Goes on in another file if something happened to this one.

        Raises:
            SessionError: there is no place where it can.
        """
        harm = self._standing.harm()
        if harm is None:
            return
        old = self._session
        what = f"{old.path} was {harm} while it was written"
        try:
            new, whole = go_on(
                old, self._header, self._committed_ns, self._notes, self._events, self._folders, harm != CUT
            )
        except SessionError as error:
            raise SessionError(f"{what}, and nowhere else can be written: {error}") from error
        holds = "all of it" if whole else "only what came since, and the marks and findings before"
        with self._lock:
            self._session = new
            self._mishap = f"{what}; the recording goes on in {new.path}, which holds {holds}"
        standing, self._standing = self._standing, Standing(new.path)
        with suppress(SessionError):
            if harm != CUT:
                old.complete()
            old.close()
        standing.clear()

    def _say(self, trouble: str) -> None:
        with self._lock:
            self._trouble = trouble


def _joined(blocks: list[Block]) -> Block | None:
    if not blocks:
        return None
    notes = tuple(note for block in blocks for note in block.notes)
    return Block(Readings.joined([block.readings for block in blocks]), notes, blocks[-1].upto_ns)
