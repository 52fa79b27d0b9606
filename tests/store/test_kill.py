"""Power cuts and kills: what was committed is there, whatever happens to the rest."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from benchtui.model.block import Block
from benchtui.model.notes import Mark
from benchtui.store.session import Session

from .made import HEADER, steady

ROOT = Path(__file__).parents[2]
MOST_LOST_NS = 500_000_000


def whole(path: Path) -> None:
    """SQLite itself finds nothing wrong with the file."""
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    db.close()


def killed_after(path: Path, seconds: float) -> list[int]:
    """Records in a child process, kills it; the times of all readings that it had put by then."""
    command = [sys.executable, "-m", "tests.store.growing", str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        killer = threading.Timer(seconds, child.kill)
        killer.start()
        lines = child.stdout.read().splitlines()
        killer.join()
    return [int(line.split()[1]) for line in lines if len(line.split()) == 2]


@pytest.mark.parametrize("seed", range(20))
def test_a_killed_recording_misses_at_most_its_last_half_second(tmp_path: Path, seed: int) -> None:
    """kill -9 at a random moment: the file opens, is whole, and holds all but the end, exactly."""
    path = tmp_path / "a.session"
    put = killed_after(path, random.Random(seed).uniform(0.0, 1.2))
    session = Session.read(path)
    blocks = list(session.blocks())
    kept = [int(t) for block in blocks for t in block.readings.t_ns]
    values = [float(v) for block in blocks for v in block.readings.value]
    marks = session.notes()
    watermark_ns = session.watermark_ns()
    session.close()
    count = len(kept) // 3
    assert kept == [t for t in put for _ in range(3)][: 3 * count]
    assert values == [v for n in range(count) for v in (n / 10, -n / 10, 1.0)]
    assert marks == tuple(Mark(put[n], "note", str(n)) for n in range(0, count, 50))
    assert watermark_ns == (put[count - 1] if count else 0)
    assert put[-1] - watermark_ns <= MOST_LOST_NS if put else count == 0
    whole(path)


def test_a_killed_recording_can_be_written_further(tmp_path: Path) -> None:
    """Its claim is gone with the process, and the next commit goes on where it ended."""
    path = tmp_path / "a.session"
    killed_after(path, 0.7)
    session = Session.append(path)
    upto_ns = session.watermark_ns()
    with session.atomic():
        session.add(Block(steady(3, upto_ns + 1), (), upto_ns + 10**9))
    session.close()
    whole(path)
    assert Session.read(path).watermark_ns() == upto_ns + 10**9


def test_a_copy_with_its_log_cut_anywhere_opens_at_its_last_whole_commit(tmp_path: Path) -> None:
    """Every cut of the write-ahead log, through headers, pages and between commits."""
    path = tmp_path / "a.session"
    wal = tmp_path / "a.session-wal"
    session = Session.create(path, HEADER)
    ends = [0]
    for number in range(12):
        with session.atomic():
            session.add(Block(steady(40, number * 10**10), (), (number + 1) * 10**10))
        ends.append(wal.stat().st_size)
    data, log = path.read_bytes(), wal.read_bytes()
    session.close()
    chosen = random.Random(5)
    cuts = {
        *ends,
        *(end - 1 for end in ends[1:]),
        *(chosen.randrange(len(log)) for _ in range(150)),
        1,
        31,
        33,
    }
    for cut in sorted(cuts):
        copy = tmp_path / "copy.session"
        copy.write_bytes(data)
        (tmp_path / "copy.session-wal").write_bytes(log[:cut])
        (tmp_path / "copy.session-shm").unlink(missing_ok=True)
        commits = sum(end <= cut for end in ends) - 1
        read = Session.read(copy)
        assert read.watermark_ns() == commits * 10**10, f"cut at {cut}"
        assert sum(len(block.readings) for block in read.blocks()) == 40 * commits
        read.close()
        whole(copy)


def test_a_log_with_garbage_at_its_end_opens_at_its_last_whole_commit(tmp_path: Path) -> None:
    """What a disk writes as the power goes need not even be what it was told."""
    path = tmp_path / "a.session"
    session = Session.create(path, HEADER)
    for number in range(3):
        with session.atomic():
            session.add(Block(steady(40, number * 10**10), (), (number + 1) * 10**10))
    data, log = path.read_bytes(), bytearray((tmp_path / "a.session-wal").read_bytes())
    session.close()
    log[-3000:] = random.Random(3).randbytes(3000)
    (tmp_path / "b.session").write_bytes(data)
    (tmp_path / "b.session-wal").write_bytes(log)
    read = Session.read(tmp_path / "b.session")
    assert read.watermark_ns() == 2 * 10**10
    assert sum(len(block.readings) for block in read.blocks()) == 80


def test_a_long_recording_never_has_a_log_beside_pages_that_are_newer(tmp_path: Path) -> None:
    """However long it grows: folded in one go, so that a cut of the log still opens at a whole commit."""
    path = tmp_path / "a.session"
    wal = tmp_path / "a.session-wal"
    session = Session.create(path, HEADER)
    chosen = random.Random(7)
    folded = 0
    for number in range(1500):
        with session.atomic():
            session.add(Block(steady(60, number * 10**10), (), (number + 1) * 10**10))
        before = wal.stat().st_size
        session.fold()
        folded += wal.stat().st_size < before
        if chosen.random() < 0.03:
            copy = tmp_path / "copy.session"
            shutil.copy(path, copy)
            (tmp_path / "copy.session-wal").write_bytes(wal.read_bytes()[: chosen.randrange(before + 1)])
            (tmp_path / "copy.session-shm").unlink(missing_ok=True)
            read = Session.read(copy)
            rows = sum(len(block.readings) for block in read.blocks())
            assert rows == 60 * read.watermark_ns() // 10**10
            read.close()
            whole(copy)
    session.close()
    assert folded >= 2
    assert not wal.exists()
    assert os.stat(path).st_size > 1500 * 60 * 28
