"""`benchtui demo`: the simulated Saltmarsh Six on its bench, through real cables and wire formats."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from benchtui.model.errors import BenchError

if TYPE_CHECKING:
    from benchtui.model.notes import Mark
    from benchtui.sim.demo import DemoBench


def add_parser(commands: Any) -> None:
    """Adds the command `demo`."""
    from .replay import speed
    from .watch import add_keeping

    parser: argparse.ArgumentParser = commands.add_parser(
        "demo",
        help="a simulated set with two faults, live",
        description="The simulated Saltmarsh Six of 1957, with nine meters that speak over real cables. "
        "Everything else is the same program. A tap that you mark reaches the set.",
    )
    parser.add_argument("--speed", metavar="X", type=speed, default=1.0, help="times faster than life")
    parser.add_argument(
        "--fault", metavar="NAME", help="healthy, pilot, regulator (default: the last two), or another fault"
    )
    add_keeping(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Runs the demo until it is told to stop; gives the exit status.

    Raises:
        BenchError: there is no such fault, or the system gives no cables.
    """
    from .running import check_terminal

    check_terminal(args.text)

    from benchtui.chart.bench_file import read_bench
    from benchtui.chart.chart_file import read_chart
    from benchtui.port.clock import Clock
    from benchtui.port.hookup import hook_up
    from benchtui.sim.demo import start_demo

    from . import inputs, places
    from .starting import Start, start

    clocks: list[Clock] = []
    try:
        bench_of_demo = start_demo(args.speed, args.fault, now_ns=lambda: clocks[0].now_ns() if clocks else 0)
    except ValueError as error:
        raise BenchError(f"--fault {args.fault}: {error}") from error
    except OSError as error:
        raise BenchError(f"this system gives no cables for the demo: {error}") from error
    with bench_of_demo:
        chart = read_chart(bench_of_demo.chart_text, "the demo's chart")
        bench = read_bench(bench_of_demo.bench_text, "the demo's bench")
        settings = inputs.settings(places.settings_file(), {})
        hookup = hook_up(bench, chart)
        clocks.append(Clock(args.speed))
        plan = Start(chart, bench, settings, hookup, clocks[0], on_mark=lambda mark: _do(bench_of_demo, mark))
        return start(plan, args)


def _do(bench: DemoBench, mark: Mark) -> None:
    """What is marked is also done to the simulated set, where it can be."""
    if mark.kind in ("tap", "on", "off"):
        bench.do(mark.kind)
