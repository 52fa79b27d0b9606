"""Standard output and standard error that are closed, full, or read by nobody: the status stays true."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchtui.store.session import Session

from .made import chart, environment, readings, start

if sys.platform == "win32":
    pytest.skip("closed numbers and full devices are POSIX", allow_module_level=True)

FULL = Path("/dev/full")
full = pytest.mark.skipif(not FULL.exists(), reason="this system has no device that is always full")


def shell(folder: Path, *args: object, to: str) -> subprocess.CompletedProcess[str]:
    """A command with its streams redirected as a shell does it."""
    line = [sys.executable, "-m", "benchtui.cli.main", *map(str, args)]
    return subprocess.run(
        ["sh", "-c", f'exec "$@" {to}', "sh", *line],
        capture_output=True,
        text=True,
        env=environment(folder),
        check=False,
        timeout=120,
    )


@full
@pytest.mark.parametrize("more", [(), ("--json",), ("--events",)])
def test_a_judgement_that_cannot_be_written_was_not_given(more: tuple[str, ...], tmp_path: Path) -> None:
    """Onto a full disk, or onto an output that is closed: status 2, and why."""
    file, given = readings(tmp_path, peak=400.0), chart(tmp_path)
    for to, why in ((">/dev/full", "No space left"), (">&-", "Bad file descriptor")):
        done = shell(tmp_path, "judge", file, "--chart", given, *more, to=to)
        assert done.returncode == 2, to
        assert f"standard output cannot be written: {why}" in done.stderr
        assert "Traceback" not in done.stderr


@full
@pytest.mark.parametrize("to", ["2>/dev/full", "2>&-", "2>/dev/full <&-", "2>&- <&-"])
def test_errors_that_cannot_be_told_change_no_status(to: str, tmp_path: Path) -> None:
    """0, 1 and 2 as with an open standard error; nothing of it comes out elsewhere."""
    file, peak, given = readings(tmp_path), tmp_path / "peak", chart(tmp_path)
    peak.mkdir()
    for args, status in (
        (("judge", file, "--chart", given), 0),
        (("judge", readings(peak, peak=400.0), "--chart", given), 1),
        (("judge", tmp_path / "nothing"), 2),
        (("dance",), 2),
        (("chart", "check", file), 2),
    ):
        done = shell(tmp_path, *args, to=to)
        assert done.returncode == status, args
        assert "benchtui" not in done.stdout


@full
def test_help_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """Status 2, as for all that was asked and could not be done."""
    for to in (">/dev/full", ">&-"):
        assert shell(tmp_path, "--help", to=to).returncode == 2


def test_a_reader_that_leaves_takes_no_fault_with_it(tmp_path: Path) -> None:
    """`judge FILE | head -1`: the status is still that of what was found."""
    read, write = os.pipe()
    os.close(read)
    for peak, status in ((None, 0), (400.0, 1)):
        line = [sys.executable, "-m", "benchtui.cli.main", "judge", readings(tmp_path, peak=peak)]
        done = subprocess.run(
            [*map(str, line), "--chart", str(chart(tmp_path)), "--events"],
            stdout=write,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(tmp_path),
            check=False,
        )
        assert (done.returncode, done.stderr) == (status, "")
    os.close(write)


def test_a_reader_that_leaves_does_not_end_the_recording(tmp_path: Path) -> None:
    """`watch --text | head -1`: it says so, and records on until its own end; the status is as judged."""
    session = tmp_path / "a.session"
    args = ("demo", "--text", "--speed", "20", "--fault", "healthy", "--for", "30", "--session", session)
    with start(tmp_path, *args) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.readline()
        child.stdout.close()
        err = child.stderr.read()
        child.wait(60)
    assert child.returncode == 0, err
    assert "nobody reads the lines any more; the recording goes on" in err
    assert "Traceback" not in err
    assert Session.read(session).watermark_ns() >= 30 * 10**9


@full
@pytest.mark.parametrize("to", [">/dev/full", ">&-"])
def test_lines_that_cannot_be_written_do_not_end_the_recording(to: str, tmp_path: Path) -> None:
    """The cautions come on standard error instead, it records to its end, and the status says it."""
    session = tmp_path / "a.session"
    args = ("demo", "--text", "--speed", "20", "--fault", "healthy", "--for", "30", "--session", session)
    done = shell(tmp_path, *args, to=to)
    assert done.returncode == 2
    assert "An open set can kill" in done.stderr
    assert "the recording goes on" in done.stderr
    assert Session.read(session).watermark_ns() >= 30 * 10**9


def test_a_replay_that_nobody_reads_ends(tmp_path: Path) -> None:
    """There is nothing to be kept."""
    with start(tmp_path, "replay", readings(tmp_path), "--chart", chart(tmp_path), "--text") as child:
        assert child.stdout is not None
        child.stdout.close()
        child.stdout = None
        _, err = child.communicate(timeout=60)
    assert child.returncode == 0, err
    assert err == ""


def test_a_program_that_is_to_outlive_its_terminal_does(tmp_path: Path) -> None:
    """Started with SIGHUP ignored (`nohup`), `--text` records on when that comes."""
    session = tmp_path / "a.session"
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        child = start(tmp_path, "demo", "--text", "--speed", "20", "--for", "20", "--session", session)
    finally:
        signal.signal(signal.SIGHUP, before)
    with child:
        assert child.stdout is not None
        while "session is kept" not in child.stdout.readline():
            pass
        child.send_signal(signal.SIGHUP)
        child.communicate(timeout=60)
    assert Session.read(session).watermark_ns() >= 20 * 10**9


def test_what_was_typed_wrongly_is_repeated_plainly(tmp_path: Path) -> None:
    """Escape sequences, line ends and bytes that are no text, in every place of the command line."""
    evil = "\x1b[2J\x1b]0;gone\x07\n\udcff"
    for args in (
        (evil,),
        ("judge", "x", evil),
        ("judge", "x", f"--{evil}"),
        ("replay", "x", "--speed", evil),
        ("demo", "--seed", evil),
        ("meters", "listen", "x", "--parity", evil),
        ("judge", evil),
        ("watch", "--chart", evil, "--text", "--bench", evil),
    ):
        with start(tmp_path, *args) as child:
            out, err = child.communicate(timeout=60)
        assert child.returncode == 2, args
        assert not [c for c in out + err if ord(c) < 32 and c != "\n"], args
        assert "gone" in err
