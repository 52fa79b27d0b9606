"""The start of a live session: cautions, files that keep it, wires, and away."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from benchtui import __version__
from benchtui.chart.bench import Bench
from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.live import Live
from benchtui.model.errors import BenchError, SessionError
from benchtui.model.notes import Mark
from benchtui.port.clock import Clock
from benchtui.port.hookup import Hookup
from benchtui.port.opener import Opener, open_port
from benchtui.port.wires import Wires
from benchtui.report.cautions import caution_lines
from benchtui.store import wirelog
from benchtui.store.header import Header
from benchtui.store.keeper import Keeper
from benchtui.store.session import Session
from benchtui.watch.bank import Bank

from .console import say, say_error
from .places import new_session_path, sessions_folder
from .running import run as run_live
from .stopping import as_event
from .streams import NobodyReads, OutputError
from .times import time_ns


@dataclass(frozen=True, slots=True)
class Start:
    """All that a live session begins with."""

    chart: Chart
    bench: Bench
    settings: Settings
    hookup: Hookup
    clock: Clock
    opener: Opener = open_port
    on_mark: Callable[[Mark], None] | None = None
    """Is told of every mark that the technician makes."""
    remark: str = ""
    """Said at the end, beside what was found."""


def start(plan: Start, args: argparse.Namespace) -> int:
    """Runs the session as the options say; gives the exit status.

    Raises:
        SessionError: a file that is to keep it cannot be made.
    """
    until_ns = _until(args.seconds)
    say_before = _say if args.text else say_error
    for line in caution_lines(plan.chart.chassis, plan.settings.warn_above):
        say_before(f"! {line}")
    if args.wire is not None and args.wire.exists():
        raise SessionError(f"{args.wire} is there already: nothing is overwritten, give another name")
    path = args.session or new_session_path(plan.chart.name, plan.clock.started.astimezone())
    with as_event() as stop:
        live, log = _begun(plan, path, args.wire, until_ns)
        say_before(f"the session is kept in {path}")
        status = run_live(live, stop, text=args.text, remark=plan.remark)
    if log is not None and log.problem:
        say_error(log.problem)
        return 2
    return status


def _say(text: str) -> None:
    """A line that must be seen, also where standard output goes nowhere."""
    try:
        say(text)
    except (NobodyReads, OutputError):
        say_error(text)


def _begun(
    plan: Start, path: Path, wire: Path | None, until_ns: int | None
) -> tuple[Live, wirelog.WireLog | None]:
    """The session on its way; where it cannot begin, no file of it is left."""
    session = Session.create(path, _header(plan))
    try:
        log = _wire_log(plan, wire) if wire else None
        wires = Wires(plan.hookup, plan.clock, opener=plan.opener, log=log)
    except BaseException:
        session.discard()
        raise
    bank = Bank(plan.chart, plan.hookup.channels, plan.settings)
    live = Live(
        wires,
        bank,
        keeper=Keeper(session, (sessions_folder(),)),
        started=plan.clock.started.astimezone(),
        until_ns=until_ns,
        fast=plan.clock.speed,
        on_mark=plan.on_mark,
    )
    return live, log


def versions() -> dict[str, str]:
    """The programs that the findings come from."""
    import numpy

    python = ".".join(map(str, sys.version_info[:3]))
    return {"benchtui": __version__, "numpy": numpy.__version__, "python": python}


def _header(plan: Start) -> Header:
    return Header(
        set_name=plan.chart.name,
        channels=plan.hookup.channels,
        chart=plan.chart.text,
        bench=plan.bench.text,
        settings=plan.settings.text,
        started_wall_ns=int(plan.clock.started.timestamp() * 1e6) * 1000,
        versions=versions(),
    )


def _wire_log(plan: Start, path: Path) -> wirelog.WireLog:
    header = wirelog.Header(
        started=plan.clock.started.isoformat(),
        channels=plan.hookup.channels,
        meters=tuple(meter.description for meter in plan.hookup.meters),
        chart=plan.chart.text,
        bench=plan.bench.text,
        settings=plan.settings.text,
        versions=versions(),
    )
    return wirelog.WireLog(path, header)


def _until(text: str | None) -> int | None:
    if text is None:
        return None
    like = "a time above 0, like 600, 10:00 or 1:30:00"
    t_ns = time_ns(text, "--for", like)
    if not t_ns:
        raise BenchError(f"--for {text}: write {like}")
    return t_ns
