"""The bench and the chart set against each other, before any port is opened; every mistake with its line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from benchtui.chart.problems import Problems
from benchtui.model.errors import BenchError, DriverError

from .near import did_you_mean

if TYPE_CHECKING:
    from benchtui.chart.bench import Bench, MeterEntry
    from benchtui.chart.chart import Chart
    from benchtui.port.hookup import Hookup

LINE_KEYS = {
    "speed": "baud", "baudrate": "baud", "baud_rate": "baud", "bps": "baud",
    "data_bits": "bits", "databits": "bits", "bytesize": "bits",
    "stop_bits": "stop", "stopbits": "stop",
    "channel": "name", "label": "name", "unit": "measures", "quantity": "measures", "device": "port",
    "test_point": "point", "lead": "point",
}  # fmt: skip
"""What people write for a key that every meter has."""
KEYS = (
    "name", "driver", "port", "measures", "point", "accuracy", "input_resistance", "range", "max_input",
    "baud", "bits", "parity", "stop", "power_pins",
)  # fmt: skip
"""The keys of a bench entry that are no driver's own."""


def hooked(bench: Bench, chart: Chart, file: str) -> Hookup:
    """The meters of the bench, ready; `file` is how problems name the bench file.

    Raises:
        ChartError: the bench holds no meter, or names a point, driver or key that is not there; all at once.
    """
    from benchtui.port.hookup import hook_up
    from benchtui.port.opener import refusal

    problems = Problems(file, bench.text)
    if not bench.meters:
        problems.add((), "no [[meter]] in it: each meter begins with [[meter]], then name, driver and port")
    names = [point.name for point in chart.points]
    for place, entry in enumerate(bench.meters):
        if (why := refusal(entry.port)) is not None:
            problems.add(("meter", place, "port"), why)
        if entry.point is not None and entry.point not in names:
            said = f'"{entry.point}" is no point of the chart{did_you_mean(entry.point, names)}'
            problems.add(("meter", place, "point"), said)
    try:
        hookup = hook_up(bench, chart)
    except DriverError as error:
        for line in str(error).split("\n"):
            if not _placed(line, bench, problems):
                problems.add((), line)
        problems.raise_if_any()
        raise
    problems.raise_if_any()
    return hookup


def _placed(line: str, bench: Bench, problems: Problems) -> bool:
    """Puts what a driver said of a meter to the key it is about; False where no meter is named."""
    found = [
        (len(entry.name), place)
        for place, entry in enumerate(bench.meters)
        if line.startswith(f"meter {entry.name}: ")
    ]
    if not found:
        return False
    _, place = max(found)
    entry = bench.meters[place]
    said = line.removeprefix(f"meter {entry.name}: ")
    if said.startswith("there is no driver"):
        from benchtui.driver.catalogue import names

        mean = did_you_mean(entry.driver, names())
        said = said.partition(";")[0] + mean
        problems.add(("meter", place, "driver"), said)
        return True
    key, colon, what = said.partition(": ")
    if colon and (key in entry.options or key in KEYS):
        problems.add(("meter", place, key), _with_hint(key, what, entry))
    else:
        problems.add(("meter", place), said)
    return True


def _with_hint(key: str, what: str, entry: MeterEntry) -> str:
    """A key that only looks foreign to the driver: perhaps one of those that every meter has."""
    if "no such key" not in what:
        return what
    meant = LINE_KEYS.get(key.casefold())
    if meant is None and "did you mean" not in what:
        import difflib

        meant = next(iter(difflib.get_close_matches(key, KEYS, 1, 0.75)), None)
    return what if meant is None else f"{what.partition(';')[0]}; did you mean {meant}?"


def with_leads(hookup: Hookup, leads: list[str], chart: Chart) -> Hookup:
    """The hookup with leads moved as `METER=POINT` says; `METER=` is on nothing.

    Raises:
        BenchError: there is no such meter, it has several channels, or the chart has no such point.
    """
    placed = list(hookup.leads)
    meters = [channel.name for channel in hookup.channels if not channel.eye]
    points = [point.name for point in chart.points]
    for text in leads:
        name, equals, point = (part.strip() for part in text.partition("="))
        fitting = [
            number
            for number, channel in enumerate(hookup.channels)
            if not channel.eye and name in (channel.name, channel.meter)
        ]
        if not equals or len(fitting) != 1:
            known = ", ".join(meters)
            raise BenchError(f"--lead {text}: write METER=POINT, the meter one of {known}")
        if point and point not in points:
            mean = did_you_mean(point, points)
            raise BenchError(f'--lead {text}: "{point}" is no point of the chart{mean}')
        placed = [
            replace(lead, point=point or None) if lead.channel == fitting[0] else lead for lead in placed
        ]
    return replace(hookup, leads=tuple(placed))
