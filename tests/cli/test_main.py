"""The command line as a whole: statuses, messages, and nothing of Python in them."""

from __future__ import annotations

import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from benchtui import __version__
from benchtui.cli import main as cli

from .made import call, environment, readings, start


def test_it_says_its_version(capsys: pytest.CaptureFixture[str]) -> None:
    """One line, status 0."""
    assert call(capsys, "--version") == (0, f"benchtui {__version__}\n", "")


@pytest.mark.parametrize(
    "command",
    [
        (),
        ("demo",),
        ("watch",),
        ("replay",),
        ("judge",),
        ("chart",),
        ("chart", "check"),
        ("meters",),
        ("meters", "listen"),
    ],
)
def test_every_command_has_its_help(command: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    """Status 0, an example that this program understands, and each fits 80 columns."""
    status, out, _ = call(capsys, *command, "--help")
    examples = out.partition("\nexample")[2].splitlines()[1:]
    typed = [line.split(None, 1)[1] for line in examples if line.startswith("  benchtui ")]
    assert typed
    for line in typed:
        cli.parser().parse_args(shlex.split(line))
    assert status == 0
    assert out.startswith("usage: benchtui")
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    "args",
    [
        (),
        ("dance",),
        ("judge",),
        ("watch",),
        ("replay", "x", "--speed", "0"),
        ("judge", "x", "--json", "--events"),
    ],
)
def test_what_it_was_not_told_rightly_it_could_not_do(
    args: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong usage is status 2, with a usage line."""
    status, out, err = call(capsys, *args)
    assert status == 2
    assert out == ""
    assert "usage: benchtui" in err


def test_a_fault_that_is_none_is_told_with_all_that_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    """The plain ones first, as the help names them; within 80 columns."""
    status, out, err = call(capsys, "demo", "--text", "--fault", "regulatr")
    assert (status, out) == (2, "")
    assert 'did you mean "regulator"?' in err
    assert "There are: healthy, pilot, regulator; and" in " ".join(err.split())
    assert "coupling_leak" in err
    _, out, _ = call(capsys, "demo", "--help")
    assert "healthy, pilot or regulator" in " ".join(out.split())


def test_the_seed_of_the_demo_is_a_whole_number(capsys: pytest.CaptureFixture[str]) -> None:
    """Anything else is wrong usage."""
    status, _, err = call(capsys, "demo", "--text", "--seed", "x")
    assert status == 2
    assert "write a whole number from 0" in err


def test_the_level_that_counts_is_said_in_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    """With what it is when nothing is said."""
    for command in ("watch", "judge", "replay"):
        _, out, _ = call(capsys, command, "--help")
        assert "like 50V (30 V, unless" in " ".join(out.split())


def test_an_expected_error_is_a_message(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status 2, one line on standard error, nothing on standard output."""
    status, out, err = call(capsys, "judge", tmp_path / "nothing.csv")
    assert (status, out) == (2, "")
    assert err == f"benchtui: {tmp_path / 'nothing.csv'} cannot be read: No such file or directory\n"


def test_a_failure_of_the_program_itself_is_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Short and without a traceback; the details only when asked for."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("a slip of ours")

    monkeypatch.setattr("benchtui.cli.judge.judged", broken)
    status, out, err = call(capsys, "judge", readings(tmp_path))
    assert (status, out) == (2, "")
    assert "the program itself failed (ZeroDivisionError: a slip of ours)" in err
    assert "Traceback" not in err
    monkeypatch.setenv(cli.DEBUG, "1")
    with pytest.raises(ZeroDivisionError):
        cli.main(["judge", str(readings(tmp_path))])


def test_nobody_reading_any_more_is_no_error(tmp_path: Path) -> None:
    """`judge FILE | head -1` ends quietly."""
    with start(tmp_path, "judge", readings(tmp_path), "--events") as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.close()
        err = child.stderr.read()
        child.wait(60)
    assert "Traceback" not in err
    assert "BrokenPipe" not in err
    assert child.returncode in (0, 1)


def test_a_terminal_that_knows_only_ascii_gets_ascii(tmp_path: Path) -> None:
    """What an encoding cannot show becomes a question mark; nothing fails for it."""
    path = tmp_path / "r.csv"
    path.write_text("t_s,point,value,unit,flag\n" + "".join(f"{n},Röhre Ω,1.5,V,\n" for n in range(20)))
    command = [sys.executable, "-m", "benchtui.cli.main", "judge", str(path)]
    done = subprocess.run(
        command, capture_output=True, check=False, env=environment(tmp_path, PYTHONIOENCODING="ascii:strict")
    )
    assert done.returncode == 0, done.stderr
    assert b"R?hre ?" in done.stdout
