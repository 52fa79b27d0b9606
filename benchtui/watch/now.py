"""The board: what a person is shown at this instant, decided here and drawn elsewhere."""

from __future__ import annotations

from collections.abc import Iterable

from benchtui.chart.chart import Chart, Point
from benchtui.model.findings import Finding
from benchtui.model.units import Unit

from .bank import Bank
from .board import Board, Interval, Row
from .hazard import hazard
from .place.banding import band, decide, guard
from .place.desk import Desk
from .place.track import Track
from .summary import LOOKED_S, decision_of, drift_per_h, point_state

LEVEL_S = 0.5


def board(
    bank: Bank,
    *,
    acknowledged: Iterable[int] = (),
    recording: bool = False,
    replaying: bool = False,
    paused: bool = False,
    fast: float = 1.0,
) -> Board:
    """Everything on the first screen as of the bank's watermark."""
    desk = bank.placer.desk
    taken = frozenset(acknowledged)
    findings = tuple(bank.folding.listed())
    faults = _faults(findings, taken)
    mains = desk.mains()
    rows = tuple(_row(bank, name, faults, taken) for name in _names(bank.chart, desk))
    return Board(
        at_ns=max(bank.upto_ns, 0),
        set_name=bank.chart.name,
        chassis=bank.chart.chassis,
        run=desk.run,
        on_ns=desk.on_ns if desk.running else None,
        on_seen=not desk.running or desk.on_ns is not None,
        run_since_ns=desk.since_ns if desk.running and desk.on_ns is None else None,
        off_ns=desk.off_ns,
        hazard=hazard(bank),
        mains=mains.level(desk.now_ns) if mains is not None else None,
        rows=rows,
        findings=findings,
        acknowledged=taken,
        marks=tuple(desk.marks),
        recording=recording,
        replaying=replaying,
        paused=paused,
        fast=fast,
        next_point=_next(bank),
    )


def _next(bank: Bank) -> str | None:
    """The first point of the chart that a meter could measure and none does."""
    for p in bank.chart.points:
        if not p.seen and p.unit is not Unit.STATE and p.name not in bank.placer.desk.tracks:
            return p.name
    return None


def _names(chart: Chart, desk: Desk) -> list[str]:
    names = [p.name for p in chart.points]
    return names + [name for name in desk.tracks if name not in names]


def _faults(findings: tuple[Finding, ...], taken: frozenset[int]) -> dict[str, Finding]:
    """The fault that each point shows: one that lasts, or else the newest that nobody acknowledged."""
    shown: dict[str, Finding] = {}
    for f in findings:
        if f.severity != "fault" or f.point is None:
            continue
        if f.state == "open" or f.id not in taken:
            shown[f.point] = f
    return shown


def _row(bank: Bank, name: str, faults: dict[str, Finding], taken: frozenset[int]) -> Row:
    desk = bank.placer.desk
    track = desk.tracks.get(name)
    fault = faults.get(name)
    number = fault.id if fault is not None else None
    known = number is None or number in taken
    if track is None:
        point = bank.chart.point(name) or Point(name, Unit.UNKNOWN)
        return Row(
            point=name, unit=point.unit, sign="", word="not measured", value=None, level=None, step=0.0,
            noise=0.0, low=point.low, nominal=point.nominal, high=point.high, limit=point.limit, age_s=None,
            period_s=None, meter=None, seen=point.seen, fault=number, acknowledged=known, where=point.where,
        )  # fmt: skip
    newest = track.shown(desk.now_ns)
    b = band(desk, track)
    value = newest[1] if newest is not None else None
    sign, word = _state(bank, track, fault)
    level = _level(track, desk.now_ns)
    line = track.segment.course.line
    return Row(
        point=name,
        unit=track.unit,
        sign=sign,
        word=word,
        value=value,
        level=level if level is not None else value,
        step=track.step,
        noise=line.noise if line is not None else 0.0,
        low=b.low if b.low is not None else track.point.low,
        nominal=b.nominal,
        high=b.high if b.high is not None else track.point.high,
        limit=track.point.limit,
        age_s=(desk.now_ns - newest[0]) / 1e9 if newest is not None else None,
        period_s=track.period_s,
        meter=track.segment.channel.meter,
        seen=track.point.seen,
        settled=track.settled_ns is not None,
        drift_per_h=drift_per_h(desk, track),
        predicted=_predicted(bank, track),
        bleed=_bleed(bank, track),
        fault=number,
        acknowledged=known,
        accuracy=guard(track, value or 0.0) or None,
        where=track.point.where,
        channel=next((c for c, t in bank.leads.items() if t is track), None),
    )


def _predicted(bank: Bank, track: Track) -> Interval | None:
    found, _ = bank.placer.foresight.predicted(track)
    return Interval(**found) if found is not None else None


def _bleed(bank: Bank, track: Track) -> Interval | None:
    found, _ = bank.placer.foresight.bleed(track)
    if found is None:
        return None
    below = found["below"]
    return Interval(below, below, below, found["at_s"], found["at_low_s"], found["at_high_s"])


def _level(track: Track, now_ns: int) -> float | None:
    _, x = track.segment.raw.between(now_ns - int(LEVEL_S * 1e9), now_ns)
    if not len(x):
        return None
    values = sorted(x.tolist())
    return float(values[len(values) // 2])


def _state(bank: Bank, track: Track, fault: Finding | None) -> tuple[str, str]:
    """The sign and the word of a point, most pressing first."""
    desk = bank.placer.desk
    if track.unit is Unit.STATE:
        return _lamp(bank, track, fault)
    if fault is not None and fault.kind == "limit" and fault.state == "open":
        return "#", "RATING passed"
    if "overload" in track.trouble:
        return "x", "overload"
    if "function" in track.trouble:
        return "x", "wrong function"
    if "reversed" in track.trouble:
        return "x", "reversed"
    if not track.fresh(desk.now_ns):
        return "x", "no reading"
    if not desk.running:
        return _off(desk, track)
    if fault is not None and fault.state == "open" and fault.kind == "chatter":
        return "~", "restless"
    return _in_run(bank, track, fault)


def _in_run(bank: Bank, track: Track, fault: Finding | None) -> tuple[str, str]:
    desk = bank.placer.desk
    level = _level(track, desk.now_ns) or track.level(desk.now_ns) or 0.0
    decision, why = decision_of(bank, track)
    if not why:
        decision = decide(band(desk, track), level, guard(track, level))
    open_fault = fault is not None and fault.state == "open" and fault.kind in ("outside", "dropout")
    if decision == "outside" or open_fault:
        b = band(desk, track)
        if b.low is not None and level < b.low:
            return "!!", "out, low"
        if b.high is not None and level > b.high:
            return "!!", "out, high"
        if open_fault:
            assert fault is not None
            low = fault.evidence.get("depth", 0.0) * fault.evidence.get("level", 1.0) < 0
            return "!!", "out, low" if low else "out, high"
    if decision == "inside":
        return "=", "in"
    if decision == "undecided":
        return "?", "undecided"
    state = point_state(desk, track)
    sign = {"rising": "^", "falling": "v", "settling": "^"}.get(state, "")
    return sign, {"unknown": "", "settled": "steady"}.get(state, state)


def _off(desk: Desk, track: Track) -> tuple[str, str]:
    newest = track.shown(desk.now_ns)
    level = abs(newest[1]) if newest is not None else 0.0
    if track.shows_mains:
        return ("", "off") if level <= track.segment.course.cold else ("", "on")
    if level <= desk.settings.warn_above:
        return "", "cold" if desk.off_ns is None else f"below {desk.settings.warn_above:g} V"
    return "v", "falling"


def _lamp(bank: Bank, track: Track, fault: Finding | None) -> tuple[str, str]:
    desk = bank.placer.desk
    newest = track.shown(desk.now_ns)
    if newest is None:
        return "x", "not looked"
    stale = not track.segment.channel.eye and not track.fresh(desk.now_ns)
    if stale:
        return "x", "no reading"
    if track.segment.channel.eye and desk.now_ns - newest[0] > 10 * LOOKED_S * 1e9:
        return "?", "not looked"
    lit = newest[1] > 0.5
    if not desk.running:
        return "", "lit" if lit else "out"
    if not lit and fault is not None and fault.state == "open":
        return "!!", "out"
    wanted = track.point.nominal
    if wanted is None or lit == (wanted == 1):
        return "=", "lit" if lit else "out"
    return "", "lit" if lit else "out"
