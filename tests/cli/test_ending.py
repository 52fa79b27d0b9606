"""However it is ended, on a real terminal or in pipes: the session is whole, the terminal as it was."""

from __future__ import annotations

import signal
import sys
import time
from pathlib import Path

import pytest

from benchtui.model.notes import Mark
from benchtui.store.session import Session

from .made import start
from .terminal import terminal

if sys.platform == "win32":
    pytest.skip("signals and pseudo-terminals are POSIX", allow_module_level=True)


def whole(session: Path) -> int:
    """How many readings it holds; it was closed in order, and nothing stands beside it."""
    assert [p.name for p in session.parent.glob(f"{session.name}*")] == [session.name]
    read = Session.read(session)
    try:
        return sum(len(block.readings) for block in read.blocks())
    finally:
        read.close()


DEMO = ("demo", "--fault", "healthy", "--session")
READ = b"mains reads"
"""The caution sheet says it once a reading has come; a session that ends before it is status 2."""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_a_dashboard_that_is_asked_to_stop_leaves_all_in_order(number: int, tmp_path: Path) -> None:
    """The session is closed and named, the terminal edits and echoes lines again; the status is as judged."""
    session = tmp_path / "a.session"
    with terminal(tmp_path, *DEMO, session) as on:
        on.until(READ)
        on.send(number)
        assert on.ended() == 0
        assert b"\x1b[?1049l" in on.shown
        assert on.is_restored()
    assert b"Traceback" not in on.shown
    assert str(session).encode() in on.shown.split(b"\x1b[?1049l")[-1]
    assert whole(session) > 0


def test_a_terminal_that_is_closed_ends_the_dashboard(tmp_path: Path) -> None:
    """The window is gone: the session is closed all the same, with the status of what was found."""
    session = tmp_path / "a.session"
    with terminal(tmp_path, *DEMO, session) as on:
        on.until(READ)
        on.hang_up()
        assert on.ended() == 0
    assert whole(session) > 0


def test_keys_that_are_no_text_do_nothing(tmp_path: Path) -> None:
    """Bytes that are no UTF-8, alone and within others: the dashboard stays, and the next key works."""
    session = tmp_path / "a.session"
    with terminal(tmp_path, *DEMO, session) as on:
        on.until(READ)
        on.press(b"\xff")
        on.until(b"next")
        on.press(b"\xc3\x28\x80\xfe\xe2\x82")
        on.press(b"q")
        on.until(b"Quit")
        on.press(b"q")
        assert on.ended() == 0
    assert b"Traceback" not in on.shown
    assert whole(session) > 0


def test_no_key_is_lost_however_quickly_they_come(tmp_path: Path) -> None:
    """All in one go: the cautions go, a sheet comes and goes, the question is asked and answered."""
    session = tmp_path / "a.session"
    with terminal(tmp_path, *DEMO, session) as on:
        on.until(READ)
        on.press(b"x?x tqq")
        assert on.ended() == 0
    read = Session.read(session)
    assert [note.kind for note in read.notes() if isinstance(note, Mark)] == ["tap"]
    read.close()


def test_a_terminal_that_takes_nothing_holds_up_no_recording(tmp_path: Path) -> None:
    """Nobody reads its output (a connection that hangs): it records on, and draws all anew afterwards."""
    session = tmp_path / "a.session"
    with terminal(tmp_path, *DEMO, session) as on:
        on.until(READ)
        on.press(b"x")
        for _ in range(600):
            read = Session.read(session)
            upto_ns = read.watermark_ns()
            read.close()
            if upto_ns > 12 * 10**9:
                break
            time.sleep(0.1)
        assert upto_ns > 12 * 10**9
        on.until(b"near")
        on.press(b"qq")
        assert on.ended() == 0
    assert whole(session) > 0


BROKEN = """
from benchtui.tui.draw import far, topbar
def breaks(*_):
    if topbar.is_live(_[1].board):
        raise ZeroDivisionError("a slip of ours")
far.topbar.draw = breaks
"""


def test_a_dashboard_that_fails_leaves_the_recording_going(tmp_path: Path) -> None:
    """In plain lines, until it is asked to stop; the status says that not all was done."""
    session = tmp_path / "a.session"
    with terminal(
        tmp_path, "demo", "--fault", "healthy", "--speed", "10", "--session", session, first=BROKEN
    ) as on:
        on.until(b"the recording goes on, in plain lines, until ctrl+c")
        assert on.is_restored()
        on.until(b"B+1 settled")
        on.press(b"\x03")
        assert on.ended() == 2
    assert f"the session is in {session}".encode() in on.shown
    assert whole(session) > 0


@pytest.mark.parametrize("after_s", [0.1, 0.2, 0.3, 0.5, 0.8])
def test_asked_to_stop_as_it_starts_it_leaves_nothing_half_done(after_s: float, tmp_path: Path) -> None:
    """At any moment of its start: no traceback; a session that was begun is whole, else there is none.

    One that was stopped before its first reading says so with its status.
    """
    session = tmp_path / "a.session"
    with start(tmp_path, *DEMO, session, "--text") as child:
        try:
            child.wait(after_s)
        except Exception:  # it is not to have ended by itself
            child.send_signal(signal.SIGTERM)
        _, err = child.communicate(timeout=60)
    assert "Traceback" not in err
    if session.exists():
        assert child.returncode == (0 if whole(session) else 2)
    else:
        assert child.returncode in (2, -signal.SIGTERM)
        assert not list(tmp_path.glob("a.session*"))
