"""A session for the dashboard's tests: hand-made boards, everything asked of it written down.

`python -m tests.tui.fake_live [speed]` plays one evening of the Saltmarsh Six in the terminal.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.course import Course
from benchtui.model.findings import Event, Finding
from benchtui.model.notes import Mark
from benchtui.model.readings import Channel
from benchtui.model.units import Unit
from benchtui.tui.draw.window import Window
from benchtui.watch.board import Board, Hazard, Row

from . import scenes
from .scenes import ON_S, POINTS, S

CourseOf = Callable[[str, Window, int], Course | None]


class Channels:
    """Stands in for the bank: it has the channel table."""

    def __init__(self, channels: Sequence[Channel]) -> None:
        self.channels = tuple(channels)


def chart(chassis: str = "isolated") -> Chart:
    """The chart of the scenes."""
    points = tuple(
        Point(
            name, p.unit, where=p.where, nominal=p.nominal, low=p.low, high=p.high, limit=p.limit, seen=p.seen
        )
        for name, p in POINTS.items()
    )
    return Chart("Saltmarsh Six", mains=230.0, chassis=chassis, points=points)


class FakeLive:
    """Gives one board after the other; the last for ever."""

    def __init__(
        self,
        boards: Sequence[Board] | Callable[[], Board],
        course_of: CourseOf = scenes.nothing,
        chart_: Chart | None = None,
        settings: Settings | None = None,
        channels: Sequence[Channel] = (Channel("A", "A"),),
    ) -> None:
        self._next = boards if callable(boards) else _one_by_one(boards)
        self._course_of = course_of
        self.board = Board()
        self.chart = chart_ or chart()
        self.settings = settings or Settings()
        self.bank = Channels(channels)
        self.new_events: list[Event] = []
        self.trouble: str | None = None
        self.mishap: str | None = None
        self.done = False
        self.asked: list[tuple[object, ...]] = []
        self.marks: list[Mark] = []
        self.acknowledged: set[int] = set()
        self.paused = False
        self.takes = True

    def step(self) -> Board:
        board = self._next()
        known = board.acknowledged | self.acknowledged
        rows = tuple(
            replace(r, acknowledged=r.fault is None or r.acknowledged or r.fault in known) for r in board.rows
        )
        marks = (*board.marks, *self.marks)
        self.board = replace(board, rows=rows, acknowledged=known, marks=marks, paused=self.paused)
        return self.board

    def course(self, point: str, start_ns: int, end_ns: int, columns: int) -> Course:
        self.asked.append(("course", point, start_ns, end_ns, columns))
        found = self._course_of(point, Window(start_ns, end_ns, start_ns), columns)
        return found or scenes.course_of(Window(start_ns, end_ns, start_ns), columns, -1e9, None)

    def mark(self, kind: str, note: str = "", what: str = "") -> Mark | None:
        self.asked.append(("mark", kind, note, what))
        made = Mark(self.board.at_ns, kind, note, what)
        if self.takes:
            self.marks.append(made)
        return made if self.takes else None

    def seen(self, point: str, lit: bool) -> bool:
        self.asked.append(("seen", point, lit))
        return self.takes

    def move_lead(self, channel: int, point: str | None) -> bool:
        self.asked.append(("move_lead", channel, point))
        return self.takes

    def acknowledge(self, finding: int | None) -> None:
        self.asked.append(("acknowledge", finding))
        known = {f.id for f in self.board.findings} if finding is None else {finding}
        self.acknowledged |= known

    def pause(self, paused: bool) -> None:
        self.asked.append(("pause", paused))
        self.paused = paused


def _one_by_one(boards: Sequence[Board]) -> Callable[[], Board]:
    left = list(boards)

    def following() -> Board:
        return left.pop(0) if len(left) > 1 else left[0]

    return following


def opened(finding: Finding, seq: int = 0) -> Event:
    """The event that announces a finding."""
    patch = {
        "kind": finding.kind,
        "point": finding.point,
        "start_ns": finding.start_ns,
        "end_ns": finding.end_ns,
        "evidence": dict(finding.evidence),
    }
    return Event(seq, finding.found_ns, finding.id, "open", patch)


# An evening to look at: run 2, over and over, as a person at the bench would see it.

FOUND = (
    scenes.finding(0, "power_on", None, 0, 0),
    scenes.finding(5, "settled", "B+1", 66, 66),
    scenes.finding(1, "dropout", "B+1", 131, 131.4),
    scenes.finding(2, "outside", "screen", 211, None),
    scenes.finding(4, "fed_but_out", "pilot", 247, None),
)


def evening(t_s: float) -> Board:
    """The set `t_s` seconds after power-on; before 0 it is cold."""
    if t_s < 0:
        rows = tuple(scenes.row(n, 0.0, "", "cold" if p.unit is Unit.V else "off") for n, p in POINTS.items())
        return scenes.board(t_s, rows, run=0, on_ns=None, hazard=Hazard(), mains=0.0, large=())
    rows = tuple(_row(name, t_s) for name in POINTS)
    value = rows[0].value or 0.0
    findings = tuple(f for f in FOUND if f.found_ns <= (ON_S + t_s) * S)
    hazard = Hazard(True, "on", "B+1", value, Unit.V, "A", 0.2)
    return scenes.board(t_s, rows, hazard=hazard, findings=findings, mains=230.0 + math.sin(t_s / 9))


def _row(name: str, t_s: float) -> Row:
    known = POINTS[name]
    wobble = math.sin(t_s * 3.1 + len(name)) * 0.2
    if known.unit is Unit.STATE:
        lit = 14 < t_s < 247
        wrong = t_s >= 247
        sign, word = ("!!", "out") if wrong else ("=", "lit") if lit else ("", "out")
        fault = 4 if wrong else None
        return scenes.row(name, float(lit), sign, word, age_s=t_s % 40, fault=fault, acknowledged=not wrong)
    if known.unit is Unit.VAC:
        return scenes.row(name, (known.nominal or 0.0) + 0.1 * wobble)
    rise = 0.0 if t_s < 12 else 1 - math.exp(-(t_s - 12) / 9.0)
    level = (known.nominal or 0.0) * rise * (
        1 + 0.06 * math.exp(-max(t_s - 40, 0) / 30)
    ) + wobble * known.step
    if name == "screen" and t_s > 200:
        level -= min((t_s - 200) * 2.2, 24)
    if t_s < 66:
        moving = (
            {"sign": "^", "word": "rising"}
            if level < (known.low or 0.0)
            else {"sign": "^", "word": "settling"}
        )
        return scenes.row(name, level, **moving)
    if known.low is not None and level < known.low:
        return scenes.row(name, level, "!!", "out, low", fault=2, acknowledged=t_s < 211.5, settled=True)
    return scenes.row(name, level, settled=True, drift_per_h=0.0)


def main() -> None:
    """Plays the evening."""
    from benchtui.tui.app import run_dashboard

    speed = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    begun = time.monotonic()

    def at() -> Board:
        return evening((time.monotonic() - begun) * speed - 5)

    run_dashboard(FakeLive(at, _course_until_now(lambda: (time.monotonic() - begun) * speed - 5)))


def _course_until_now(now_s: Callable[[], float]) -> CourseOf:
    def course(point: str, shown: Window, columns: int) -> Course | None:
        gap = (186.0, 197.0) if point == "B+1" else None
        return scenes.course_of(shown, columns, now_s(), gap)

    return course


if __name__ == "__main__":
    main()
