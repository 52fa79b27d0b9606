"""`benchtui demo`: the simulated Saltmarsh Six on its bench, through real cables and wire formats."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from benchtui.model.errors import BenchError

from .console import example, width, wrapped
from .near import nearest

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
        **example("benchtui demo", "benchtui demo --text --speed 10 --fault pilot --for 3:00"),
    )
    parser.add_argument("--speed", metavar="X", type=speed, default=1.0, help="times faster than life")
    parser.add_argument(
        "--fault",
        metavar="NAME",
        help="healthy, pilot or regulator (without it: the last two at once); a name that is none lists all",
    )
    parser.add_argument(
        "--seed", metavar="N", type=seed, default=None, help="whole number that all chance of it comes from"
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
    from benchtui.sim.demo import DEMO_SEED, start_demo

    from . import inputs, places
    from .starting import Start, start

    _check_fault(args.fault)
    clocks: list[Clock] = []
    try:
        bench_of_demo = start_demo(
            args.speed,
            args.fault,
            DEMO_SEED if args.seed is None else args.seed,
            now_ns=lambda: clocks[0].now_ns() if clocks else 0,
        )
    except OSError as error:
        raise BenchError(f"this system gives no cables for the demo: {error}") from error
    with bench_of_demo:
        chart = read_chart(bench_of_demo.chart_text, "the demo's chart")
        bench = read_bench(bench_of_demo.bench_text, "the demo's bench")
        settings = inputs.settings(places.settings_file(), {})
        hookup = hook_up(bench, chart)
        clocks.append(Clock(args.speed))
        plan = Start(
            chart,
            bench,
            settings,
            hookup,
            clocks[0],
            on_mark=lambda mark: _do(bench_of_demo, mark),
            remark=_there_are(len(bench_of_demo.faults)),
        )
        return start(plan, args)


def _there_are(faults: int) -> str:
    """So that nobody takes one that was found twice for all that there are."""
    return f" (this set has {faults} faults in it)" if faults > 1 else ""


def seed(text: str) -> int:
    """A whole number from 0."""
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        raise argparse.ArgumentTypeError(f"{text}: write a whole number from 0, like 7")
    return int(text)


FIRST = ("healthy", "pilot", "regulator")
"""The faults of the demo that its help names; all others are those of the catalogue."""


def _check_fault(name: str | None) -> None:
    """Raises:
    BenchError: there is no such fault; all that there are, the plain ones first.
    """
    from benchtui.sim.catalogue import FAULTS

    if name is None or name in FIRST or name in FAULTS:
        return
    found = nearest(name, (*FIRST, *FAULTS))
    mean = f'did you mean "{found}"? ' if found else ""
    rest = "\n".join(f"  {wrapped(', '.join(sorted(FAULTS)), '  ', width())}".split("\n"))
    raise BenchError(
        f"--fault {name}: there is no such fault. {mean}"
        f"There are: {', '.join(FIRST)}; and single faults, from a minute after power-on:\n{rest}"
    )


def _do(bench: DemoBench, mark: Mark) -> None:
    """What is marked is also done to the simulated set, where it can be."""
    if mark.kind in ("tap", "on", "off"):
        bench.do(mark.kind)
