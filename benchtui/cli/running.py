"""A session on its way: in the dashboard, or as lines of text; and its orderly end."""

from __future__ import annotations

import os
import shlex
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from benchtui.model.errors import BenchError

from .console import say, say_error
from .hazard_text import hazard_text
from .judge import status
from .judge_table import MARK, clock, mark_text

if TYPE_CHECKING:
    from benchtui.live import Live
    from benchtui.model.findings import Event

STEP_S = 0.05
"""Wall time between two steps in text mode."""
ACTS = {"open": "found", "close": "over", "merge": "same as", "withdraw": "withdrawn", "amend": "now"}


def run(live: Live, *, text: bool, kept: Path | None = None) -> int:
    """Runs the session to its end and closes it, however it ends; gives the exit status.

    `kept`: the session file, to be named at the end.
    """
    try:
        if text:
            _lines(live)
        else:
            from benchtui.tui.app import run_dashboard

            run_dashboard(live)
    finally:
        live.close()
    if live.trouble is not None:
        say_error(live.trouble)
        return 2
    if kept is not None:
        say_error(ending(live, kept))
    return status(live.bank)


def ending(live: Live, kept: Path) -> str:
    """What was found, where it is kept, and the commands that show it again, as they can be typed here."""
    faults = sum(finding.severity == "fault" for finding in live.bank.folding.listed())
    count = {0: "no fault seen", 1: "1 fault"}.get(faults, f"{faults} faults")
    return (
        f"{count}; the session is in {kept}\n"
        f"to read what was found: {command('judge', str(kept))}\n"
        f"to see it again: {command('replay', str(kept))}"
    )


def command(*args: str) -> str:
    """A command line of this program that works where it was started, whether or not it is on the PATH."""
    started = sys.argv[0]
    found = shutil.which("benchtui")
    if Path(started).suffix == ".py":
        program = [sys.executable, "-m", "benchtui.cli.main"]
    elif found is not None and Path(found).absolute() == Path(started).absolute():
        program = ["benchtui"]
    else:
        program = [started]
    line = [*program, *args]
    return subprocess.list2cmdline(line) if sys.platform == "win32" else shlex.join(line)


def check_terminal(text: bool) -> None:
    """Raises:
    BenchError: the dashboard is wanted where it cannot be shown.
    """
    if text or (sys.stdout.isatty() and sys.stdin.isatty() and os.environ.get("TERM") != "dumb"):
        return
    raise BenchError("the dashboard needs a terminal: add --text for plain lines")


def _lines(live: Live) -> None:
    """One line an event until the session is done, someone presses ctrl+c, or nobody reads any more."""
    lines = EventLines(live)
    with _asked_to_stop() as stop:
        try:
            while not live.done and not stop.wait(STEP_S):
                live.step()
                lines.show()
            live.close()
            lines.show()
        except BrokenPipeError:
            _let_go_of_stdout()


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


@contextmanager
def _asked_to_stop() -> Iterator[threading.Event]:
    """An event that is set by ctrl+c or by a request to end; nothing is interrupted in the middle."""
    stop = threading.Event()
    names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), lambda *_: stop.set()) for name in names}
    try:
        yield stop
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


def _let_go_of_stdout() -> None:
    """The reader of our output is gone: nothing more is written to it, not even at exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
