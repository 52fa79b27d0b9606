"""Hours in five lines: what held, what moved, what failed and when, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from benchtui.model.findings import Finding
from benchtui.model.notes import plain
from benchtui.model.units import Unit
from benchtui.watch.bank import Bank
from benchtui.watch.place.track import Track
from benchtui.watch.summary import LOOKED_S, summarise

from .outcome import any_read
from .say import span

FAILED = {
    "dropout": "dropped out",
    "chatter": "was restless",
    "limit": "went over its rating",
    "outside": "stood outside its band",
    "slow_bleed": "discharged too slowly",
}
"""Kinds of fault and what a point did; whether a lamp was starved stands with its dropout."""
MOVED = {
    "step": "moved and stayed",
    "drift": "drifted",
    "creep": "crept outward",
    "unsettled": "settled late or not at all",
}
WRONG = ("fault", "warning")
NAMED = 8
"""At most so many points are named; of the others, how many."""
ATTENDED = "A powered set is not left alone: somebody stays with it."


def soak(bank: Bank) -> list[str]:
    """The five lines, each beginning with a word that says what it is about."""
    findings = [f for f in bank.folding.listed() if f.kind not in ("settled", "power_on", "power_off")]
    tracks = [t for t in bank.placer.desk.tracks.values() if t.unit is not Unit.UNKNOWN]
    return [
        plain(line)
        for line in (
            f"On: {_powered(bank)}. {ATTENDED}",
            f"Held: {_held(tracks, findings, bank)}",
            f"Moved: {_moved(findings)}",
            f"Failed: {_failed(findings, bank)}",
            f"How sure: {_sure(tracks, findings, bank.upto_ns)}",
        )
    ]


def _powered(bank: Bank) -> str:
    """How long the set was powered, in how many runs, of how long a record."""
    desk = bank.placer.desk
    on = total = 0
    switched = sorted(
        (f for f in bank.folding.listed() if f.kind in ("power_on", "power_off")), key=lambda f: f.start_ns
    )
    powered = bool(switched) and switched[0].kind == "power_off"
    for f in switched:
        if f.kind == "power_on":
            powered, on = True, f.start_ns
        elif powered:
            powered = False
            total += f.start_ns - on
    if desk.running:
        total += bank.upto_ns - max(on, desk.since_ns or 0)
    if not desk.run:
        return "no power seen"
    runs = f"in {desk.run} runs" if desk.run > 1 else "in one run"
    return f"{span(total / 1e9)} {runs}, of {span(bank.upto_ns / 1e9)} recorded"


def _held(tracks: Sequence[Track], findings: Sequence[Finding], bank: Bank) -> str:
    """Points that settled, or lamps that were lit, and of which nothing is told, nor that they moved too.

    What stands outside its band at the end has not held, whether or not that is told already. Of a point that
    nobody has read lately it is said until when it was read.
    """
    told: set[str | None] = {p.point for p in summarise(bank) if p.decision == "outside"}
    told |= _told_of(findings) | {f.evidence.get("shown_by") for f in findings if f.kind == "mains"}
    told.update(name for f in findings if f.severity in WRONG for name in f.evidence.get("also") or ())
    now_ns = bank.placer.desk.now_ns
    held = [
        t.name + _until(t, now_ns)
        for t in tracks
        if t.name not in told and (t.settled_ns is not None or _lit(t))
    ]
    return _names(held) if held else "no point of which nothing is told"


def _until(track: Track, now_ns: int) -> str:
    """` (until 2:00)` where the newest reading, or the newest look, is old; else nothing."""
    newest = track.newest(now_ns)
    if newest is None or track.fresh(now_ns):
        return ""
    if track.segment.channel.eye and now_ns - newest[0] <= LOOKED_S * 1e9:
        return ""
    return f" (until {span(newest[0] / 1e9)})"


def _told_of(findings: Sequence[Finding]) -> set[str | None]:
    return {f.point for f in findings if f.severity in WRONG}


def _along(findings: Sequence[Finding]) -> list[str]:
    """`B+1, screen when regulator did`: points of which nothing else is told."""
    told = _told_of(findings)
    with_it: dict[str, dict[str, bool]] = {}
    for f in findings:
        for name in (f.evidence.get("also") or ()) if f.severity in WRONG else ():
            if name not in told:
                with_it.setdefault(name, {})[f.point or "the set"] = True
    groups: dict[str, list[str]] = {}
    for name, sources in with_it.items():
        groups.setdefault(_names(sources), []).append(name)
    return [f"{_names(names)} when {sources} did" for sources, names in groups.items()]


def _lit(track: Track) -> bool:
    newest = track.segment.history.last(1)[1]
    return track.unit is Unit.STATE and bool(len(newest)) and float(newest[-1]) > 0.5


def _moved(findings: Sequence[Finding]) -> str:
    parts = _told(findings, MOVED) + _along(findings)
    mains = [f for f in findings if f.kind == "mains"]
    if mains:
        most = max((float(f.evidence["relative"]) for f in mains), key=abs)
        parts.append(f"the mains {_times(len(mains))}, by up to {100 * most:+.1f} %")
    return "; ".join(parts) if parts else "nothing"


def _failed(findings: Sequence[Finding], bank: Bank) -> str:
    parts = _told(findings, FAILED)
    if not parts and not any_read(bank):
        return "not known: nothing was read"
    return "; ".join(parts) if parts else "nothing that these meters could show"


def _told(findings: Sequence[Finding], kinds: dict[str, str]) -> list[str]:
    """`regulator dropped out 7 times, 1:10 to 3:20`: each point and kind once, the most frequent first."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for f in findings:
        if f.kind in kinds:
            groups.setdefault((f.point or "the set", f.kind), []).append(f)
    parts = []
    for (point, kind), group in sorted(groups.items(), key=lambda item: -len(item[1])):
        first, last = min(f.start_ns for f in group), max(f.start_ns for f in group)
        when = f"at {span(first / 1e9)}" if len(group) == 1 else f"{span(first / 1e9)} to {span(last / 1e9)}"
        stands = ", the last not over" if any(f.end_ns is None for f in group) and kind != "step" else ""
        times = "" if len(group) == 1 else f" {_times(len(group))}"
        parts.append(f"{point} {kinds[kind]}{times}, {when}{stands}")
    return parts


def _sure(tracks: Sequence[Track], findings: Sequence[Finding], upto_ns: int) -> str:
    """What could have hidden: shorter than two readings of a meter, or while one was away."""
    measured = [t for t in tracks if t.unit is not Unit.STATE and t.segment.silence.period_s > 0]
    if not measured:
        return "no meter told its rate yet"
    quickest = min(measured, key=lambda t: t.period_s)
    slowest = max(measured, key=lambda t: t.period_s)
    surely = f"dropouts are surely seen from {span(2 * quickest.period_s)} ({quickest.name})"
    if slowest is not quickest:
        surely += f" to {span(2 * slowest.period_s)} ({slowest.name})"
    blind: dict[str, int] = {}
    for f in findings:
        if f.severity == "meter" and f.point:
            lasted = (f.end_ns if f.end_ns is not None else upto_ns) - f.start_ns
            blind[f.point] = blind.get(f.point, 0) + lasted
    gaps = [f"{name} {span(ns / 1e9)}" for name, ns in sorted(blind.items(), key=lambda item: -item[1])]
    return surely + (f"; not seen: {_names(gaps)}" if gaps else "; no meter was away")


def _names(names: Iterable[str]) -> str:
    listed = list(names)
    more = f" and {len(listed) - NAMED} more" if len(listed) > NAMED else ""
    return ", ".join(listed[:NAMED]) + more


def _times(count: int) -> str:
    return "once" if count == 1 else "twice" if count == 2 else f"{count} times"
