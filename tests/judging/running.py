"""Runs a case through the program as other programs do: in this process, or by `benchtui judge --json`."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .case import Case
from .matching import Said


@dataclass(frozen=True, slots=True)
class Judged:
    """What a program said of a case."""

    said: list[Said]
    points: dict[str, dict[str, Any]]
    """The summary's points."""
    seconds: float
    """Time spent judging, reading of the files left out."""


Judge = Callable[[Case], Judged]


def in_process(case: Case, overrides: Mapping[str, str] | None = None) -> Judged:
    """The bank over the case's files, read by the program's own readers; `overrides` are single settings."""
    from benchtui.chart.bench_file import read_bench
    from benchtui.chart.chart_file import read_chart
    from benchtui.report.lines import finding_line, summary_line
    from benchtui.store.csv import read_marks
    from benchtui.store.recording import read
    from benchtui.watch.bank import Bank

    with tempfile.TemporaryDirectory() as folder:
        path = case.write(Path(folder))
        bench = None if case.bench is None else read_bench(case.bench, "bench.toml")
        marks = read_marks(path.with_name("marks.csv"))
        recording = read(
            path, chart=read_chart(case.chart, "chart.toml"), bench=bench, marks=marks, overrides=overrides
        )
        bank = Bank(recording.chart, recording.channels, recording.settings)
        blocks = list(recording.blocks())
        begun = time.perf_counter()
        for block in blocks:
            bank.feed(block)
        spent = time.perf_counter() - begun
        lines = [(finding_line(f, recording.chart), f.state) for f in bank.folding.all()]
        summary = summary_line(bank)
    return Judged([_said(line, state) for line, state in lines], dict(summary["points"]), spent)


def by_command(case: Case) -> Judged:
    """The same by the command line: only what is listed at the end, as another program sees it."""
    with tempfile.TemporaryDirectory() as folder:
        path = case.write(Path(folder))
        command = [sys.executable, "-m", "benchtui.cli.main", "judge", str(path), "--json"]
        command += ["--chart", str(path.with_name("chart.toml")), "--marks", str(path.with_name("marks.csv"))]
        command += [] if case.bench is None else ["--bench", str(path.with_name("bench.toml"))]
        begun = time.perf_counter()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        spent = time.perf_counter() - begun
    if done.returncode not in (0, 1):
        raise RuntimeError(f"case {case.seed}: {done.stderr}")
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    findings = [line for line in lines if line["kind"] != "summary"]
    points = next(line["points"] for line in lines if line["kind"] == "summary")
    return Judged([_said(line, "closed") for line in findings], points, spent)


def _said(line: dict[str, Any], state: str) -> Said:
    return Said(
        kind=line["kind"], point=line["point"], start_s=line["start_s"], end_s=line["end_s"],
        found_s=line["found_s"], severity=line["severity"], state=state, text=line.get("text", ""),
        after_mark=line["evidence"].get("after_mark"),
    )  # fmt: skip


JUDGES: dict[str, Judge] = {"process": in_process, "command": by_command}
