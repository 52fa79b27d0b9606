"""What `judge` prints for a person: findings, then points, in plain text that fits 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .console import width, wrapped

if TYPE_CHECKING:
    from benchtui.model.findings import Finding
    from benchtui.store.recording import Recording
    from benchtui.watch.bank import Bank


def table(recording: Recording, bank: Bank, summary: dict[str, Any]) -> str:
    """The whole page; `summary` is the summary line of `judge --json`."""
    from benchtui.report.say import sentence

    columns = width()
    until_s = float(summary["until_s"])
    lines = [f"{recording.chart.name or recording.path.name}: {recording.kind}, {duration(until_s)}"]
    findings = bank.folding.listed()
    lines += ["", f"{'FROM':>9}  {'TO':>9}  {'SEVERITY':8}  WHAT"]
    for finding in findings:
        lines.append(_row(finding, sentence(finding, recording.chart), columns))
    if not findings:
        lines.append(f"{'':9}  {'':9}  {'':8}  nothing found")
    lines += ["", *_points(summary["points"], columns)]
    return "\n".join(lines)


def _row(finding: Finding, text: str, columns: int) -> str:
    start = clock(finding.start_ns / 1e9)
    end = "" if finding.end_ns is None else clock(finding.end_ns / 1e9)
    left = f"{start:>9}  {end:>9}  {finding.severity:8}  "
    return left + wrapped(text, " " * len(left), columns)


def _points(points: dict[str, dict[str, Any]], columns: int) -> list[str]:
    wide = max([5, *(min(24, len(name)) for name in points)])
    lines = [f"{'POINT':{wide}}  {'VALUE':>12}  {'STATE':9}  {'DECISION':10}  WHY"]
    for name, row in points.items():
        value = number(row["value"], row["unit"])
        left = f"{name[:24]:{wide}}  {value:>12}  {row['state']:9}  {row['decision']:10}  "
        lines.append((left + wrapped(row["why"] or "", " " * len(left), columns)).rstrip())
    return lines


def number(value: float | None, unit: str) -> str:
    """A value with its unit, four digits that matter; `lit` and `out` for a state."""
    if value is None:
        return "-"
    if unit == "state":
        return "lit" if value else "out"
    return f"{value:.5g} {unit}"


def clock(seconds: float) -> str:
    """Minutes and seconds since the session began: `12:03.4`, from an hour on `1:02:03.4`."""
    tenths = round(seconds * 10)
    minutes, rest = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    start = f"{hours}:{minutes:02}" if hours else f"{minutes}"
    return f"{start}:{rest // 10:02}.{rest % 10}"


def duration(seconds: float) -> str:
    """In words: `2 h 5 min`, `12 min 3 s`, `4.5 s`."""
    if seconds < 60:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {rest} s"
