"""Lines of text as a session goes, and what is said at its end."""

from __future__ import annotations

import shlex
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from benchtui.cli import running
from benchtui.model.block import Block
from benchtui.model.notes import Mark
from benchtui.model.readings import Readings
from benchtui.store.session import Session
from tests.store.made import HEADER

from .made import CHART, call, environment, start

SCRIPT = "import sys\nfrom benchtui.cli.main import main\nsys.exit(main())\n"


def installed(folder: Path) -> Path:
    """A program `benchtui` in a folder of its own, as an installer would make it."""
    folder.mkdir()
    path = folder / "benchtui"
    path.write_text(f"#!{sys.executable}\n{SCRIPT}")
    path.chmod(0o755)
    return path


@pytest.mark.skipif(sys.platform == "win32", reason="a script that is started by its first line is POSIX")
@pytest.mark.parametrize("on_path", [True, False])
def test_the_commands_named_at_the_end_can_be_typed(on_path: bool, tmp_path: Path) -> None:
    """Each is run as it was printed: by name where that is on the PATH, else as it was started."""
    program = installed(tmp_path / "a b")
    env = environment(tmp_path)
    if on_path:
        env["PATH"] = f"{program.parent}:{env['PATH']}"
    session = tmp_path / "one two.session"
    line = [str(program), "demo", "--text", "--for", "1", "--fault", "healthy", "--session", str(session)]
    done = subprocess.run(line, capture_output=True, text=True, env=env, check=False)
    assert done.returncode == 0, done.stderr
    first, *commands = done.stderr.splitlines()
    assert first.startswith("benchtui: no fault seen; ")
    assert first.endswith(f"; the session is in {session}")
    typed = [command.split(": ", 1)[1] for command in commands]
    assert [shlex.split(command)[1:] for command in typed] == [
        ["judge", str(session)],
        ["replay", str(session)],
    ]
    for command, more in zip(typed, ("", " --text --speed 1000"), strict=True):
        assert command.startswith("benchtui ") == on_path
        subprocess.run(command + more, shell=True, check=True, capture_output=True, env=env)


def test_started_as_a_module_it_names_the_python(monkeypatch: pytest.MonkeyPatch) -> None:
    """`python -m` leaves no program that could be named."""
    monkeypatch.setattr(sys, "argv", ["/somewhere/benchtui/cli/main.py"])
    assert running.command("judge", "a").endswith("-m benchtui.cli.main judge a")


def test_faults_are_named_at_the_end(tmp_path: Path) -> None:
    """By their points; a lamp that went out though fed is one event, not two."""
    session = tmp_path / "a.session"
    args = ("demo", "--text", "--speed", "15", "--fault", "pilot", "--for", "1:30", "--session", session)
    with start(tmp_path, *args) as child:
        _, err = child.communicate(timeout=120)
    assert child.returncode == 1, err
    assert err.startswith("benchtui: faults: pilot; the session is in ")
    assert "faults in it" not in err


def test_meters_that_never_came_are_not_told_as_no_fault(tmp_path: Path) -> None:
    """Nothing was read is no judgement, neither at the end nor by `judge`; the status says so too."""
    (tmp_path / "chart.toml").write_text(CHART)
    bench = '[[meter]]\nname = "A"\ndriver = "lines"\nport = "no-such-port"\nmeasures = "V"\npoint = "B+1"\n'
    (tmp_path / "bench.toml").write_text(bench)
    named = ("--chart", tmp_path / "chart.toml", "--bench", tmp_path / "bench.toml")
    session = tmp_path / "a.session"
    with start(tmp_path, "watch", *named, "--text", "--for", "1", "--session", session) as child:
        _, err = child.communicate(timeout=60)
    assert child.returncode == 2
    assert "benchtui: nothing was read; the session is in" in err
    with start(tmp_path, "judge", session) as child:
        out, _ = child.communicate(timeout=60)
    assert "nothing was read" in out
    assert "not known" in out
    assert "the set is off" not in out
    assert "nothing found" not in out


def test_marks_are_told_among_the_events(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each once, at its time, before what became known later, in a replay of a session that holds them."""
    session = Session.create(tmp_path / "a.session", replace(HEADER, chart=CHART, bench="", settings=""))
    marks = (Mark(5 * 10**9, "tap", "lightly", "V8"), Mark(9 * 10**9, "note", "\x1b[2J[/x] #3"))
    t_ns = [n * 10**9 for n in range(12)]
    with session.atomic():
        session.add(Block(Readings.of(t_ns, [0] * 12, [1] * 12, [285.0] * 12, 0.1), marks, 12 * 10**9))
    session.close()
    _, out, _ = call(capsys, "replay", tmp_path / "a.session", "--text", "--speed", "100000")
    told = [line for line in out.splitlines() if "MARK" in line]
    assert told == ["   0:05.0  MARK      tap V8: lightly", "   0:09.0  MARK      note: ·[2J[/x] #3"]
    times = [line.split()[0] for line in out.splitlines()]
    assert times == sorted(times)
