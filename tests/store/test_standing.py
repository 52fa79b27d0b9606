"""A session file that is removed, moved, replaced or cut short while it is written: it goes on elsewhere."""

from __future__ import annotations

import sqlite3
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from benchtui.model.block import Block
from benchtui.model.findings import Event
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Readings
from benchtui.store.keeper import Keeper
from benchtui.store.session import Session

from .made import HEADER, same_readings, steady

if sys.platform == "win32":
    pytest.skip("a file that is open cannot be taken away there", allow_module_level=True)

S = 10**9


def part(number: int) -> Block:
    """The readings of one second, with a mark at its end."""
    at = number * S
    return Block(steady(20, at), (Mark(at + 1, "tap", str(number)),), at + S - 1)


def put(keeper: Keeper, number: int) -> None:
    """Puts one part with an event, and waits until it is on the disk, or told that it cannot be."""
    keeper.put(part(number), [Event(number, part(number).upto_ns, 1, "open" if number == 0 else "amend", {})])
    for _ in range(6000):
        if keeper.committed_ns >= part(number).upto_ns or keeper.trouble:
            return
        time.sleep(0.01)
    raise AssertionError("the keeper never wrote it")


def values(path: Path) -> Readings:
    session = Session.read(path)
    try:
        return Readings.joined([block.readings for block in session.blocks()])
    finally:
        session.close()


def remove(path: Path) -> None:
    path.unlink()


def remove_all(path: Path) -> None:
    for file in path.parent.glob(f"{path.name}*"):
        file.unlink()


def move(path: Path) -> None:
    path.rename(path.with_name("moved.session"))


def replace(path: Path) -> None:
    other = path.with_name("other")
    db = sqlite3.connect(other)
    db.execute("CREATE TABLE mine (x)")
    db.commit()
    db.close()
    other.rename(path)


def lose_log(path: Path) -> None:
    path.with_name(f"{path.name}-wal").unlink()


@pytest.mark.parametrize("harm", [remove, remove_all, move, replace, lose_log])
def test_what_was_taken_away_is_all_in_the_next_file(tmp_path: Path, harm: Callable[[Path], None]) -> None:
    """Every reading, note and event from the beginning; it is told, and nothing is left behind."""
    path = tmp_path / "a.session"
    keeper = Keeper(Session.create(path, HEADER))
    for number in range(3):
        put(keeper, number)
    assert keeper.mishap is None
    harm(path)
    for number in range(3, 6):
        put(keeper, number)
    assert keeper.trouble is None
    assert keeper.close() is None
    fresh = tmp_path / "a_2.session"
    assert keeper.path == fresh
    assert keeper.mishap is not None
    assert str(path) in keeper.mishap
    assert f"goes on in {fresh}, which holds all of it" in keeper.mishap
    assert same_readings(values(fresh), Readings.joined([part(n).readings for n in range(6)]))
    read = Session.read(fresh)
    assert read.notes() == tuple(n for number in range(6) for n in part(number).notes)
    assert [event.seq for event in read.events()] == list(range(6))
    assert read.header() == HEADER
    read.close()
    assert not list(tmp_path.glob("*-wal"))
    assert not list(tmp_path.glob("*.writing"))
    with closing(sqlite3.connect(fresh)) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_file_that_was_moved_holds_all_until_then(tmp_path: Path) -> None:
    """Whoever moved it has it whole under its new name."""
    path = tmp_path / "a.session"
    keeper = Keeper(Session.create(path, HEADER))
    for number in range(3):
        put(keeper, number)
    move(path)
    put(keeper, 3)
    keeper.close()
    assert len(values(tmp_path / "moved.session")) >= 60


@pytest.mark.parametrize("left", [0, 1000, 8192])
def test_a_file_that_was_cut_short_is_told_and_the_recording_goes_on(tmp_path: Path, left: int) -> None:
    """What came since is whole in the next file, with all marks, leads and events before it."""
    path = tmp_path / "a.session"
    session = Session.create(path, HEADER)
    with session.atomic():
        session.add(Block(steady(19), (Lead(0, 0, "B+1"),), S - 1))
    session.complete()
    keeper = Keeper(session)
    for number in range(1, 3):
        put(keeper, number)
    with path.open("r+b") as file:
        file.truncate(left)
    for number in range(3, 5):
        put(keeper, number)
    assert keeper.close() is None
    assert keeper.mishap is not None
    assert "was cut short while it was written" in keeper.mishap
    got = values(keeper.path)
    since = Readings.joined([part(n).readings for n in range(3, 5)])
    assert same_readings(got, since)
    read = Session.read(keeper.path)
    assert [event.seq for event in read.events()] == [1, 2, 3, 4]
    assert read.notes() == tuple(note for n in range(1, 5) for note in part(n).notes)
    read.close()


def test_taken_away_with_its_folder_it_goes_on_in_another(tmp_path: Path) -> None:
    """The medium is gone: the folder for that is made, and holds all of it."""
    folder, other = tmp_path / "stick", tmp_path / "data" / "sessions"
    folder.mkdir()
    keeper = Keeper(Session.create(folder / "a.session", HEADER), (other,))
    put(keeper, 0)
    remove_all(folder / "a.session")
    folder.rmdir()
    put(keeper, 1)
    assert keeper.close() is None
    assert keeper.path == other / "a_2.session"
    assert len(values(keeper.path)) == 40


def test_where_it_can_go_on_nowhere_that_is_told(tmp_path: Path) -> None:
    """And it is kept in memory: once the folder is back, all of it is written."""
    folder = tmp_path / "stick"
    folder.mkdir()
    keeper = Keeper(Session.create(folder / "a.session", HEADER))
    put(keeper, 0)
    remove_all(folder / "a.session")
    folder.rmdir()
    put(keeper, 1)
    assert keeper.trouble is not None
    assert "nowhere else can be written" in keeper.trouble
    folder.mkdir()
    keeper.put(part(2))
    assert keeper.close() is None
    assert len(values(folder / "a_2.session")) == 60


def test_taken_away_before_the_last_commit_it_is_noticed_at_the_end(tmp_path: Path) -> None:
    """Nothing more came: closing notices it."""
    path = tmp_path / "a.session"
    keeper = Keeper(Session.create(path, HEADER))
    put(keeper, 0)
    path.unlink()
    assert keeper.close() is None
    assert keeper.mishap is not None
    assert len(values(keeper.path)) == 20
