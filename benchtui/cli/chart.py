"""`benchtui chart check FILE`: a chart read strictly, every problem told at once."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchtui.model.errors import ChartError
from benchtui.model.notes import plain

from .console import example, say, say_error
from .streams import put_error

if TYPE_CHECKING:
    from benchtui.chart.chart import Chart, Glow, Point

GOOD, COULD_NOT = 0, 2


def add_parser(commands: Any) -> None:
    """Adds the command `chart` with its own command `check`."""
    parser: argparse.ArgumentParser = commands.add_parser(
        "chart",
        help="check a voltage chart",
        description="Work on the voltage chart of a set (TOML).",
        **example("benchtui chart check my-set.toml"),
    )
    inner = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    check: argparse.ArgumentParser = inner.add_parser(
        "check",
        help="read a chart strictly and show its points",
        description="Reads a chart strictly; all its problems are told at once, each with its line.",
        **example(
            "benchtui chart check my-set.toml",
            after="Exit status: 0 nothing wrong with it; 2 it has problems, or could not be read.",
        ),
    )
    check.add_argument("file", metavar="FILE", type=Path, help="chart of a set (TOML)")
    check.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Checks the chart; gives the exit status.

    Raises:
        BenchError: the file itself cannot be read.
    """
    from .inputs import chart

    try:
        found = chart(args.file)
    except ChartError as error:
        count = len(error.problems)
        for problem in error.problems:
            put_error(plain(str(problem), most=4000))
        say_error(f"{args.file}: {count} {'problem' if count == 1 else 'problems'}; nothing of it was used")
        return COULD_NOT
    say(page(found, str(args.file)))
    return GOOD


def page(chart: Chart, file: str) -> str:
    """What a good chart says, as a table of its points in plain text."""
    count = len(chart.points)
    lines = [f"{file}: {chart.name}, {count} {'point' if count == 1 else 'points'}, no problem found"]
    lines += [f"  {line}" for line in _conditions(chart)]
    rows = [("POINT", "READS", "IN TOLERANCE", "RATING", "FED FROM"), *(_row(p) for p in chart.points)]
    wide = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    lines += [
        "",
        *("  ".join(cell.ljust(w) for cell, w in zip(row, wide, strict=True)).rstrip() for row in rows),
    ]
    for point in chart.points:
        if point.glow is not None:
            lines.append(f"{point.name}: {_needs(point.glow, point, chart)}")
    lines += [f"{d.name} = {d.formula}, in {d.unit.symbol or 'plain numbers'}" for d in chart.derived]
    return "\n".join(lines)


def _conditions(chart: Chart) -> list[str]:
    from benchtui.chart.quantity import write_quantity
    from benchtui.model.units import Unit

    said = []
    if chart.mains is not None:
        said.append(f"mains {write_quantity(chart.mains, Unit.VAC)}")
    if chart.meter is not None and (load := chart.meter.ohms_per_volt) is not None:
        said.append(f"chart's meter {write_quantity(load, Unit.OHM)}/V")
    elif chart.meter is not None and chart.meter.ohms is not None:
        said.append(f"chart's meter {write_quantity(chart.meter.ohms, Unit.OHM)}")
    if chart.rectifier:
        said.append(f"rectifier {chart.rectifier}")
    if chart.filter:
        said.append(f"{chart.filter} input filter")
    first = [", ".join(said)] if said else []
    if chart.chassis == "live":
        return [*first, "LIVE CHASSIS: the chassis may carry mains."]
    if not chart.chassis:
        return [*first, "The chart does not say whether the chassis may carry mains: treat it as live."]
    return first


def _row(point: Point) -> tuple[str, str, str, str, str]:
    from benchtui.chart.quantity import write_quantity
    from benchtui.model.units import Unit

    def shown(value: float | None) -> str:
        return "" if value is None else write_quantity(value, point.unit)

    if point.unit is Unit.STATE:
        reads, band = ("lit" if point.nominal else "out"), ("seen" if point.seen else "")
    else:
        reads = shown(point.nominal) or point.unit.symbol
        band = f"{shown(point.low)} to {shown(point.high)}".strip()
        band = {"to": ""}.get(band, band)
    below = any(v is not None and v < 0 for v in (point.nominal, point.low, point.high))
    size = "±" if below else ""
    rating = "" if point.limit is None else size + shown(point.limit)
    if point.surge is not None:
        rating += f", {size}{shown(point.surge)} for {point.surge_s:g} s"
    feed = point.fed_from or ""
    if point.through is not None:
        feed += f" through {write_quantity(point.through, Unit.OHM)}"
    return point.name, reads, band, rating, feed


def _needs(glow: Glow, point: Point, chart: Chart) -> str:
    from benchtui.chart.quantity import write_quantity
    from benchtui.model.units import Unit

    feed = chart.point(point.fed_from) if point.fed_from else None
    unit = Unit.VAC if feed is not None and feed.unit is Unit.VAC else Unit.V
    strikes, holds = (
        (write_quantity(span.low, unit), write_quantity(span.high, unit))
        for span in (glow.strikes, glow.holds)
    )
    text = f"may strike at {strikes[0]}, must at {strikes[1]}"
    if glow.holds.low > 0:
        text += f"; must hold at {holds[1]}, may down to {holds[0]}"
    if glow.current is not None:
        low, high = (write_quantity(amps, Unit.A) for amps in (glow.current.low, glow.current.high))
        text += f"; works between {low} and {high}"
    return text
