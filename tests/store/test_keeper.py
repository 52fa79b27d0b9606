"""The keeper: a thread that writes, and never loses what it could not write."""

from __future__ import annotations

import threading
from pathlib import Path

from benchtui.model.block import Block
from benchtui.model.findings import Event
from benchtui.model.notes import Mark
from benchtui.model.readings import Readings
from benchtui.store.keeper import Keeper
from benchtui.store.session import Session

from .made import HEADER, same_readings, steady


def until(true: threading.Event, keeper: Keeper, wanted: object) -> None:
    """Waits until the keeper says what is wanted; gives up after a minute."""
    for _ in range(6000):
        if (keeper.trouble is not None) == wanted:
            return
        true.wait(0.01)
    raise AssertionError("the keeper never said so")


def test_all_that_was_put_is_there_after_closing(tmp_path: Path) -> None:
    """Blocks, events and clocks, in order, also those put right before the end."""
    path = tmp_path / "a.session"
    keeper = Keeper(Session.create(path, HEADER))
    blocks = [
        Block(steady(5, n * 10**9), (Mark(n * 10**9, "tap"),), n * 10**9 + 5 * 10**8) for n in range(40)
    ]
    for number, block in enumerate(blocks):
        keeper.put(block, [Event(number, block.upto_ns, number, "open", {"kind": "settled"})])
    keeper.put_clock(0, 1_700_000_000_000_000_000)
    assert keeper.close() is None
    session = Session.read(path)
    joined = Readings.joined([b.readings for b in session.blocks()])
    assert same_readings(joined, Readings.joined([b.readings for b in blocks]))
    assert session.notes() == tuple(n for b in blocks for n in b.notes)
    assert [e.seq for e in session.events()] == list(range(40))
    assert session.clock() == [(0, 1_700_000_000_000_000_000)]
    assert session.watermark_ns() == blocks[-1].upto_ns


def test_a_full_disk_is_told_and_loses_nothing(tmp_path: Path) -> None:
    """While the disk is full the trouble is shown; once there is room again all of it is written."""
    path = tmp_path / "a.session"
    session = Session.create(path, HEADER)
    pages = session._db.execute("PRAGMA page_count").fetchone()[0]
    session._db.execute(f"PRAGMA max_page_count = {pages + 2}")
    keeper = Keeper(session)
    pause = threading.Event()
    keeper.put(Block(steady(2000), (), 10**12))
    until(pause, keeper, True)
    assert "full" in str(keeper.trouble)
    keeper.put(Block(steady(2000, 10**12 + 1), (), 2 * 10**12))
    session._db.execute("PRAGMA max_page_count = 1000000")
    until(pause, keeper, False)
    assert keeper.close() is None
    back = Readings.joined([b.readings for b in Session.read(path).blocks()])
    assert same_readings(back, Readings.joined([steady(2000), steady(2000, 10**12 + 1)]))


def test_a_disk_that_stays_full_is_told_at_the_end(tmp_path: Path) -> None:
    """What was committed before stays readable; closing says what is missing and does not raise."""
    path = tmp_path / "a.session"
    session = Session.create(path, HEADER)
    with session.atomic():
        session.add(Block(steady(10), (), 10**9))
    pages = session._db.execute("PRAGMA page_count").fetchone()[0]
    session._db.execute(f"PRAGMA max_page_count = {pages + 2}")
    keeper = Keeper(session)
    keeper.put(Block(steady(2000, 10**12), (), 2 * 10**12))
    assert "full" in str(keeper.close())
    read = Session.read(path)
    assert sum(len(b.readings) for b in read.blocks()) == 10
    assert read.watermark_ns() == 10**9


def test_putting_never_waits_for_the_disk(tmp_path: Path) -> None:
    """With the file locked by someone else for the whole time, `put` comes back and nothing is lost."""
    import sqlite3

    path = tmp_path / "a.session"
    keeper = Keeper(Session.create(path, HEADER))
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    for number in range(50):
        keeper.put(Block(steady(3, number * 10**9), (), number * 10**9 + 10**8))
    assert keeper.committed_ns == 0
    other.execute("ROLLBACK")
    other.close()
    assert keeper.close() is None
    assert sum(len(b.readings) for b in Session.read(path).blocks()) == 150
