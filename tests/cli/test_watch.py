"""`watch` and `demo`: real meters on real wires, to a file that says all of it."""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
from pathlib import Path

import pytest

from benchtui.model.notes import Lead
from benchtui.model.units import Unit
from benchtui.store.session import Session
from tests.peers import scpi_meter

from .made import call, chart, start

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals and signals are POSIX")


def bench(folder: Path, port: str, driver: str = "scpi", more: str = "") -> Path:
    path = folder / "bench.toml"
    path.write_text(
        f'[[meter]]\nname = "meter A"\ndriver = "{driver}"\nport = "{port}"\nmeasures = "V"\n'
        f'point = "B+1"\naccuracy = "0.5 % + 2 counts"\n{more}'
    )
    return path


def kept(path: Path) -> list[tuple[float, int, float, int]]:
    """The readings of a session: value, unit, resolution, flags."""
    rows = []
    for block in Session.read(path).blocks():
        r = block.readings
        rows += list(
            zip(r.value.tolist(), r.unit.tolist(), r.resolution.tolist(), r.flags.tolist(), strict=True)
        )
    return rows


def test_a_scpi_meter_over_tcp_is_found_in_the_session_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its values come from `scpipy`, a SCPI server that this project did not write, and lose no digit."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    answers = ["+2.850000E+02", "+2.851000E+02", "+9.900000E+37", "+2.843000E+02"]
    session, wire = tmp_path / "a.session", tmp_path / "a.jsonl"
    with scpi_meter(answers) as port:
        status, out, err = call(
            capsys, "watch", "--chart", chart(tmp_path), "--bench", bench(tmp_path, port),
            "--session", session, "--wire", wire, "--text", "--for", "3",
        )  # fmt: skip
    assert status == 0, out + err
    rows = kept(session)
    assert [row[0] for row in rows[:2]] == [285.0, 285.1]
    assert rows[2][3] & 1
    assert {row[0] for row in rows[3:]} == {284.3}
    assert {Unit(row[1]) for row in rows} == {Unit.V}
    assert str(session) in out
    assert "An open set can kill: feed it from an isolating transformer." in out
    assert "Local codes" in out
    header = Session.read(session).header()
    assert header.set_name == "Saltmarsh Six"
    assert header.channels[0].accuracy is not None
    judged = call(capsys, "judge", session, "--events")
    assert call(capsys, "judge", wire, "--events") == judged


@POSIX
def test_lines_on_a_pseudo_terminal_come_through(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A meter that just talks, with garbage at connect and a line in two halves; its lead moved by --lead."""
    import tty

    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    far, near = os.openpty()
    tty.setraw(near)
    stop = threading.Event()

    def talk() -> None:
        os.write(far, b"\x00\xff5.1 V\r\n")
        number = 0
        while not stop.wait(0.05):
            os.write(far, b"28")
            stop.wait(0.01)
            os.write(far, f"5.{number % 10} V\r\n".encode())
            number += 1

    thread = threading.Thread(target=talk, daemon=True)
    thread.start()
    session = tmp_path / "a.session"
    try:
        lines = bench(tmp_path, os.ttyname(near), "lines")
        status, _, err = call(
            capsys, "watch", "--chart", chart(tmp_path), "--bench", lines,
            "--session", session, "--text", "--for", "2", "--lead", "meter A=B+2",
        )  # fmt: skip
    finally:
        stop.set()
        thread.join()
        os.close(far)
        os.close(near)
    assert status in (0, 1), err
    values = [row[0] for row in kept(session)]
    assert len(values) > 10
    assert set(values) <= {round(285 + n / 10, 1) for n in range(10)}
    assert Session.read(session).notes()[0] == Lead(0, 0, "B+2")


def test_a_session_that_is_there_is_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Status 2 before any port is opened, and the file is as it was."""
    session = tmp_path / "a.session"
    session.write_text("mine")
    given = ("--chart", chart(tmp_path), "--bench", bench(tmp_path, "/dev/null"), "--text", "--for", "1")
    status, _, err = call(capsys, "watch", *given, "--session", session)
    assert status == 2
    assert "is there already" in err
    assert session.read_text() == "mine"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--bench", "nowhere"), "there is no bench nowhere"),
        ((), "which meters? Give --bench"),
        (("--bench", "BENCH", "--lead", "meter Z=B+1"), "the meter one of meter A"),
        (("--bench", "BENCH", "--lead", "meter A"), "write METER=POINT"),
        (("--bench", "BENCH", "--for", "0"), "--for 0"),
        (("--bench", "BENCH", "--for", "1:75"), "--for 1:75: write a time above 0, like 600, 10:00"),
        (("--bench", "BENCH", "--session", "/nowhere/a.session"), "cannot write in"),
    ],
)
def test_what_is_missing_is_told(
    args: tuple[str, ...], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """In words that say what to write, status 2."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    named = [str(bench(tmp_path, "/dev/null")) if arg == "BENCH" else arg for arg in args]
    status, _, err = call(capsys, "watch", "--chart", chart(tmp_path), "--text", "--for", "1", *named)
    assert status == 2
    assert words in err


def test_the_dashboard_is_refused_where_it_cannot_be_shown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a pipe, or on a dumb terminal: it says to add --text."""
    status, _, err = call(capsys, "watch", "--chart", chart(tmp_path), "--bench", "any")
    assert status == 2
    assert "--text" in err


@POSIX
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_asked_to_stop_it_ends_as_judged(number: int, tmp_path: Path) -> None:
    """ctrl+c in the middle: the session is whole, said where, and the status is that of what was found."""
    with start(tmp_path, "demo", "--text", "--fault", "healthy") as child:
        assert child.stdout is not None
        for line in child.stdout:
            if line.startswith("the session is kept in "):
                path = Path(line.removeprefix("the session is kept in ").strip())
                break
        child.stdout.readline()
        child.send_signal(number)
        _, err = child.communicate(timeout=60)
    assert child.returncode in (0, 1), err
    assert "Traceback" not in err
    assert path.parent == tmp_path / "data" / "benchtui" / "sessions"
    assert str(path) in err
    assert len(kept(path)) > 3
    assert not list(path.parent.glob("*-wal"))


@POSIX
def test_a_watch_that_was_killed_is_judged_as_it_was_shown(tmp_path: Path) -> None:
    """kill -9: the session opens, and its readings give exactly the events that it holds."""
    session = tmp_path / "a.session"
    with start(
        tmp_path, "demo", "--text", "--speed", "15", "--fault", "pilot", "--session", session
    ) as child:
        assert child.stdout is not None
        for line in child.stdout:
            if "B+1 settled" in line:
                break
        child.kill()
        child.wait()
    read = Session.read(session)
    events = read.events()
    read.close()
    with start(tmp_path, "judge", session, "--events") as child:
        out, _ = child.communicate(timeout=60)
    assert child.returncode in (0, 1)
    assert [json.loads(line)["seq"] for line in out.splitlines()] == [event.seq for event in events]
    assert [json.loads(line)["at_s"] for line in out.splitlines()] == [event.at_ns / 1e9 for event in events]
    assert any(event.patch.get("kind") == "settled" for event in events)


def test_the_demo_finds_its_lamp_and_says_the_same_when_judged(tmp_path: Path) -> None:
    """Through real cables: the pilot was fed and went out; session and wire log give the live lines again."""
    session, wire = tmp_path / "a.session", tmp_path / "a.jsonl"
    args = ("demo", "--text", "--speed", "15", "--fault", "pilot", "--for", "90")
    with start(tmp_path, *args, "--session", session, "--wire", wire) as child:
        out, err = child.communicate(timeout=120)
    assert child.returncode == 1, out + err
    found = [line for line in out.splitlines() if "found: pilot was fed but out" in line]
    assert len(found) == 1
    with start(tmp_path, "judge", session, "--events") as child:
        from_session, _ = child.communicate(timeout=60)
    with start(tmp_path, "judge", wire, "--events") as child:
        from_wire, _ = child.communicate(timeout=60)
    assert from_session == from_wire
    opened = [line for line in from_session.splitlines() if '"act": "open"' in line]
    assert len(opened) == sum(" found: " in line for line in out.splitlines())
    with start(tmp_path, "replay", session, "--text", "--speed", "100000") as child:
        replayed, _ = child.communicate(timeout=60)
    told = [line for line in out.splitlines() if "#" in line]
    assert [line for line in replayed.splitlines() if "#" in line] == told
