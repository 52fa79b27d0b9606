"""Whether the tables of a file that may come from anyone are tables, before a row of them is asked for."""

from __future__ import annotations

import sqlite3

TABLES = ("session", "channel", "block", "note", "judgement", "event", "clock")
MOST_BLOB_BYTES = 1 << 28
"""The longest value that is read: one block has the readings of a commit, or of a stretch that was sealed."""


def check_schema(db: sqlite3.Connection) -> None:
    """A view or a generated column under the name of a table could compute for ever, or out of nothing.

    Raises:
        ValueError: something is not as this program makes it.
        sqlite3.Error: the file is damaged.
    """
    db.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MOST_BLOB_BYTES)
    db.execute("PRAGMA trusted_schema = OFF")
    made = {name: (kind, sql) for name, kind, sql in db.execute("SELECT name, type, sql FROM sqlite_master")}
    for name in TABLES:
        kind, sql = made.get(name, (None, None))
        if kind != "table" or not str(sql).upper().startswith("CREATE TABLE "):
            raise ValueError(f"it has no table {name}")
        if any(column[6] for column in db.execute(f"PRAGMA table_xinfo({name})")):
            raise ValueError(f"its table {name} has a column that is computed")
