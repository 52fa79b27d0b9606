"""The session file: one SQLite database that holds everything about one session, durable while it grows.

Any program that reads SQLite can open it meanwhile. Only one process writes it, all at once or not at all.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from benchtui.model.block import Block
from benchtui.model.errors import SessionError
from benchtui.model.findings import Event

from .blocks import PLAIN, pack
from .claim import Claim
from .header import LIVE, Header, write_header
from .migrations import APPLICATION_ID, STEPS, migrate
from .rows import (
    ADD_EVENT,
    ADD_NOTE,
    event_row,
    note_row,
)
from .schema import check_schema
from .sqlite_file import (
    check_is_session,
    connect,
    fold,
    in_memory,
    named,
    new_file,
    read_only,
    remove,
    stamp,
    told,
    told_reading,
)
from .stored import Stored

MOST_LOG_BYTES = 4_000_000


class Session(Stored):
    """An open session file. Errors of the file system and of SQLite come out as SessionError."""

    @classmethod
    def create(cls, path: Path, header: Header) -> Session:
        """A new file, with its header committed. It can be handed to another thread.

        Raises:
            SessionError: there is a file of that name, or it cannot be written there.
        """
        with _new(path) as (db, claim):
            session = cls(path, db, claim)
            migrate(db)
            with session.atomic():
                write_header(db, header)
            fold(path, db, 0)
        return session

    def copy(self, path: Path) -> Session:
        """All that this session holds in a new file, to be written on there; this one stays open.

        It is read through the connection that is open: also where no name leads to its file any more.

        Raises:
            SessionError: what it holds is not whole any more, or the new file cannot be written.
        """
        with _new(path) as (db, claim):
            self._db.backup(db)
            if db.execute("PRAGMA quick_check(1)").fetchall() != [("ok",)]:
                raise SessionError(f"{self.path}: it is damaged")
            copied = Session(path, db, claim)
            copied.watermark_ns()
            fold(path, db, 0)
        return copied

    @classmethod
    def append(cls, path: Path) -> Session:
        """An existing file, to be written further.

        Raises:
            SessionError: it is no session, a newer program wrote it, or another process is writing it.
        """
        check_is_session(path)
        claim = Claim(path)
        try:
            with told(path):
                session = cls(path, connect(path), claim)
                named(path, migrate, session._db)
            return session
        except BaseException:
            claim.release()
            raise

    @classmethod
    def read(cls, path: Path) -> Session:
        """An existing file as it stands now, while another process may be writing it; it is not changed.

        Raises:
            SessionError: it is no session, it is damaged, or a newer program wrote it.
        """
        check_is_session(path)
        with told_reading(path, None):
            before = stamp(path)
            db, finished = read_only(path)
            if db.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
                raise SessionError(f"{path} is not a session file")
            version = db.execute("PRAGMA user_version").fetchone()[0]
            if version == 0:
                raise SessionError(f"{path}: the session was never begun: it holds nothing")
            if version != len(STEPS):
                db = in_memory(db)
                named(path, migrate, db)
            db.execute("BEGIN")
            check_schema(db)  # from here on nothing newer is seen
            return cls(path, db, None, before if finished else None)

    @contextmanager
    def atomic(self) -> Iterator[None]:
        """Everything inside is written together and is on the disk when the block ends, or nothing is."""
        with told(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def add(self, block: Block, events: Iterable[Event] = (), judgement: int = LIVE) -> None:
        """The next block of the timeline and the events that became known in it; inside `atomic`."""
        readings = block.readings
        if len(readings):
            times = int(readings.t_ns[0]), int(readings.t_ns[-1])
            self._db.execute(
                "INSERT INTO block (start_ns, end_ns, rows, codec, data) VALUES (?,?,?,?,?)",
                (*times, len(readings), PLAIN, pack(readings)),
            )
        self._db.executemany(ADD_NOTE, map(note_row, block.notes))
        self._db.executemany(ADD_EVENT, [event_row(judgement, event) for event in events])
        self._db.execute("UPDATE session SET watermark_ns = max(watermark_ns, ?)", (block.upto_ns,))

    def add_clock(self, t_ns: int, wall_ns: int) -> None:
        """At `t_ns` on the timeline the wall clock (Unix time) showed `wall_ns`; inside `atomic`."""
        self._db.execute("INSERT OR REPLACE INTO clock VALUES (?,?)", (t_ns, wall_ns))

    def fold(self) -> None:
        """Keeps the write-ahead log short; between two commits, now and then."""
        with told(self.path):
            fold(self.path, self._db, MOST_LOG_BYTES)

    def complete(self) -> None:
        """Brings all that was committed into the file itself, also if that has another name by now."""
        with told(self.path):
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()

    def discard(self) -> None:
        """Closes a session that has just been created, and removes its file: nothing was recorded."""
        self.close()
        remove(self.path)

    def close(self) -> None:
        """Folds the write-ahead log into the file and lets it go. Calling it twice does nothing."""
        try:
            with told(self.path):
                self._db.close()
        finally:
            if self._claim is not None:
                self._claim.release()


@contextmanager
def _new(path: Path) -> Iterator[tuple[sqlite3.Connection, Claim]]:
    """A database of a name that is free, and the claim to it; nothing is left of either where this fails."""
    claim = Claim(path)
    try:
        new_file(path)
        try:
            with told(path):
                db = connect(path)
                try:
                    yield db, claim
                except BaseException:
                    db.close()
                    raise
        except BaseException:
            remove(path)
            raise
    except BaseException:
        claim.release()
        raise
