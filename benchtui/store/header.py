"""What a session carries besides its timeline, and the rows that hold it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from benchtui.model.errors import SessionError
from benchtui.model.readings import Channel

from .rows import ADD_CHANNEL, as_json, channel_of, channel_row
from .strict import text, whole
from .wire_header import MOST_CHANNELS

LIVE = 1
"""The judgement that was made while the session was recorded."""


@dataclass(frozen=True, slots=True)
class Header:
    """What a session carries besides its timeline: enough to judge it again without any other file."""

    set_name: str
    channels: tuple[Channel, ...]
    chart: str = ""
    """TOML as written; so are `bench` and `settings`, the latter with what the command line said."""
    bench: str = ""
    settings: str = ""
    started_wall_ns: int | None = None
    """Unix time at t_ns = 0; None where unknown."""
    versions: Mapping[str, str] = field(default_factory=dict)


def write_header(db: sqlite3.Connection, header: Header) -> None:
    """The header of a new session, in the transaction at hand."""
    versions = as_json(header.versions)
    db.execute(
        "INSERT INTO session VALUES (1,?,?,?,?,?,?,0)",
        (
            header.set_name, header.started_wall_ns, header.chart, header.bench, header.settings, versions,
        ),
    )  # fmt: skip
    db.executemany(ADD_CHANNEL, [channel_row(number, c) for number, c in enumerate(header.channels)])
    db.execute(
        "INSERT INTO judgement (id, made_wall_ns, versions) VALUES (?,?,?)",
        (LIVE, header.started_wall_ns, versions),
    )


def read_header(db: sqlite3.Connection, path: Path) -> Header:
    """The header of a session.

    Raises:
        SessionError: it has none: its writer was stopped as it began.
        ValueError, TypeError, AttributeError, RecursionError: it is damaged.
    """
    row = db.execute(
        "SELECT set_name, chart, bench, settings, started_wall_ns, versions FROM session"
    ).fetchone()
    if row is None:
        raise SessionError(f"{path}: the session was never begun: it holds nothing")
    rows = db.execute("SELECT * FROM channel ORDER BY id LIMIT ?", (MOST_CHANNELS + 1,)).fetchall()
    if [row[0] for row in rows] != list(range(min(len(rows), MOST_CHANNELS))):
        raise ValueError("its channels are not numbered 0, 1, 2, ...")
    name, chart, bench, settings, started, versions = row
    return Header(
        text(name),
        tuple(map(channel_of, rows)),
        text(chart),
        text(bench),
        text(settings),
        None if started is None else whole(started),
        {str(k): str(v) for k, v in json.loads(text(versions)).items()},
    )
