"""A file that goes away or a disk that is full while it is recorded: told at once, and in the status."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from pathlib import Path

import pytest

from benchtui.store.session import Session

from .made import call, chart, environment, start
from .terminal import terminal
from .test_watch import bench

if sys.platform == "win32":
    pytest.skip("open files cannot be taken away there, and there are no limits", allow_module_level=True)

LIMITED = (
    "import os, resource, sys\n"
    "most = resource.getrlimit(resource.RLIMIT_FSIZE)[1]\n"
    "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), most))\n"
    "os.execv(sys.executable, [sys.executable, '-m', 'benchtui.cli.main', *sys.argv[2:]])\n"
)
"""Becomes the command that is given; no file that it writes can grow beyond a limit, as on a full disk."""


def limited(folder: Path, most_bytes: int, *args: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", LIMITED, str(most_bytes), *map(str, args)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(folder),
    )


def test_a_file_that_is_removed_is_told_at_once(tmp_path: Path) -> None:
    """While it goes on, on standard error; the end names the file that holds it all; status 2."""
    session = tmp_path / "a.session"
    with start(tmp_path, "demo", "--text", "--fault", "healthy", "--session", session) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        while "found: Power on" not in (line := child.stdout.readline()):
            assert line
        session.unlink()
        told = child.stderr.readline()
        assert child.poll() is None
        child.terminate()
        _, err = child.communicate(timeout=60)
    fresh = tmp_path / "a_2.session"
    assert told == (
        f"benchtui: {session} was removed or moved while it was written; "
        f"the recording goes on in {fresh}, which holds all of it\n"
    )
    assert child.returncode == 2
    assert f"the session is in {fresh}" in err
    read = Session.read(fresh)
    assert any(event.patch.get("kind") == "power_on" for event in read.events())
    read.close()


def test_a_file_that_is_moved_is_told_on_the_screen(tmp_path: Path) -> None:
    """In the bar, for as long as the dashboard stands; and in words at its end, with status 2."""
    session = tmp_path / "a.session"
    with terminal(tmp_path, "demo", "--fault", "healthy", "--session", session) as on:
        on.until(b"POWER")
        session.rename(tmp_path / "b.session")
        on.press(b"x")
        on.until(b"FILE LOST: recording goes on in another")
        on.press(b"qq")
        assert on.ended() == 2
    end = on.shown.split(b"\x1b[?1049l")[-1]
    assert b"was removed or moved while it was written" in end
    assert b"a_2.session" in end


@pytest.mark.skipif(sys.platform != "linux", reason="a limit is lifted from outside on Linux only")
def test_a_disk_that_is_full_is_told_at_once_and_nothing_is_lost(tmp_path: Path) -> None:
    """Once there is room again, that is told too and all of it is written; the status is as judged."""
    import resource

    session = tmp_path / "a.session"
    args = ("demo", "--text", "--fault", "healthy", "--session", session)
    with limited(tmp_path, 120_000, *args) as child:
        assert child.stderr is not None
        told = child.stderr.readline()
        assert told.startswith(f"benchtui: NOT RECORDED: {session}: ")
        assert child.poll() is None
        resource.prlimit(child.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        assert child.stderr.readline() == "benchtui: it is recorded again\n"
        child.terminate()
        _, err = child.communicate(timeout=60)
    assert child.returncode == 0, err
    read = Session.read(session)
    t_ns = [t for block in read.blocks() for t in block.readings.t_ns.tolist()]
    read.close()
    assert max(b - a for a, b in itertools.pairwise(t_ns)) < 10**9


def test_a_disk_that_stays_full_is_status_2(tmp_path: Path) -> None:
    """The end says where the session is, as far as it came."""
    session = tmp_path / "a.session"
    with limited(
        tmp_path, 120_000, "demo", "--text", "--for", "30", "--speed", "10", "--session", session
    ) as child:
        _, err = child.communicate(timeout=60)
    assert child.returncode == 2
    assert err.count("NOT RECORDED") == 1
    assert f"the session is in {session}" in err
    assert "Traceback" not in err


def test_a_start_that_fails_leaves_no_file_behind(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No room for the session, or none for the wire log: status 2, and the folder is as it was."""
    folder = tmp_path / "kept"
    folder.mkdir()
    session = folder / "a.session"
    with limited(tmp_path, 5_000, "demo", "--text", "--for", "1", "--session", session) as child:
        _, err = child.communicate(timeout=60)
    assert child.returncode == 2, err
    assert str(session) in err
    assert os.listdir(folder) == []
    given = ("--chart", chart(tmp_path), "--bench", bench(tmp_path, "/dev/null"), "--text", "--for", "1")
    status, _, err = call(capsys, "watch", *given, "--session", session, "--wire", folder / "no" / "a.jsonl")
    assert status == 2
    assert "the wire log cannot be written" in err
    assert os.listdir(folder) == []
