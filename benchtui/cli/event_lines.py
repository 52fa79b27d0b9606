"""Events as lines of text: what the dashboard shows, for pipes, screen readers and dumb terminals."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from .console import say
from .hazard_text import hazard_text
from .judge_table import MARK, clock, mark_text

if TYPE_CHECKING:
    from benchtui.live import Live
    from benchtui.model.findings import Event

ACTS = {"open": "found", "close": "over", "merge": "same as", "withdraw": "withdrawn", "amend": "now"}


class EventLines:
    """Events as lines: the time at which it became known, what became of which finding, and its text."""

    def __init__(self, live: Live, put: Callable[[str], None] = say) -> None:
        self._live = live
        self._put = put
        self._said: dict[int, str] = {}
        self._marks = 0
        self._hazard: tuple[object, ...] = ("cold", False, ())

    def show(self) -> None:
        """Prints the step's marks and events, then what can hurt if that has changed.

        A finding that was amended without another word is not repeated.
        """
        marks, events = self._live.board.marks, self._live.new_events
        for mark in marks[self._marks :]:
            self._show_events([e for e in events if e.at_ns < mark.t_ns])
            events = [e for e in events if e.at_ns >= mark.t_ns]
            self._put(f"{clock(mark.t_ns / 1e9):>9}  {MARK:8}  {mark_text(mark)}")
        self._marks = len(marks)
        self._show_events(events)
        hazard = self._live.board.hazard
        state = (hazard.phase, hazard.live, hazard.not_measured)
        if state != self._hazard:
            self._hazard = state
            if text := hazard_text(hazard):
                self._put(f"{clock(self._live.board.at_ns / 1e9):>9}  {'!':8}  {text}")

    def _show_events(self, events: list[Event]) -> None:
        from benchtui.report.say import sentence

        for event in events:
            finding = self._live.bank.folding.get(event.finding)
            text = sentence(finding, self._live.chart)
            if event.act == "amend" and self._said.get(event.finding) == text:
                continue
            self._said[event.finding] = text
            self._put(
                f"{clock(event.at_ns / 1e9):>9}  {finding.severity:8}  #{event.finding} "
                f"{ACTS[event.act]}: {text}"
            )
