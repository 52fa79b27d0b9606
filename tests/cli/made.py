"""Files and child processes for the tests of the command line."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from benchtui.cli.main import main

CHART = """
[set]
name = "Saltmarsh Six"
chassis = "isolated"
[[point]]
name = "B+1"
nominal = "285 V"
tolerance = "+10 % -15 %"
limit = "350 V"
[[point]]
name = "B+2"
nominal = "240 V"
tolerance = "10 %"
fed_from = "B+1"
through = "2.2 kohm"
"""


def readings(folder: Path, last_s: int = 120, peak: float | None = None) -> Path:
    """A CSV of B+1 and B+2, on from 5 s; with a peak on B+1 at 100 s for 3 s."""
    lines = ["t_s,point,value,unit,flag"]
    for number in range(2 * last_s):
        t = number / 2
        up = 0.0 if t < 5 else 1.0
        b1 = peak if peak is not None and 100 <= t < 103 else 285.0 * up + 0.1 * (number % 3)
        lines.append(f"{t:.1f},B+1,{b1:.1f},V,")
        lines.append(f"{t + 0.1:.1f},B+2,{240.0 * up + 0.1 * (number % 2):.1f},V,")
    path = folder / "r.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def chart(folder: Path) -> Path:
    path = folder / "chart.toml"
    path.write_text(CHART)
    return path


def call(capsys: pytest.CaptureFixture[str], *args: object) -> tuple[int, str, str]:
    """Runs a command here; its exit status, standard output and standard error."""
    capsys.readouterr()
    status = main([str(arg) for arg in args])
    said = capsys.readouterr()
    return status, said.out, said.err


def environment(folder: Path, **more: str) -> dict[str, str]:
    """An environment with configuration and data folders of its own."""
    return {
        **os.environ,
        "XDG_CONFIG_HOME": str(folder / "config"),
        "XDG_DATA_HOME": str(folder / "data"),
        **more,
    }


def start(folder: Path, *args: object, **more: str) -> subprocess.Popen[str]:
    """Starts a command as a child process, its output in pipes."""
    return subprocess.Popen(
        [sys.executable, "-m", "benchtui.cli.main", *map(str, args)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(folder, **more),
    )
