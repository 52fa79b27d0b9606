"""`benchtui replay FILE`: a recording in the dashboard, as if it happened now, at any speed."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from .console import example, say_error


def add_parser(commands: Any) -> None:
    """Adds the command `replay`."""
    from .judge import add_inputs

    parser: argparse.ArgumentParser = commands.add_parser(
        "replay",
        help="show a session, a wire log or a CSV file again, in the dashboard",
        description="What was recorded, as if it happened now. Reads no settings of yours.",
        **example("benchtui replay evening.session --speed 10"),
    )
    parser.add_argument("file", metavar="FILE", type=Path, help="session, wire log or CSV of readings")
    parser.add_argument("--speed", metavar="X", type=speed, default=1.0, help="times faster than life")
    parser.add_argument("--text", action="store_true", help="no screen: one line an event")
    add_inputs(parser)
    parser.set_defaults(run=run)


def speed(text: str) -> float:
    """A factor above 0, like `10` or `10x`."""
    try:
        factor = float(text.removesuffix("x"))
    except ValueError:
        factor = 0.0
    if not 0.0 < factor <= 1e6:
        raise argparse.ArgumentTypeError(f"{text}: write a factor above 0, like 10")
    return factor


def run(args: argparse.Namespace) -> int:
    """Replays the file; gives the exit status.

    Raises:
        BenchError: something cannot be read.
    """
    from .running import check_terminal
    from .running import run as run_live
    from .stopping import as_event

    check_terminal(args.text)

    from benchtui.live import Live
    from benchtui.port.clock import Clock
    from benchtui.store.replaying import Replaying
    from benchtui.watch.bank import Bank

    from .judge import opened

    recording = opened(args)
    bank = Bank(recording.chart, recording.channels, recording.settings)
    live = Live(Replaying(recording, Clock().now_ns, args.speed), bank, started=recording.started)
    with as_event() as stop:
        status = run_live(live, stop, text=args.text)
    for remark in recording.remarks:
        say_error(remark)
    return status
