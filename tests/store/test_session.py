"""The session file: what is written is read, and nothing else ever happens to it."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from benchtui.model.block import Block
from benchtui.model.errors import SessionError
from benchtui.model.findings import Event
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Readings
from benchtui.store import migrations
from benchtui.store.session import Session

from .made import HEADER, same_readings, steady, timelines


def written(path: Path, blocks: list[Block], events: list[Event] = []) -> None:  # noqa: B006 (never changed)
    """A session of these blocks, one commit each, closed."""
    session = Session.create(path, HEADER)
    for block in blocks:
        with session.atomic():
            session.add(block, [e for e in events if e.at_ns == block.upto_ns])
    session.close()


def test_the_header_comes_back_as_it_was_given(tmp_path: Path) -> None:
    """Chart, bench, settings, versions, channels with accuracy, and the wall time to the nanosecond."""
    written(tmp_path / "a.session", [])
    assert Session.read(tmp_path / "a.session").header() == HEADER


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(timelines())
def test_a_timeline_comes_back_exactly(tmp_path: Path, blocks: list[Block]) -> None:
    """Every bit of every reading, every note in its order, and the last watermark."""
    path = tmp_path / "a.session"
    path.unlink(missing_ok=True)
    written(path, blocks)
    session = Session.read(path)
    back = list(session.blocks())
    assert same_readings(
        Readings.joined([b.readings for b in back]), Readings.joined([b.readings for b in blocks])
    )
    assert [n for b in back for n in b.notes] == [n for b in blocks for n in b.notes]
    assert back[-1].upto_ns == session.watermark_ns() == blocks[-1].upto_ns
    session.close()


def test_events_come_back_with_every_digit(tmp_path: Path) -> None:
    """The log of events is stored as JSON; floats keep every digit, and nothing becomes text."""
    patch = {
        "kind": "dropout",
        "point": "B+1",
        "start_ns": 1,
        "end_ns": None,
        "evidence": {"depth": -0.1 - 0.2},
    }
    event = Event(0, 7, 1, "open", patch)
    written(tmp_path / "a.session", [Block(upto_ns=7)], [event])
    assert Session.read(tmp_path / "a.session").events() == [event]


def test_pairs_of_clocks_are_kept(tmp_path: Path) -> None:
    """The time of day can be told for any instant, though the wall clock may jump."""
    session = Session.create(tmp_path / "a.session", HEADER)
    with session.atomic():
        session.add_clock(0, 1_700_000_000_000_000_000)
        session.add_clock(60_000_000_000, 1_700_000_060_000_000_007)
    session.close()
    pairs = Session.read(tmp_path / "a.session").clock()
    assert pairs == [(0, 1_700_000_000_000_000_000), (60_000_000_000, 1_700_000_060_000_000_007)]


def test_a_commit_that_fails_leaves_no_trace(tmp_path: Path) -> None:
    """Readings, notes and watermark are written together or not at all."""
    session = Session.create(tmp_path / "a.session", HEADER)
    with session.atomic():
        session.add(Block(steady(3), (Lead(0, 0, "B+1"),), 100_000_000))
    second = Block(steady(3, 200_000_000), (Mark(200_000_000, "tap"),), 300_000_000)
    doubled = [Event(0, 300_000_000, 1, "open", {}), Event(0, 300_000_000, 1, "open", {})]
    with pytest.raises(SessionError, match="UNIQUE"), session.atomic():
        session.add(second, doubled)
    session.close()
    after = Session.read(tmp_path / "a.session")
    assert sum(len(block.readings) for block in after.blocks()) == 3
    assert after.notes() == (Lead(0, 0, "B+1"),)
    assert after.watermark_ns() == 100_000_000


def test_it_can_be_read_while_it_grows(tmp_path: Path) -> None:
    """A reader sees one instant of the file, whole; asked again it sees the next."""
    path = tmp_path / "a.session"
    session = Session.create(path, HEADER)
    with session.atomic():
        session.add(Block(steady(3), (), 100_000_000))
    early = Session.read(path)
    with session.atomic():
        session.add(Block(steady(3, 200_000_000), (), 300_000_000))
    assert sum(len(block.readings) for block in early.blocks()) == 3
    assert sum(len(block.readings) for block in Session.read(path).blocks()) == 6
    session.close()


def test_any_program_that_reads_sqlite_can_open_it(tmp_path: Path) -> None:
    """The file is marked as ours, and its tables say what they hold."""
    written(tmp_path / "a.session", [Block(steady(3), (Mark(0, "tap", "V4"),), 100_000_000)])
    db = sqlite3.connect(tmp_path / "a.session")
    assert db.execute("PRAGMA application_id").fetchone()[0] == migrations.APPLICATION_ID
    assert db.execute("PRAGMA user_version").fetchone()[0] == len(migrations.STEPS)
    assert db.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    assert db.execute("SELECT rows, codec, sealed FROM block").fetchall() == [(3, "columns", 0)]
    assert db.execute("SELECT t_ns, kind, text FROM note").fetchall() == [(0, "tap", "V4")]


def test_nothing_is_ever_overwritten(tmp_path: Path) -> None:
    """A name that is taken is refused, and what has the name stays as it is."""
    path = tmp_path / "notes.txt"
    path.write_text("mine")
    with pytest.raises(SessionError, match="is there already"):
        Session.create(path, HEADER)
    assert path.read_text() == "mine"
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


def test_a_folder_that_is_not_there_is_an_error_for_a_person(tmp_path: Path) -> None:
    """It says where, and nothing of Python."""
    with pytest.raises(SessionError, match="cannot write in"):
        Session.create(tmp_path / "no" / "a.session", HEADER)


def test_two_programs_never_write_one_session(tmp_path: Path) -> None:
    """While one process writes, another is told so; once it has ended, however, the next may."""
    path = tmp_path / "a.session"
    session = Session.create(path, HEADER)
    other = (
        "import sys; from pathlib import Path\n"
        "from benchtui.store.session import Session\n"
        "from benchtui.model.errors import SessionError\n"
        "try: Session.append(Path(sys.argv[1])).close()\n"
        "except SessionError as error: print(error)\n"
        "else: print('opened')\n"
    )

    def second() -> str:
        done = subprocess.run(
            [sys.executable, "-c", other, str(path)], capture_output=True, text=True, check=True
        )
        return done.stdout

    assert "is being written by another BenchTUI" in second()
    session.close()
    assert second() == "opened\n"
    assert not list(tmp_path.glob("*.writing"))


def test_a_claim_dies_with_its_process(tmp_path: Path) -> None:
    """A writer that was killed blocks nobody, though its claim's file is still there."""
    path = tmp_path / "a.session"
    writer = (
        "import sys; from pathlib import Path\n"
        "from benchtui.store.header import Header\n"
        "from benchtui.store.session import Session\n"
        "session = Session.create(Path(sys.argv[1]), Header('set', ()))\n"
        "print('ready', flush=True); sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", writer, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        with pytest.raises(SessionError, match="is being written"):
            Session.append(path)
        child.kill()
        child.wait()
    Session.append(path).close()


@pytest.mark.parametrize("content", [b"", b"t_s,point\n", b"SQLite format 3\0", b"\0" * 200])
def test_what_is_no_session_is_told(tmp_path: Path, content: bytes) -> None:
    """Empty, text, half a header, zeros."""
    path = tmp_path / "a.session"
    path.write_bytes(content)
    with pytest.raises(SessionError):
        Session.read(path)


def test_another_programs_database_is_no_session(tmp_path: Path) -> None:
    """A good SQLite file without our mark is left alone."""
    db = sqlite3.connect(tmp_path / "other.db")
    db.execute("CREATE TABLE t (x)")
    db.commit()
    db.close()
    before = (tmp_path / "other.db").read_bytes()
    with pytest.raises(SessionError, match="is not a session file"):
        Session.read(tmp_path / "other.db")
    assert (tmp_path / "other.db").read_bytes() == before


@pytest.mark.parametrize("part", [0.05, 0.5])
def test_a_file_that_was_cut_short_says_so_and_what_to_do(part: float, tmp_path: Path) -> None:
    """Not in the database's words: how much is there, and where another copy may be."""
    path = tmp_path / "a.session"
    Session.create(path, HEADER).close()
    whole = path.read_bytes()
    path.write_bytes(whole[: int(part * len(whole))])
    with pytest.raises(SessionError) as told:
        Session.read(path)
    assert f"cut short: {int(part * len(whole))} of its {len(whole)} bytes are there" in str(told.value)
    assert "Copy it again" in str(told.value)
    assert "malformed" not in str(told.value)


def test_a_damaged_block_is_told_and_not_read(tmp_path: Path) -> None:
    """A blob of the wrong length, a wrong type: an error that names the file."""
    path = tmp_path / "a.session"
    written(path, [Block(steady(3), (), 100_000_000)])
    for damage in ("UPDATE block SET rows = 4", "UPDATE block SET data = 'text', rows = 3"):
        db = sqlite3.connect(path)
        db.execute(damage)
        db.commit()
        db.close()
        with pytest.raises(SessionError, match=r"bytes|damaged"):
            list(Session.read(path).blocks())


def test_texts_of_a_file_reach_nobody_as_escape_sequences(tmp_path: Path) -> None:
    """Names and notes of a session that came from elsewhere are made plain as they are read."""
    path = tmp_path / "a.session"
    written(path, [Block(steady(3), (Mark(0, "note", "tap"),), 100_000_000)])
    db = sqlite3.connect(path)
    db.execute("UPDATE note SET text = ?", ("\x1b[2Jgone",))
    db.execute("UPDATE channel SET name = ? WHERE id = 0", ("\x9b31m",))
    db.commit()
    db.close()
    session = Session.read(path)
    assert session.notes() == (Mark(0, "note", "·[2Jgone"),)
    assert session.header().channels[0].name == "·31m"


def test_a_newer_file_is_refused_and_an_older_one_is_brought_forward(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A newer program's file is not guessed at; reading an older one leaves it as it was."""
    path = tmp_path / "a.session"
    written(path, [Block(steady(3), (), 100_000_000)])
    old = path.read_bytes()
    later = (*migrations.STEPS, ("ALTER TABLE session ADD COLUMN bench_name TEXT",))
    monkeypatch.setattr("benchtui.store.session.STEPS", later)
    monkeypatch.setattr(migrations.migrate, "__defaults__", (later,))
    reading = Session.read(path)
    assert sum(len(block.readings) for block in reading.blocks()) == 3
    reading.close()
    assert path.read_bytes() == old
    Session.append(path).close()
    monkeypatch.undo()
    with pytest.raises(SessionError, match="newer BenchTUI"):
        Session.read(path)


def test_a_migration_that_fails_changes_nothing(tmp_path: Path) -> None:
    """The step and its record are one transaction."""
    path = tmp_path / "a.session"
    written(path, [])
    db = sqlite3.connect(path, isolation_level=None)
    broken = (*migrations.STEPS, ("CREATE TABLE extra (x)", "CREATE TABEL typo (x)"))
    with pytest.raises(sqlite3.OperationalError):
        migrations.migrate(db, broken)
    assert db.execute("PRAGMA user_version").fetchone()[0] == len(migrations.STEPS)
    assert db.execute("SELECT count(*) FROM sqlite_master WHERE name = 'extra'").fetchone()[0] == 0


def test_reading_a_finished_session_leaves_nothing_beside_it(tmp_path: Path) -> None:
    """A folder of sessions holds one file each, also after they were judged."""
    path = tmp_path / "a.session"
    written(path, [Block(steady(3), (), 100_000_000)])
    before = path.read_bytes()
    session = Session.read(path)
    assert sum(len(block.readings) for block in session.blocks()) == 3
    assert [p.name for p in tmp_path.iterdir()] == ["a.session"]
    session.close()
    assert path.read_bytes() == before


def test_a_finished_session_that_is_written_while_it_is_read_is_told(tmp_path: Path) -> None:
    """Readings from before and after are never mixed in silence."""
    path = tmp_path / "a.session"
    written(path, [Block(steady(3), (), 100_000_000)])
    session = Session.read(path)
    writer = Session.append(path)
    with writer.atomic():
        writer.add(Block(steady(3, 200_000_000), (), 300_000_000))
    with pytest.raises(SessionError, match="was written while it was read"):
        list(session.blocks())
    writer.close()


def test_a_file_on_a_medium_that_cannot_be_written_is_read(tmp_path: Path) -> None:
    """A session on a read-only medium opens, without a log beside it."""
    folder = tmp_path / "medium"
    folder.mkdir()
    path = folder / "a.session"
    written(path, [Block(steady(3), (), 100_000_000)])
    path.chmod(0o444)
    folder.chmod(0o555)
    try:
        session = Session.read(path)
        assert sum(len(block.readings) for block in session.blocks()) == 3
        session.close()
        assert [p.name for p in folder.iterdir()] == ["a.session"]
    finally:
        folder.chmod(0o755)
