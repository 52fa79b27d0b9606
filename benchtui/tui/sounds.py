"""Sounds told apart by count, and whether something was announced that the eye must be called to."""

from __future__ import annotations

from collections.abc import Iterable

from benchtui.model.findings import SEVERITY, Event

RATING, FAULT, NOTICE = 3, 2, 1
"""Strokes of the bell: a rating passed, another fault, a warning or trouble of a meter."""


def strokes(events: Iterable[Event]) -> int:
    """How often the bell rings for what has just become known; 0 for nothing."""
    most = 0
    for event in events:
        if event.act != "open":
            continue
        kind = str(event.patch.get("kind", ""))
        severity = SEVERITY.get(kind, "info")
        if kind == "limit":
            most = max(most, RATING)
        elif severity == "fault":
            most = max(most, FAULT)
        elif severity in ("warning", "meter"):
            most = max(most, NOTICE)
    return most
