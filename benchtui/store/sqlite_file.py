"""The few places where a session file meets SQLite and the file system."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchtui.model.errors import SessionError

from .migrations import APPLICATION_ID


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turns what SQLite raises into an error for a person."""
    try:
        yield
    except sqlite3.Error as error:
        raise SessionError(f"{path}: {error}") from error


@contextmanager
def told_reading(path: Path) -> Iterator[None]:
    """The same around code that trusts what the file holds: wrong types and lengths are damage."""
    try:
        with told(path):
            yield
    except (ValueError, TypeError, OverflowError, KeyError, IndexError) as error:
        raise SessionError(f"{path}: the file is damaged: {error}") from error


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


def connect(path: Path) -> sqlite3.Connection:
    """A connection for the one writer; every commit is on the disk when it returns."""
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    return db


def read_only(path: Path) -> sqlite3.Connection:
    """A connection that changes nothing; on a medium that cannot be written, without shared memory."""
    address = path.resolve().as_uri()
    try:
        db = sqlite3.connect(f"{address}?mode=ro", uri=True, isolation_level=None, check_same_thread=False)
        db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        wal = path.with_name(path.name + "-wal")
        if wal.exists() and wal.stat().st_size:
            raise
        db = sqlite3.connect(
            f"{address}?mode=ro&immutable=1", uri=True, isolation_level=None, check_same_thread=False
        )
    return db


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
