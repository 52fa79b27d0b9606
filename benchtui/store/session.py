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
from benchtui.model.notes import Lead, Note

from .blocks import PLAIN, check, pack, unpack
from .claim import Claim
from .header import LIVE, Header, read_header, write_header
from .migrations import APPLICATION_ID, STEPS, migrate
from .rows import (
    ADD_EVENT,
    ADD_NOTE,
    event_of,
    event_row,
    note_of,
    note_row,
)
from .schema import check_schema
from .sqlite_file import (
    check_is_session,
    connect,
    fold,
    in_memory,
    log_of,
    named,
    new_file,
    read_only,
    remove,
    stamp,
    told,
    told_reading,
)
from .strict import instant

MOST_LOG_BYTES = 4_000_000


class Session:
    """An open session file. Errors of the file system and of SQLite come out as SessionError."""

    def __init__(
        self,
        path: Path,
        db: sqlite3.Connection,
        claim: Claim | None,
        before: tuple[bool, int, int] | None = None,
    ) -> None:
        """`create`, `append` and `read` make one."""
        self.path = path
        self._db = db
        self._claim = claim
        self._before = before

    @classmethod
    def create(cls, path: Path, header: Header) -> Session:
        """A new file, with its header committed. It can be handed to another thread.

        Raises:
            SessionError: there is a file of that name, or it cannot be written there.
        """
        claim = Claim(path)
        try:
            new_file(path)
            try:
                return cls._begun(path, header, claim)
            except BaseException:
                remove(path)
                raise
        except BaseException:
            claim.release()
            raise

    @classmethod
    def _begun(cls, path: Path, header: Header, claim: Claim) -> Session:
        with told(path):
            db = connect(path)
            try:
                session = cls(path, db, claim)
                migrate(db)
                with session.atomic():
                    write_header(db, header)
                fold(path, db, 0)
            except BaseException:
                db.close()
                raise
            return session

    def copy(self, path: Path) -> Session:
        """All that this session holds in a new file, to be written on there; this one stays open.

        It is read through the connection that is open: also where no name leads to its file any more.

        Raises:
            SessionError: what it holds is not whole any more, or the new file cannot be written.
        """
        claim = Claim(path)
        try:
            new_file(path)
            db = connect(path)
            try:
                with told(path):
                    self._db.backup(db)
                    if db.execute("PRAGMA quick_check(1)").fetchall() != [("ok",)]:
                        raise SessionError(f"{self.path}: it is damaged")
                    copied = Session(path, db, claim)
                    copied.watermark_ns()
                    fold(path, db, 0)
                return copied
            except BaseException:
                db.close()
                remove(path)
                raise
        except BaseException:
            claim.release()
            raise

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

    def header(self) -> Header:
        """What the session carries besides its timeline."""
        with told_reading(self.path, self._before):
            return read_header(self._db, self.path)

    def watermark_ns(self) -> int:
        """Everything up to this instant is in the file."""
        with told_reading(self.path, self._before):
            return instant(self._db.execute("SELECT watermark_ns FROM session").fetchone()[0])

    def blocks(self) -> Iterator[Block]:
        """The timeline as it was committed, each block up to its last reading; the last to the watermark.

        Notes come in the first block that reaches their time.
        """
        with told_reading(self.path, self._before):
            notes = self.notes()
            channels, watermark_ns = self._channels(), self.watermark_ns()
            upto_ns, given = -1, 0
            for end_ns, rows, codec, data in self._db.execute(
                "SELECT end_ns, rows, codec, data FROM block ORDER BY id"
            ):
                if not upto_ns < instant(end_ns) <= watermark_ns:
                    raise ValueError("its blocks are not in the order of time")
                readings = unpack(codec, rows, data)
                check(readings, channels, upto_ns, end_ns)
                first, upto_ns = given, end_ns
                while given < len(notes) and notes[given].t_ns <= end_ns:
                    given += 1
                yield Block(readings, notes[first:given], end_ns)
            yield Block(notes=notes[given:], upto_ns=max(upto_ns, watermark_ns))

    def notes(self) -> tuple[Note, ...]:
        """All notes, by time."""
        with told_reading(self.path, self._before):
            channels, watermark_ns = self._channels(), self.watermark_ns()
            most = self._most_rows()
            notes: list[Note] = []
            for row in self._db.execute("SELECT * FROM note ORDER BY t_ns, id"):
                note = note_of(row)
                if note.t_ns > watermark_ns or len(notes) >= most:
                    raise ValueError("it has notes after its end")
                if isinstance(note, Lead) and not 0 <= note.channel < channels:
                    raise ValueError("a lead names a channel that is not there")
                notes.append(note)
            return tuple(notes)

    def _channels(self) -> int:
        return len(self._db.execute("SELECT id FROM channel LIMIT 65536").fetchall())

    def _most_rows(self) -> int:
        """No table of an honest file has more rows than the file, with its log, has bytes."""
        return sum(file.stat().st_size for file in (self.path, log_of(self.path)) if file.exists())

    def events(self, judgement: int = LIVE) -> list[Event]:
        """The log of events of one judgement, as it was written."""
        with told_reading(self.path, self._before):
            rows = self._db.execute(
                "SELECT seq, at_ns, finding, act, patch FROM event WHERE judgement = ? ORDER BY seq",
                (judgement,),
            )
            return [event_of(row) for row in rows]

    def clock(self) -> list[tuple[int, int]]:
        """Pairs (t_ns, Unix time in ns), by time."""
        with told(self.path):
            return list(self._db.execute("SELECT t_ns, wall_ns FROM clock ORDER BY t_ns"))

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
