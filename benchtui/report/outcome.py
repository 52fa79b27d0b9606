"""What a session comes to in half a line: which faults, of what, and what was never read."""

from __future__ import annotations

from collections.abc import Sequence

from benchtui.model.findings import Finding
from benchtui.model.notes import plain
from benchtui.watch.bank import Bank

NO_READING = ("gap", "lost", "garbled", "driver", "overload", "function")
"""Kinds of finding that a point has without a reading of it."""
MOST = 6
"""So many points are named."""


def outcome(bank: Bank) -> str:
    """`faults: pilot twice, regulator`, `no fault seen`, or that nothing was read, which is no judgement."""
    never = unread(bank)
    parts = [_faults(bank.folding.listed()) or ("no fault seen" if any_read(bank) else nothing_read(bank))]
    if never and any_read(bank):
        parts.append(f"never read: {_named(never)}")
    return plain("; ".join(parts))


def any_read(bank: Bank) -> bool:
    """Whether any point has been read or looked at."""
    return len(unread(bank)) < len(bank.placer.desk.tracks)


def nothing_read(bank: Bank) -> str:
    """What is said where no point was read; a meter whose lead is on nothing may have sent readings."""
    return "nothing was read" + ("" if bank.placer.desk.tracks else " of any point: no lead was on one")


def unread(bank: Bank) -> list[str]:
    """Points with a lead on them, or for the eye, of which no number has come, or none of their own unit."""
    desk = bank.placer.desk
    known = {f.point for f in bank.folding.listed() if f.kind not in NO_READING}
    tracks = [t for t in desk.tracks.values() if t.name not in known]
    return [t.name for t in tracks if t.shown(desk.now_ns) is None and t.newest(desk.now_ns) is None]


def _faults(findings: Sequence[Finding]) -> str:
    """Each point with how often; left out is what another fault, named here, says of the same event.

    A feed and the lamp that it starved are both named: where to look is the feed. What stands outside because
    of something that is no fault (the mains, a step) is a fault all the same.
    """
    faults = {f.id: f for f in findings if f.severity == "fault"}
    told: set[int] = set()
    for f in faults.values():
        of = f.evidence.get("of")
        explained = of if isinstance(of, list | tuple) else () if of is None else (of,)
        told.update(n for n in explained if n in faults and faults[n].point == f.point)
    times: dict[str, int] = {}
    for f in faults.values():
        if f.id not in told and f.evidence.get("because") not in faults:
            times[f.point or "the set"] = times.get(f.point or "the set", 0) + 1
    return f"faults: {_named([_often(name, n) for name, n in times.items()])}" if times else ""


def _often(name: str, times: int) -> str:
    return name + ("" if times == 1 else " twice" if times == 2 else f" {times} times")


def _named(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST} more" if len(names) > MOST else ""
    return ", ".join(names[:MOST]) + more
