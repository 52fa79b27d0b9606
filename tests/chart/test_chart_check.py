"""`benchtui chart check FILE`, as another program calls it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from benchtui.cli.main import main

from .test_chart_file import SALTMARSH
from .test_chart_problems import TEN

PROGRAM = [sys.executable, "-m", "benchtui.cli.main", "chart", "check"]


def test_a_good_chart_is_shown_as_a_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A chart without problems: exit status 0, its points on standard output, nothing on standard error."""
    path = tmp_path / "saltmarsh.toml"
    path.write_text(SALTMARSH, encoding="utf-8")

    assert main(["chart", "check", str(path)]) == 0
    out, err = capsys.readouterr()
    lines = out.splitlines()
    assert err == ""
    assert lines[0] == f"{path}: Saltmarsh Six, 10 points, no problem found"
    assert lines[1] == "  mains 230 Vac, chart's meter 20 kohm/V, rectifier indirect, capacitor input filter"
    row = next(line for line in lines if line.startswith("B+1"))
    assert " ".join(row.split()) == "B+1 285 V 242.25 V to 313.5 V 350 V, 400 V for 30 s"
    assert any(line.startswith("pilot") and line.endswith("B+4 through 47 kohm") for line in lines)
    assert "regulator: may strike at 155 V, must at 185 V; works between 5 mA and 30 mA" in lines
    assert "output cathode current = k / (270 * ohm), in A" in lines


def test_the_rating_of_a_negative_point_holds_both_ways(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Written as -25 V or 25 V it is a size: it is shown with both signs."""
    path = tmp_path / "bias.toml"
    head = '[set]\nname = "x"\nchassis = "isolated"\n[[point]]\nname = "bias"\n'
    for written in ("-25 V", "25 V"):
        path.write_text(f'{head}nominal = "-12 V"\ntolerance = "10 %"\nlimit = "{written}"\n')
        assert main(["chart", "check", str(path)]) == 0
        row = next(line for line in capsys.readouterr().out.splitlines() if line.startswith("bias"))
        assert " ".join(row.split()) == "bias -12 V -13.2 V to -10.8 V ±25 V"


def test_problems_are_told_one_a_line(tmp_path: Path) -> None:
    """A chart with problems: exit status 2, one line each on standard error, nothing on standard output."""
    path = tmp_path / "ten.toml"
    path.write_text(TEN, encoding="utf-8")
    done = subprocess.run([*PROGRAM, str(path)], capture_output=True, text=True, check=False)
    told = done.stderr.splitlines()

    assert (done.returncode, done.stdout) == (2, "")
    assert told[0].startswith(f"{path}:5: set.rectifer: ")
    assert told[-1].endswith("11 problems; nothing of it was used")
    assert len(told) == 12
    assert "\x1b" not in done.stderr


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b'[set]\nname = "\xff"\n', ":2: this is no UTF-8 text"),
        ('[set]\nname = "x"'.encode("utf-16"), "no UTF-8 text"),
        (b"#" * 5_000_000, "longer"),
        (b"#" * 1_500_000, "longer"),
        (b"[set", ":1: cannot be read as TOML"),
        (b"", "[set]"),
        (None, "cannot be read"),
    ],
    ids=["a wrong byte", "UTF-16", "huge", "too long", "no TOML", "empty", "missing"],
)
def test_a_file_that_is_no_chart_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes | None, words: str
) -> None:
    """Another encoding, a huge file, an empty one, a missing one: exit status 2 and what is wrong with it."""
    path = tmp_path / "c.toml"
    if content is not None:
        path.write_bytes(content)

    assert main(["chart", "check", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert str(path) in err


def test_a_folder_is_no_chart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder in the place of a file: exit status 2 and one line."""
    assert main(["chart", "check", str(tmp_path)]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_nothing_in_a_chart_reaches_the_terminal_as_a_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Escape sequences in names, keys and values, and markup, come out as plain text."""
    path = tmp_path / "c.toml"
    path.write_text(
        '"\\u001b[2J" = 1\n[set]\nname = "[/x]\\u001b[31m"\n[[point]]\nname = "[bold]"\nunit = "V"\n'
    )

    assert main(["chart", "check", str(path)]) == 2
    err = capsys.readouterr().err
    assert "\x1b" not in err
    assert "\u00b7[2J" in err

    path.write_text('[set]\nname = "[/x]"\n[[point]]\nname = "[bold]"\nunit = "V"\n')
    assert main(["chart", "check", str(path)]) == 0
    assert "[/x]" in capsys.readouterr().out


def test_a_live_chassis_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What the chart says of the chassis stands above its points; where it says nothing, that is said too."""
    path = tmp_path / "c.toml"
    said = {"chassis = 'live'": "LIVE CHASSIS", "": "treat it as live"}
    for line, words in said.items():
        path.write_text(f"[set]\nname = 'x'\n{line}\n[[point]]\nname = 'B+1'\nunit = 'V'\n")
        assert main(["chart", "check", str(path)]) == 0
        assert words in capsys.readouterr().out


def test_without_a_command_the_usage_is_shown() -> None:
    """`benchtui chart` alone is no command: exit status 2."""
    assert main(["chart"]) == 2
