"""`benchtui watch`: a live session with the meters of a bench, kept in a file from its first second."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from .console import WARN_ABOVE, example


def add_parser(commands: Any) -> None:
    """Adds the command `watch`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "watch",
        help="a live session with your meters, in the dashboard",
        description="Reads the meters of the bench, judges them against the chart and keeps it all.",
        **example('benchtui watch --chart my-set.toml --bench my-bench.toml --lead "A=B+2"'),
    )
    parser.add_argument("--chart", metavar="C", type=Path, required=True, help="chart of the set (TOML)")
    parser.add_argument(
        "--bench",
        metavar="B",
        help="bench of meters (TOML): a file, or a name in your configuration folder (guide: settings.md)",
    )
    parser.add_argument("--settings", metavar="S", type=Path, help="settings (TOML) instead of your own")
    parser.add_argument("--warn-above", metavar="V", help=WARN_ABOVE)
    parser.add_argument(
        "--lead", metavar="METER=POINT", action="append", default=[], help="where a meter's lead is"
    )
    add_keeping(parser)
    parser.set_defaults(run=run)


def add_keeping(parser: argparse.ArgumentParser) -> None:
    """Adds the options that `watch` and `demo` have in common."""
    parser.add_argument("--session", metavar="OUT", type=Path, help="file to keep the session in; a new one")
    parser.add_argument("--wire", metavar="OUT", type=Path, help="file to keep every byte of the wires in")
    parser.add_argument(
        "--for", metavar="TIME", dest="seconds", help="end after this time: seconds, m:ss or h:mm:ss"
    )
    parser.add_argument("--text", action="store_true", help="no screen: one line an event")


def run(args: argparse.Namespace) -> int:
    """Watches until it is told to stop; gives the exit status.

    Raises:
        BenchError: a file, a driver or a port is not as it must be.
    """
    from .running import check_terminal

    check_terminal(args.text)

    from benchtui.port.clock import Clock

    from . import inputs, places
    from .hooking import hooked, with_leads
    from .starting import Start, start

    chart = inputs.chart(args.chart)
    bench_file = places.bench_file(args.bench)
    bench = inputs.bench(bench_file)
    settings = inputs.settings(args.settings or places.settings_file(), inputs.overrides(args.warn_above))
    hookup = with_leads(hooked(bench, chart, str(bench_file)), args.lead, chart)
    plan = Start(chart, bench, settings, hookup, Clock())
    return start(plan, args)
