"""What a session comes to in half a line: which faults, of what, and what was never read."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.model.findings import Finding
from benchtui.model.notes import plain
from benchtui.watch.bank import Bank

NOTHING_CAME = ("gap", "lost", "garbled", "driver")
"""Kinds of finding that a point has without a reading."""
MOST = 6
"""So many points are named."""


def outcome(bank: Bank) -> str:
    """`faults: pilot twice, regulator`, `no fault seen`, or that nothing was read, which is no judgement."""
    never = unread(bank)
    parts = [_faults(bank.folding.listed()) or ("no fault seen" if any_read(bank) else "nothing was read")]
    if never and any_read(bank):
        parts.append(f"never read: {_named(never)}")
    return plain("; ".join(parts))


def any_read(bank: Bank) -> bool:
    """Whether any point has been read or looked at."""
    return len(unread(bank)) < len(bank.placer.desk.tracks)


def unread(bank: Bank) -> list[str]:
    """Points with a lead on them, or for the eye, of which nothing has come."""
    desk = bank.placer.desk
    known = {f.point for f in bank.folding.listed() if f.kind not in NOTHING_CAME}
    tracks = [t for t in desk.tracks.values() if t.name not in known]
    return [t.name for t in tracks if t.shown(desk.now_ns) is None and t.newest(desk.now_ns) is None]


def _faults(findings: Sequence[Finding]) -> str:
    """Each point with how often, those that another fault explains left out: it is the same event."""
    faults = [f for f in findings if f.severity == "fault"]
    told: set[int] = set()
    for f in faults:
        of = f.evidence.get("of")
        told.update(of if isinstance(of, list | tuple) else () if of is None else (of,))
    times: dict[str, int] = {}
    for f in faults:
        if f.id not in told and not f.evidence.get("because"):
            times[f.point or "the set"] = times.get(f.point or "the set", 0) + 1
    return f"faults: {_named([_often(name, n) for name, n in times.items()])}" if times else ""


def _often(name: str, times: int) -> str:
    return name + ("" if times == 1 else " twice" if times == 2 else f" {times} times")


def _named(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST} more" if len(names) > MOST else ""
    return ", ".join(names[:MOST]) + more
