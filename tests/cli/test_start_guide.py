"""The first page of the guide: every file and command on it is tried."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

import benchtui.guide
from benchtui.chart.bench_file import read_bench
from benchtui.chart.chart_file import read_chart
from benchtui.cli.hooking import hooked
from benchtui.cli.main import parser
from benchtui.model.notes import MARK_KINDS
from benchtui.store.csv import read_marks, read_readings

from .made import call

FOLDER = Path(next(iter(benchtui.guide.__path__)))
README = Path(__file__).parents[2] / "README.md"


def blocks(page: Path, language: str) -> list[str]:
    """The examples of a page in one language."""
    return re.findall(
        rf"^```{language}\n(.*?)^```$", page.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL
    )


START = FOLDER / "start.md"
COMMANDS = [line for block in blocks(START, "sh") for line in block.splitlines()]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_can_be_typed_so(command: str) -> None:
    """The program knows each command and option that the page shows."""
    program, *rest = shlex.split(command)
    assert program == "benchtui"
    parser().parse_args(rest)


def written(folder: Path) -> None:
    """The files of the page, under the names that its commands use."""
    chart, bench = blocks(START, "toml")
    readings, marks = blocks(START, "csv")
    for name, text in (
        ("my-set.toml", chart), ("my-bench.toml", bench), ("readings.csv", readings), ("marks.csv", marks)
    ):  # fmt: skip
        (folder / name).write_text(text)


def test_chart_and_bench_fit_each_other(tmp_path: Path) -> None:
    """Read strictly; every driver opens, and every lead is on a point."""
    written(tmp_path)
    chart = read_chart((tmp_path / "my-set.toml").read_text(), "chart")
    hookup = hooked(read_bench((tmp_path / "my-bench.toml").read_text(), "bench"), chart, "bench")
    assert [lead.point for lead in hookup.leads] == ["B+1", "B+2"]


@pytest.mark.parametrize(
    "command", [c for c in COMMANDS if c.startswith(("benchtui judge readings", "benchtui chart"))]
)
def test_its_files_are_judged_by_its_commands(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Run as they stand there, without a word of complaint."""
    written(tmp_path)
    monkeypatch.chdir(tmp_path)
    status, out, err = call(capsys, *shlex.split(command)[1:])
    assert (status, err) == (0, "")
    assert "B+2" in out
    assert ("MARK" in out) == ("--marks" in command)


def test_the_files_hold_what_the_page_says_of_them(tmp_path: Path) -> None:
    """Readings of two points with an overload, marks with what they were done to, and every kind of mark."""
    written(tmp_path)
    table = read_readings(tmp_path / "readings.csv")
    assert [name for name, _ in table.points] == ["B+1", "B+2"]
    assert table.readings.flags.tolist() == [0, 0, 0, 0, 1, 2]
    assert [mark.what for mark in read_marks(tmp_path / "marks.csv")] == ["", "V8"]
    kinds = re.search(r"^`kind` is one of (.*)\.$", START.read_text(encoding="utf-8"), re.MULTILINE)
    assert kinds is not None
    assert re.findall(r"`(\w+)`", kinds[1]) == list(MARK_KINDS)


@pytest.mark.parametrize("page", [START, README], ids=["start", "README"])
def test_every_page_is_linked_and_every_link_leads_somewhere(page: Path) -> None:
    """From the first page and from the README."""
    links = re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text(encoding="utf-8"))
    targets = {(page.parent / link).resolve() for link in links if "://" not in link}
    assert all(target.exists() for target in targets)
    assert {path.resolve() for path in FOLDER.glob("*.md")} <= targets | {page.resolve()}


def test_the_readme_shows_files_that_fit_and_commands_that_exist() -> None:
    """Its small chart and bench are read strictly; its commands are known, where they were installed."""
    chart, bench = blocks(README, "toml")
    hookup = hooked(read_bench(bench, "bench"), read_chart(chart, "chart"), "bench")
    assert [lead.point for lead in hookup.leads] == ["B+1"]
    shown = [line for block in blocks(README, "sh") for line in block.splitlines()]
    typed = [line for line in shown if line.startswith(".venv/bin/benchtui ")]
    assert len(typed) == 4
    for line in typed:
        parser().parse_args(shlex.split(line)[1:])
    header = re.search(r"begins with the line `(.*?)`", README.read_text(encoding="utf-8"))
    assert header is not None
    assert blocks(START, "csv")[0].startswith(f"{header[1]}\n")
