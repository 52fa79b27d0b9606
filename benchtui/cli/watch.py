"""`benchtui watch`: a live session with the meters of a bench, kept in a file from its first second."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchtui.model.errors import BenchError

if TYPE_CHECKING:
    from benchtui.port.hookup import Hookup


def add_parser(commands: Any) -> None:
    """Adds the command `watch`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "watch",
        help="a live session with your meters, in the dashboard",
        description="Reads the meters of the bench, judges them against the chart and keeps it all.",
    )
    parser.add_argument("--chart", metavar="C", type=Path, required=True, help="chart of the set (TOML)")
    parser.add_argument(
        "--bench", metavar="B", help="bench of meters (TOML): a file, or a name in your configuration folder"
    )
    parser.add_argument("--settings", metavar="S", type=Path, help="settings (TOML) instead of your own")
    parser.add_argument("--warn-above", metavar="V", help="level above which a point counts as live: 50V")
    parser.add_argument(
        "--lead", metavar="METER=POINT", action="append", default=[], help="where a meter's lead is"
    )
    add_keeping(parser)
    parser.set_defaults(run=run)


def add_keeping(parser: argparse.ArgumentParser) -> None:
    """Adds the options that `watch` and `demo` have in common."""
    parser.add_argument("--session", metavar="OUT", type=Path, help="file to keep the session in; a new one")
    parser.add_argument("--wire", metavar="OUT", type=Path, help="file to keep every byte of the wires in")
    parser.add_argument("--for", metavar="SECONDS", dest="seconds", help="end after so many seconds")
    parser.add_argument("--text", action="store_true", help="no screen: one line an event")


def run(args: argparse.Namespace) -> int:
    """Watches until it is told to stop; gives the exit status.

    Raises:
        BenchError: a file, a driver or a port is not as it must be.
    """
    from .running import check_terminal

    check_terminal(args.text)

    from benchtui.port.clock import Clock
    from benchtui.port.hookup import hook_up

    from . import inputs, places
    from .starting import Start, start

    chart = inputs.chart(args.chart)
    bench = inputs.bench(places.bench_file(args.bench))
    settings = inputs.settings(args.settings or places.settings_file(), inputs.overrides(args.warn_above))
    hookup = with_leads(hook_up(bench, chart), args.lead)
    plan = Start(chart, bench, settings, hookup, Clock())
    return start(plan, args)


def with_leads(hookup: Hookup, leads: list[str]) -> Hookup:
    """The hookup with leads moved as `METER=POINT` says; `METER=` is on nothing.

    Raises:
        BenchError: there is no such meter, or it has several channels.
    """
    placed = list(hookup.leads)
    for text in leads:
        name, equals, point = text.partition("=")
        name, point = name.strip(), point.strip()
        fitting = [
            number
            for number, channel in enumerate(hookup.channels)
            if not channel.eye and name in (channel.name, channel.meter)
        ]
        if not equals or len(fitting) != 1:
            known = ", ".join(channel.name for channel in hookup.channels if not channel.eye)
            raise BenchError(f"--lead {text}: write METER=POINT, the meter one of {known}")
        placed = [
            replace(lead, point=point or None) if lead.channel == fitting[0] else lead for lead in placed
        ]
    return replace(hookup, leads=tuple(placed))
