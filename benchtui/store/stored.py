"""What a session file says, read with all the doubt that a file from anyone deserves."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

from benchtui.model.block import Block
from benchtui.model.findings import Event
from benchtui.model.notes import Lead, Note

from .blocks import check, unpack
from .claim import Claim
from .header import LIVE, Header, read_header
from .rows import event_of, note_of
from .sqlite_file import log_of, told, told_reading
from .strict import instant


class Stored:
    """An open session file, as far as it is read. Whatever is wrong with it comes out as SessionError."""

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
