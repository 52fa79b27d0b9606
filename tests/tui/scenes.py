"""Hand-made boards of the Saltmarsh Six, one a scene: what a person sees at one moment of a repair."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from benchtui.model.course import Course
from benchtui.model.findings import Finding
from benchtui.model.notes import Mark
from benchtui.model.units import Unit
from benchtui.tui.draw.window import Window
from benchtui.watch.board import Board, Hazard, Interval, Row

S = 1_000_000_000
ON_S = 600
"""When run 2 begins, in seconds since the session began."""


@dataclass(frozen=True)
class Known:
    """A point as the chart has it."""

    unit: Unit
    low: float | None
    nominal: float | None
    high: float | None
    limit: float | None = None
    step: float = 0.1
    where: str = ""
    seen: bool = False


POINTS = {
    "B+1": Known(Unit.V, 242.25, 285.0, 313.5, 350.0, 0.1, "reservoir capacitor C31"),
    "B+2": Known(Unit.V, 216.0, 240.0, 264.0, 350.0, 0.1, "second reservoir capacitor C32"),
    "screen": Known(Unit.V, 166.5, 185.0, 203.5, 250.0, 0.1, "C22"),
    "V6 cathode": Known(Unit.V, 7.99, 9.4, 10.81, None, 0.01, "pin 8"),
    "regulator": Known(Unit.V, 145.0, 150.0, 155.0, None, 0.1, "V8 pin 1"),
    "pilot": Known(Unit.STATE, None, 1.0, None, seen=True),
    "mains": Known(Unit.VAC, 207.0, 230.0, 253.0, None, 1.0),
    "heater": Known(Unit.VAC, 5.67, 6.3, 6.93, None, 0.01),
}


def row(point: str, value: float | None, sign: str = "=", word: str = "in", **more: Any) -> Row:
    """A row of the chart above."""
    known = POINTS[point]
    filled: dict[str, Any] = {
        "level": value,
        "step": known.step if known.unit is not Unit.STATE else 0.0,
        "noise": known.step if known.unit is not Unit.STATE else 0.0,
        "age_s": 0.3,
        "period_s": 0.3,
        "meter": None if known.seen else "A",
        "seen": known.seen,
        "where": known.where,
    }
    filled.update(more)
    return Row(
        point=point,
        unit=known.unit,
        sign=sign,
        word=word,
        value=value,
        low=known.low,
        nominal=known.nominal,
        high=known.high,
        limit=known.limit,
        **filled,
    )


def finding(
    number: int, kind: str, point: str | None, start_s: float, end_s: float | None, **evidence: Any
) -> Finding:
    """A finding of run 2; times in seconds since power-on."""
    start = int((ON_S + start_s) * S)
    return Finding(
        number,
        kind,
        point,
        start,
        None if end_s is None else int((ON_S + end_s) * S),
        start + S // 2,
        start + S // 2,
        {**EVIDENCE.get(kind, {}), **evidence},
    )


EVIDENCE: Mapping[str, Mapping[str, Any]] = {
    "power_on": {"run": 2, "source": "mains"},
    "settled": {"value": 285.0, "took_s": 66.0},
    "dropout": {"level": 284.0, "depth": -96.0, "count": 1, "after_mark": ON_S + 128.0},
    "outside": {"value": 161.2, "by": -5.3, "side": "low", "low": 166.5, "high": 203.5},
    "fed_but_out": {
        "feed": "B+4", "feed_value": 93.0, "strikes": [65.0, 90.0], "holds": [50.0, 65.0],
        "suspects": "lamp, R41 or one of their joints", "after_mark": ON_S + 244.0,
    },
    "limit": {"peak": 352.0, "rating": 350.0, "surge": None, "confirmed": True},
    "gap": {"meter": "A"},
}  # fmt: skip
"""What the findings of each kind were judged by."""
TEXTS: Mapping[str, str] = {
    "fed_but_out": "had 93 V, strikes by 90 V; lamp, R41 or a joint",
    "outside": "161 V, 6 V too low; B+2 good: R12, C22",
    "dropout": "-96 V for 0.4 s, 3 s after tap",
    "limit": "352 V, never above 350 V, for 1.2 s; V6 draws nothing: switch off",
    "gap": "no readings for 11 s: meter A or its cable",
    "settled": "B+1 285 V, B+2 240 V, screen 184 V",
    "power_on": "run 2 begins",
}


def say(finding: Finding) -> str:
    """Stands in for the text of a finding."""
    return TEXTS.get(finding.kind, finding.kind)


def board(after_s: float, rows: tuple[Row, ...], **more: Any) -> Board:
    """A board of run 2, so many seconds after power-on."""
    filled: dict[str, Any] = {
        "set_name": "Saltmarsh Six",
        "run": 2,
        "on_ns": ON_S * S,
        "mains": 231.0,
        "recording": True,
        "large": ("B+1", "B+2", "V6 cathode"),
        "next_point": "V6 cathode",
    }
    filled.update(more)
    return Board(at_ns=int((ON_S + after_s) * S), rows=rows, **filled)


def foreseen(value: float, half: float, at_s: float) -> Interval:
    """A prediction that is met `at_s` after power-on."""
    at = ON_S + at_s
    return Interval(value, value - half, value + half, at, at - 5, at + 5)


def warmup() -> Board:
    """Twenty-four seconds after power-on everything rises."""
    up = {"sign": "^", "word": "rising"}
    rows = (
        row("B+1", 212.0, **up, predicted=foreseen(285.0, 6.0, 64)),
        row("B+2", 163.0, **up, predicted=foreseen(240.0, 7.0, 74)),
        row("screen", 121.0, **up),
        row("V6 cathode", 3.1, **up, predicted=foreseen(9.4, 0.3, 79)),
        row("regulator", 96.4, **up),
        row("pilot", 1.0, "=", "lit", age_s=3.0),
        row("mains", 231.0),
        row("heater", 6.24),
    )
    hazard = Hazard(True, "on", "B+1", 212.0, Unit.V, "A", 0.3)
    return board(24, rows, hazard=hazard)


def fault() -> Board:
    """Four minutes on: the pilot has gone out, the screen is low, both told; only the pilot is new."""
    steady = {"settled": True, "drift_per_h": 0.0}
    rows = (
        row("B+1", 284.0, **steady),
        row("B+2", 238.0, **steady),
        row("screen", 161.2, "!!", "out, low", drift_per_h=-31.0, fault=2, acknowledged=True),
        row("V6 cathode", 9.38, **steady),
        row("regulator", 150.2, **steady),
        row("pilot", 0.0, "!!", "out", age_s=3.0, fault=4, acknowledged=False),
        row("mains", 231.0),
        row("heater", 6.24),
    )
    findings = (
        finding(0, "power_on", None, 0, 0),
        finding(5, "settled", None, 66, 66),
        finding(1, "dropout", "B+1", 131, 131.4),
        finding(2, "outside", "screen", 211, None),
        finding(4, "fed_but_out", "pilot", 247, None),
    )
    marks = (Mark((ON_S + 128) * S, "tap", what="V6"), Mark((ON_S + 240) * S, "tap"))
    hazard = Hazard(True, "on", "B+1", 284.0, Unit.V, "A", 0.3)
    return board(
        250,
        rows,
        hazard=hazard,
        findings=findings,
        marks=marks,
        acknowledged=frozenset({1, 2}),
        next_point=None,
    )


def asleep() -> Board:
    """The same, with the heater's meter silent and an earlier gap of meter A."""
    base = fault()
    rows = list(base.rows)
    rows[0] = replace(rows[0], value=284.3, drift_per_h=-2.0)
    rows[1] = replace(rows[1], value=238.1)
    rows[7] = row("heater", None, "x", "no reading", age_s=9.0)
    gap = finding(3, "gap", "B+1", 186, 197)
    findings = (*base.findings[:4], gap, base.findings[4])
    marks = (base.marks[0], Mark((ON_S + 167) * S, "heat"), base.marks[1])
    return replace(base, rows=tuple(rows), findings=findings, marks=marks)


def rating() -> Board:
    """B+1 above its rating while V6 draws nothing."""
    rows = (
        row("B+1", 352.0, "#", "RATING passed", fault=1, acknowledged=False),
        row("B+2", 258.4, "?", "undecided", accuracy=3.1),
        row("screen", 203.2, "?", "undecided", accuracy=2.4),
        row("V6 cathode", 0.4, "~", "restless"),
        row("regulator", 150.9),
        row("pilot", 1.0, "=", "lit", age_s=3.0),
        row("mains", 231.0),
        row("heater", 6.24),
    )
    findings = (finding(0, "power_on", None, 0, 0), finding(1, "limit", "B+1", 30, None))
    hazard = Hazard(True, "on", "B+1", 352.0, Unit.V, "A", 0.3)
    return board(31, rows, hazard=hazard, findings=findings)


def bleeding() -> Board:
    """After power-off: B+1 falls, B+2 has lost its meter."""
    at = ON_S + 250 + 41

    def by(left_s: float) -> Interval:
        return Interval(30.0, 30.0, 30.0, at + left_s - 10, at + left_s - 20, at + left_s)

    down = {"sign": "v", "word": "falling"}
    rows = (
        row("B+1", 143.0, **down, bleed=by(85)),
        row("B+2", None, "", "not measured", meter=None, age_s=52.0),
        row("screen", 96.0, **down, bleed=by(58)),
        row("V6 cathode", 0.0, "", "below 30 V"),
        row("regulator", 87.6, **down, bleed=by(52)),
        row("pilot", 0.0, "", "out", age_s=3.0),
        row("mains", 0.0, "", "off"),
        row("heater", 0.0, "", "off"),
    )
    rows = (rows[0], replace(rows[1], value=238.0), *rows[2:])
    hazard = Hazard(True, "off", "B+1", 143.0, Unit.V, "A", 0.3, ("B+2",), by(85), True)
    return board(
        291,
        rows,
        hazard=hazard,
        on_ns=None,
        off_ns=(ON_S + 250) * S,
        mains=0.0,
        next_point=None,
        findings=(finding(0, "power_on", None, 0, 0),),
    )


def below() -> Board:
    """All that were above the level have since given fresh readings below it."""
    base = bleeding()
    rows = tuple(
        replace(r, value=12.0, level=12.0, sign="", word="below 30 V", bleed=None)
        for r in (*base.rows[:3], base.rows[4])
    )
    hazard = Hazard(False, "below", "B+1", 12.0, Unit.V, "A", 0.3)
    return replace(base, rows=(*rows[:3], base.rows[3], rows[3], *base.rows[5:]), hazard=hazard)


def b_plus(point: str, shown: Window, columns: int) -> Course | None:
    """A supply that rises, overshoots and settles at 284 V, drops once, and has a gap from 186 s to 197 s."""
    return course_of(shown, columns, end_s=250.0, gap=(186.0, 197.0))


def b_plus_whole(point: str, shown: Window, columns: int) -> Course | None:
    """The same without the gap."""
    return course_of(shown, columns, end_s=250.0, gap=None)


def b_plus_early(point: str, shown: Window, columns: int) -> Course | None:
    """The same, 24 s after power-on."""
    return course_of(shown, columns, end_s=24.0, gap=None)


def course_of(shown: Window, columns: int, end_s: float, gap: tuple[float, float] | None) -> Course:
    """Columns of the curve above."""
    edges = np.linspace(shown.start_ns / 1e9 - ON_S, shown.end_ns / 1e9 - ON_S, columns + 1)
    middle = (edges[1:] + edges[:-1]) / 2
    rise = np.where(middle < 12, 0.0, 1 - np.exp(-(middle - 12) / 9.0))
    value = rise * (284 + 18 * np.exp(-np.maximum(middle - 40, 0) / 30.0))
    low, high = value - 0.5, value + 0.5
    low[(edges[1:] > 131) & (edges[:-1] < 131.4)] -= 96
    missing = middle > end_s
    hole = np.zeros(columns, dtype=bool)
    if gap is not None:
        hole = (edges[1:] > gap[0]) & (edges[:-1] < gap[1])
    low[missing | hole] = high[missing | hole] = np.nan
    return Course(shown.start_ns, shown.end_ns, low, high, hole, Unit.V)


def nothing(point: str, shown: Window, columns: int) -> Course | None:
    """No course is known."""
    return None
