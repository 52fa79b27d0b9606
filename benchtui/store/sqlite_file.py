"""The few places where a session file meets SQLite and the file system."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from benchtui.model.errors import SessionError
from benchtui.model.notes import plain

from .migrations import APPLICATION_ID

AGAIN = (
    "Copy it again, whole, from where it was recorded, with its -wal file if there is one. If there is no "
    "other, a wire log of the session can be judged instead, or SQLite's .recover may save a part of a copy."
)
"""What to do about a session file that cannot be read."""


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turns what SQLite raises into an error for a person."""
    try:
        yield
    except sqlite3.Error as error:
        raise SessionError(f"{path}: {error}") from error


@contextmanager
def told_reading(path: Path, before: tuple[bool, int, int] | None) -> Iterator[None]:
    """The same around code that trusts what the file holds: wrong types and lengths are damage.

    `before`: the stamp of a file that was taken for finished.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise SessionError(_unread(path, error)) from error
    except (ValueError, TypeError, OverflowError, LookupError, AttributeError, RecursionError) as error:
        raise SessionError(f"{path}: the file is damaged: {plain(str(error), 200)}. {AGAIN}") from error
    finally:
        if before is not None and stamp(path) != before:
            raise SessionError(f"{path} was written while it was read: try again")


def _unread(path: Path, error: sqlite3.Error) -> str:
    """What is wrong with a file that SQLite cannot read; of one that was cut short, how much is there."""
    if getattr(error, "sqlite_errorcode", None) not in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return f"{path}: {error}"
    try:
        with path.open("rb") as file:
            start = file.read(32)
        here = path.stat().st_size
    except OSError:
        start, here = b"", 0
    page = int.from_bytes(start[16:18], "big")
    whole = (65536 if page == 1 else page) * int.from_bytes(start[28:32], "big")
    if 0 < here < whole:
        return f"{path}: the file was cut short: {here} of its {whole} bytes are there. {AGAIN}"
    return f"{path}: the file was cut short or is damaged. {AGAIN}"


def named(path: Path, migrate: Callable[[sqlite3.Connection], None], db: sqlite3.Connection) -> None:
    """Migrates; what is wrong is told with the file's name."""
    try:
        migrate(db)
    except SessionError as error:
        raise SessionError(f"{path}: {error}") from error


def new_file(path: Path) -> None:
    """An empty file of that name.

    Raises:
        SessionError: there is one already, or it cannot be made.
    """
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644))
    except FileExistsError:
        raise SessionError(f"{path} is there already: nothing is overwritten, give another name") from None
    except OSError as error:
        raise SessionError(f"{path} cannot be written: {error.strerror}") from error


def remove(path: Path) -> None:
    """Removes a file that we have just made, with what SQLite keeps beside it."""
    for beside in ("", "-wal", "-shm"):
        with suppress(OSError):
            path.with_name(path.name + beside).unlink()


def connect(path: Path) -> sqlite3.Connection:
    """A connection for the one writer; every commit is on the disk when it returns."""
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA wal_autocheckpoint = 0")  # `fold` does it
    return db


def fold(path: Path, db: sqlite3.Connection, least_bytes: int) -> None:
    """Moves a write-ahead log of at least so many bytes into the file, and empties it in the same go.

    SQLite's own checkpoints leave a full log beside a file that already holds its newest pages. A copy whose
    log was cut short would then mix old pages with new ones; an empty log can't be cut. While someone reads,
    it waits at most a moment and leaves the rest to the next time.
    """
    log = log_of(path)
    if not log.exists() or log.stat().st_size < least_bytes:
        return
    db.execute("PRAGMA busy_timeout = 20")
    try:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    finally:
        db.execute("PRAGMA busy_timeout = 5000")


def read_only(path: Path) -> tuple[sqlite3.Connection, bool]:
    """A connection that changes nothing, and whether the file was taken for finished.

    A file that a writer has open, or left behind when it was killed, has its write-ahead log beside it. One
    that has none is finished: it is read as immutable, so that reading leaves no files beside it and works
    on a medium that cannot be written. Should someone write it meanwhile, `stamp` shows it.
    """
    finished = not log_of(path).exists()
    address = f"{path.resolve().as_uri()}?mode=ro{'&immutable=1' if finished else ''}"
    return sqlite3.connect(address, uri=True, isolation_level=None, check_same_thread=False), finished


def stamp(path: Path) -> tuple[bool, int, int]:
    """Differs if the file has been written in the meantime."""
    status = path.stat()
    return log_of(path).exists(), status.st_size, status.st_mtime_ns


def log_of(path: Path) -> Path:
    """The write-ahead log that SQLite keeps beside the file."""
    resolved = path.resolve()
    return resolved.with_name(resolved.name + "-wal")


def in_memory(db: sqlite3.Connection) -> sqlite3.Connection:
    """A copy to be changed without touching the file; the first connection is closed."""
    copy = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    db.backup(copy)
    db.close()
    return copy


def check_is_session(path: Path) -> None:
    """Looks at the first bytes only.

    Raises:
        SessionError: it is no SQLite file, another program's, or cannot be read.
    """
    try:
        with path.open("rb") as file:
            start = file.read(72)
    except OSError as error:
        raise SessionError(f"{path} cannot be read: {error.strerror}") from error
    application = int.from_bytes(start[68:72], "big")
    if not start.startswith(b"SQLite format 3\0") or application not in (APPLICATION_ID, 0):
        raise SessionError(f"{path} is not a session file")
