"""What `judge` prints for a person: findings, then points, in plain text that fits 80 columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from benchtui.model.notes import Mark

from .console import width, wrapped

if TYPE_CHECKING:
    from benchtui.model.findings import Finding
    from benchtui.store.recording import Recording
    from benchtui.watch.bank import Bank

MARK = "MARK"
"""Stands where a finding has its severity."""


def table(recording: Recording, bank: Bank, summary: dict[str, Any]) -> str:
    """The whole page; `summary` is the summary line of `judge --json`."""
    from benchtui.report.outcome import any_read, nothing_read
    from benchtui.report.say import sentence
    from benchtui.report.soak import soak

    columns = width()
    until_s = float(summary["until_s"])
    lines = [f"{recording.chart.name or recording.path.name}: {recording.kind}, {duration(until_s)}"]
    findings = bank.folding.listed()
    on_ns = only_power_on(findings)
    clocks = "In the order of FROM. FROM and TO: since the session began"
    if on_ns is not None:
        clocks += f"; AFTER ON: since power-on, {clock(on_ns / 1e9)} after that"
    lines += [
        wrapped(f"{clocks}.", "", columns),
        "",
        _left("FROM", "TO", on_ns, "AFTER ON", "SEVERITY") + "WHAT",
    ]
    for item in in_time(findings, bank.placer.desk.marks):
        start_ns = item.t_ns if isinstance(item, Mark) else item.start_ns
        end_ns = None if isinstance(item, Mark) else item.end_ns
        after = "" if on_ns is None or start_ns < on_ns else clock((start_ns - on_ns) / 1e9)
        severity = MARK if isinstance(item, Mark) else item.severity
        left = _left(clock(start_ns / 1e9), _clock(end_ns), on_ns, after, severity)
        text = mark_text(item) if isinstance(item, Mark) else sentence(item, recording.chart)
        lines.append(left + wrapped(text, " " * len(left), columns))
    if not any_read(bank):
        lines.append(_left("", "", on_ns, "", "") + nothing_read(bank))
    elif not findings:
        lines.append(_left("", "", on_ns, "", "") + "nothing found")
    lines += ["", *_points(summary["points"], columns), ""]
    lines += [wrapped(line, "  ", columns) for line in soak(bank)]
    return "\n".join(lines)


def only_power_on(findings: Sequence[Finding]) -> int | None:
    """When the power came on, where it did so once and later than the session began."""
    found = [f.start_ns for f in findings if f.kind == "power_on"]
    return found[0] if len(found) == 1 and found[0] > 0 else None


def in_time(findings: Sequence[Finding], marks: Sequence[Mark]) -> list[Finding | Mark]:
    """Findings and marks in the order in which they began; a mark before what began with it.

    `judge --json` has findings in the order in which they were found.
    """
    keyed: list[tuple[int, int, int, Finding | Mark]] = [(f.start_ns, 1, f.found_ns, f) for f in findings]
    keyed += [(m.t_ns, 0, m.t_ns, m) for m in marks]
    return [item for *_, item in sorted(keyed, key=lambda k: k[:3])]


def mark_text(mark: Mark) -> str:
    """What was done, to what, and what was noted: `tap V8: lights again`."""
    done = f"{mark.kind} {mark.what}" if mark.what else mark.kind
    return f"{done}: {mark.note}" if mark.note else done


def _left(start: str, end: str, on_ns: int | None, after: str, severity: str) -> str:
    """The columns before the text; the one of the time after power-on only where that is told."""
    middle = "" if on_ns is None else f"{after:>9}  "
    return f"{start:>9}  {end:>9}  {middle}{severity:8}  "


def _clock(t_ns: int | None) -> str:
    return "" if t_ns is None else clock(t_ns / 1e9)


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
