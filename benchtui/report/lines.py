"""Findings, events and summary as JSON-ready lines: a promise to other programs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from benchtui.chart.chart import Chart
from benchtui.model.findings import Event, Finding
from benchtui.watch.bank import Bank
from benchtui.watch.summary import summarise

from .say import sentence


def finding_line(finding: Finding, chart: Chart) -> dict[str, Any]:
    """One finding; times in seconds since the session began."""
    return {
        "id": finding.id,
        "kind": finding.kind,
        "point": finding.point,
        "start_s": finding.start_ns / 1e9,
        "end_s": None if finding.end_ns is None else finding.end_ns / 1e9,
        "found_s": finding.found_ns / 1e9,
        "as_of_s": finding.as_of_ns / 1e9,
        "severity": finding.severity,
        "text": sentence(finding, chart),
        "evidence": _plain(finding.evidence),
    }


def event_line(event: Event) -> dict[str, Any]:
    """One line of the log of events."""
    patch: dict[str, Any] = {}
    for key, value in event.patch.items():
        if key.endswith("_ns"):
            patch[key[:-3] + "_s"] = None if value is None else value / 1e9
        else:
            patch[key] = _plain(value)
    return {
        "seq": event.seq,
        "at_s": event.at_ns / 1e9,
        "finding": event.finding,
        "act": event.act,
        "patch": patch,
    }


def summary_line(bank: Bank) -> dict[str, Any]:
    """The last line: what stands for each point."""
    points: dict[str, Any] = {}
    for p in summarise(bank):
        points[p.point] = _plain(
            {
                "unit": p.unit.symbol,
                "state": p.state,
                "decision": p.decision,
                "value": p.value,
                "settled": p.settled,
                "drift_per_h": p.drift_per_h,
                "predicted": p.predicted,
                "bleed": p.bleed,
                "why": p.why,
            }
        )
    return {"kind": "summary", "until_s": max(bank.upto_ns, 0) / 1e9, "points": points}


def _plain(value: Any) -> Any:
    """JSON has no NaN and no infinity, and no numpy: None and plain numbers instead."""
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    number = float(value)
    return number if math.isfinite(number) else None
