"""A session on its way: in the dashboard, or as lines of text; and its orderly end."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from benchtui.model.errors import BenchError
from benchtui.report.outcome import any_read, outcome

from .console import say_error
from .event_lines import EventLines
from .judge import NOT_JUDGED, status
from .streams import NobodyReads, OutputError

if TYPE_CHECKING:
    from benchtui.live import Live

STEP_S = 0.05
"""Wall time between two steps in text mode."""


def run(live: Live, stop: threading.Event, *, text: bool, remark: str = "") -> int:
    """Runs the session until it is done or `stop` is set, and closes it, however it ends.

    Gives the exit status; that of a replay left before its end says nothing of what was not read yet. At the
    end it is said what was found, with the remark, and where the session is.

    Raises:
        BenchError: the lines cannot be written, a recording cannot be read on, or the dashboard failed.
    """
    warnings = Warnings(live)
    whole = False
    try:
        if text:
            _lines(live, stop, warnings)
        else:
            _dashboard(live, stop, warnings)
        whole = not stop.is_set() and live.source.done
    finally:
        live.close()
        warnings.tell()
        if live.keeper is not None:
            say_error(ending(live, live.keeper.path, remark))
    if live.trouble or live.mishap or (live.keeper is not None and not any_read(live.bank)):
        return NOT_JUDGED
    found = status(live.bank)
    left_early = live.keeper is None and not whole
    return 0 if found == NOT_JUDGED and left_early else found


def ending(live: Live, kept: Path, remark: str = "") -> str:
    """What was found, where it is kept, and the commands that show it again, as they can be typed here."""
    return (
        f"{outcome(live.bank)}{remark}; the session is in {kept}\n"
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
    BenchError: the dashboard is wanted where it cannot be shown. It is drawn on standard error.
    """
    streams = (sys.stdin, sys.stdout, sys.stderr)
    if text or (all(s is not None and s.isatty() for s in streams) and os.environ.get("TERM") != "dumb"):
        return
    raise BenchError("the dashboard needs a terminal: add --text for plain lines")


def _dashboard(live: Live, stop: threading.Event, warnings: Warnings) -> None:
    """The dashboard; where it fails itself, a recording goes on in plain lines.

    Raises:
        BenchError: it failed, or the session could not go on; at the end.
    """
    from benchtui.tui.app import DashboardError, run_dashboard

    try:
        run_dashboard(live, stop.is_set)
    except DashboardError as error:
        if live.keeper is not None:
            say_error(f"{error}; the recording goes on, in plain lines, until ctrl+c")
            _lines(live, stop, warnings)
        raise


def _lines(live: Live, stop: threading.Event, warnings: Warnings) -> None:
    """One line an event until the session is done or someone asks it to stop.

    Where nobody reads the lines any more, or they cannot be written, a recording goes on without them.

    Raises:
        OutputError: they could not be written; at the end.
    """
    lines = EventLines(live)
    refused: OutputError | NobodyReads | None = None

    def show() -> None:
        nonlocal refused
        warnings.tell()
        if refused is not None:
            return
        try:
            lines.show()
        except (OutputError, NobodyReads) as error:
            refused = error
            if live.keeper is not None:
                why = str(error) or "nobody reads the lines any more"
                say_error(f"{why}; the recording goes on until ctrl+c or its end")

    while not (live.done or stop.wait(STEP_S) or (refused and live.keeper is None)):
        live.step()
        show()
    live.close()
    show()
    if isinstance(refused, OutputError):
        raise refused


class Warnings:
    """What is wrong with the recording, told on standard error at once, and once."""

    def __init__(self, live: Live) -> None:
        self._live = live
        self._mishap: str | None = None
        self._trouble: str | None = None

    def tell(self) -> None:
        """Whatever has changed since it was last told."""
        mishap, trouble = self._live.mishap, self._live.trouble
        if mishap != self._mishap and mishap is not None:
            say_error(mishap)
        if trouble != self._trouble:
            say_error(f"NOT RECORDED: {trouble}" if trouble else "it is recorded again")
        self._mishap, self._trouble = mishap, trouble
