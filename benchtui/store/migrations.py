"""The schema of a session file, as the steps that led to it; each step runs once, in one transaction."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from benchtui.model.errors import SessionError

APPLICATION_ID = 0x42544C31
"""In the file's header, so that other programs can tell what it is: "BTL1"."""

_FIRST = (
    """CREATE TABLE session (
        id INTEGER PRIMARY KEY CHECK (id = 1),
        set_name TEXT NOT NULL,
        started_wall_ns INTEGER,        -- wall clock (Unix time) at t_ns = 0, null where unknown
        chart TEXT NOT NULL,            -- TOML as written
        bench TEXT NOT NULL,
        settings TEXT NOT NULL,         -- with what was given on the command line
        versions TEXT NOT NULL,         -- JSON: programs that wrote the file
        watermark_ns INTEGER NOT NULL   -- everything up to here is in the file
    )""",
    """CREATE TABLE channel (
        id INTEGER PRIMARY KEY,         -- 0, 1, 2, ...: `channel` in the readings
        name TEXT NOT NULL UNIQUE,
        meter TEXT NOT NULL,
        of_reading REAL,                -- accuracy: all three null where unknown
        counts REAL,
        of_full_scale REAL,
        input_resistance REAL,          -- ohms
        eye INTEGER NOT NULL
    )""",
    """CREATE TABLE block (
        id INTEGER PRIMARY KEY,         -- rising with time
        start_ns INTEGER NOT NULL,      -- time of the first reading
        end_ns INTEGER NOT NULL,        -- time of the last reading
        rows INTEGER NOT NULL,
        sealed INTEGER NOT NULL DEFAULT 0,
        codec TEXT NOT NULL,            -- how `data` is packed
        data BLOB NOT NULL
    )""",
    "CREATE INDEX block_start ON block (start_ns)",
    """CREATE TABLE note (
        id INTEGER PRIMARY KEY,         -- notes of equal time stay in this order
        t_ns INTEGER NOT NULL,
        type TEXT NOT NULL CHECK (type IN ('mark', 'lead', 'trouble')),
        kind TEXT NOT NULL DEFAULT '',  -- of a mark or a trouble
        text TEXT NOT NULL DEFAULT '',  -- note of a mark, words of a trouble
        what TEXT NOT NULL DEFAULT '',  -- part or place of a mark, meter of a trouble
        channel INTEGER,                -- of a lead
        point TEXT,                     -- of a lead; null: on nothing
        count INTEGER                   -- of a trouble
    )""",
    "CREATE INDEX note_t ON note (t_ns)",
    """CREATE TABLE judgement (
        id INTEGER PRIMARY KEY,         -- 1: as it was said live
        made_wall_ns INTEGER,
        chart TEXT,                     -- null: as in the session
        bench TEXT,
        settings TEXT,
        versions TEXT NOT NULL
    )""",
    """CREATE TABLE event (
        judgement INTEGER NOT NULL REFERENCES judgement (id),
        seq INTEGER NOT NULL,
        at_ns INTEGER NOT NULL,
        finding INTEGER NOT NULL,
        act TEXT NOT NULL,
        patch TEXT NOT NULL,            -- JSON
        PRIMARY KEY (judgement, seq)
    ) WITHOUT ROWID""",
    """CREATE TABLE clock (
        t_ns INTEGER PRIMARY KEY,
        wall_ns INTEGER NOT NULL
    )""",
)

STEPS: tuple[Sequence[str], ...] = (_FIRST,)
"""Statements that lead from `user_version` n to n + 1. A step that was released is never changed."""


def migrate(db: sqlite3.Connection, steps: Sequence[Sequence[str]] = STEPS) -> None:
    """Brings the file's schema to the newest version, one transaction a step.

    Raises:
        SessionError: the file was written by a newer program, or has a version that there has never been.
    """
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if version > len(steps):
        raise SessionError(
            f"the session was written by a newer BenchTUI (file version {version}): use that one"
        )
    if version < 0:
        raise SessionError(f"the file is damaged: it cannot have the version {version}")
    for number in range(version, len(steps)):
        db.execute("BEGIN IMMEDIATE")
        try:
            for statement in steps[number]:
                db.execute(statement)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {number + 1}")
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")
