"""What the watchers find in a wire log, laid beside what must be found in it."""

from __future__ import annotations

import tomllib
from pathlib import Path

from benchtui.model.findings import Finding
from benchtui.store.recording import read
from benchtui.watch.bank import Bank

from .make_logs import LOGS
from .scenes import Expected


def expectations(name: str) -> list[Expected]:
    """What the file beside a log says."""
    said = tomllib.loads((LOGS / f"{name}.expect.toml").read_text(encoding="utf-8"))
    return [
        Expected(tuple(e["kinds"]), e.get("point"), (float(e["begins_s"][0]), float(e["begins_s"][1])), must)
        for key, must in (("must", True), ("may", False))
        for e in said.get(key, [])
    ]


def judged(path: Path) -> list[Finding]:
    """The findings that stand at the end of a recording."""
    recording = read(path)
    bank = Bank(recording.chart, recording.channels, recording.settings)
    for block in recording.blocks():
        bank.feed(block)
    return bank.folding.listed()


def missed(findings: list[Finding], wanted: list[Expected]) -> list[Expected]:
    """What must be told and is not."""
    return [e for e in wanted if e.must and not any(_fits(f, e) for f in findings)]


def unasked(findings: list[Finding], wanted: list[Expected]) -> list[Finding]:
    """What is told and is not so. `settled` of other points is free."""
    return [f for f in findings if f.kind != "settled" and not any(_fits(f, e) for e in wanted)]


def _fits(finding: Finding, e: Expected) -> bool:
    begins = finding.start_ns / 1e9
    return finding.kind in e.kinds and finding.point == e.point and e.begins[0] <= begins <= e.begins[1]
