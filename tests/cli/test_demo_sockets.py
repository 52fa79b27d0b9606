"""The demo where the system has no pseudo-terminals: its meters speak over local sockets."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from errno import ENOENT
from pathlib import Path

import pytest

from .made import call


def test_the_demo_speaks_over_sockets_where_there_are_no_pseudo_terminals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The whole command: every point that a meter is on is read, and no meter has any trouble."""

    def none_left() -> None:
        raise OSError(ENOENT, "no pseudo-terminals here")

    monkeypatch.setattr("os.openpty", none_left, raising=False)
    session = tmp_path / "a.session"
    status, out, err = call(
        capsys, "demo", "--text", "--speed", "20", "--fault", "healthy", "--for", "60", "--session", session
    )
    assert status == 0, err
    with closing(sqlite3.connect(session)) as kept:
        everything = "\n".join(kept.iterdump())
    assert "socket://127.0.0.1:" in everything
    assert "/dev/pts" not in everything
    _, out, _ = call(capsys, "judge", session, "--json", "--until", "45")
    *findings, summary = (json.loads(line) for line in out.splitlines())
    meters = {f["kind"] for f in findings if f["severity"] == "meter"}
    assert meters <= {"gap"}  # a slow machine, at 20 times the speed of life
    read = [name for name, point in summary["points"].items() if point["value"] is not None]
    assert len(read) == 9
