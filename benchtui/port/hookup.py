"""The bench, hooked up: every meter's driver opened, every channel numbered, every lead where it starts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from benchtui.chart.bench import Bench, MeterEntry, SerialSettings
from benchtui.chart.chart import Chart
from benchtui.driver.catalogue import open_driver
from benchtui.driver.contract import Driver, DriverOptions, LineDefaults
from benchtui.driver.description import MeterDescription
from benchtui.driver.listener import Listener
from benchtui.model.errors import DriverError
from benchtui.model.notes import Lead
from benchtui.model.readings import Channel
from benchtui.model.units import Unit

from .descriptions import resolved
from .opener import PortSettings


@dataclass(frozen=True, slots=True)
class HookedMeter:
    """One meter, ready for a link."""

    listener: Listener
    settings: PortSettings

    @property
    def description(self) -> MeterDescription:
        return self.listener.description


@dataclass(frozen=True, slots=True)
class Hookup:
    """What a session starts from."""

    meters: tuple[HookedMeter, ...]
    channels: tuple[Channel, ...]
    """The meters' channels in the order of the bench, then one for each seen point of the chart."""
    leads: tuple[Lead, ...]
    """Where each channel's lead is at the start, at 0."""


def hook_up(bench: Bench, chart: Chart) -> Hookup:
    """Opens the driver of every meter of the bench. Opens no port.

    Raises:
        DriverError: no such driver, wrong options, two meters on one port, two channels of one name, a meter
            set to what its point is not; all of them in one text, a line each.
    """
    meters: list[HookedMeter] = []
    channels: list[Channel] = []
    leads: list[Lead] = []
    problems = _shared_ports(bench)
    for entry in bench.meters:
        try:
            options = resolved(entry.driver, entry.options)
        except DriverError as error:
            problems.append(f"meter {entry.name}: {error}")
            continue
        try:
            driver = open_driver(entry.driver, DriverOptions(entry.name, entry.measures, options))
        except DriverError as error:
            problems.append(str(error))
            continue
        first = len(channels)
        names = tuple(driver.channels)
        channels += [_channel(entry, n) for n in names]
        leads += [Lead(0, first + i, _point(entry, n, chart)) for i, n in enumerate(names)]
        problems += _misfits(entry, driver, chart)
        numbers = tuple(range(first, len(channels)))
        description = MeterDescription(
            entry.name, entry.driver, entry.measures, _kept(driver, options), entry.port, numbers
        )
        meters.append(HookedMeter(Listener(driver, description), _settings(entry, driver.line)))
    for point in chart.points:
        if point.seen:
            leads.append(Lead(0, len(channels), point.name))
            channels.append(Channel(point.name, "eye", eye=True))
    problems += _twice(channels)
    if problems:
        raise DriverError("\n".join(problems))
    return Hookup(tuple(meters), tuple(channels), tuple(leads))


def _kept(driver: Driver, options: Mapping[str, Any]) -> dict[str, Any]:
    """What a session keeps: with the description itself, so that a log is heard the same for ever."""
    full = getattr(driver, "resolved", options)
    return dict(full if isinstance(full, Mapping) else options)


def _channel(entry: MeterEntry, name: str) -> Channel:
    full = f"{entry.name}:{name}" if name else entry.name
    return Channel(full, entry.name, entry.accuracy, entry.resistance_on(entry.range))


def _point(entry: MeterEntry, name: str, chart: Chart) -> str | None:
    """Where a channel's lead is: on the bench's `point`, or on the point that the channel is named after."""
    if not name:
        return entry.point
    return name if chart.point(name) is not None else None


def _misfits(entry: MeterEntry, driver: Driver, chart: Chart) -> list[str]:
    """A problem for each channel whose readings could never land on the point that its lead is on."""
    units = getattr(driver, "units", None) or (entry.measures,) * len(driver.channels)
    problems = []
    for name, unit in zip(driver.channels, units, strict=False):
        place = _point(entry, name, chart)
        point = None if place is None else chart.point(place)
        if point is None or Unit.UNKNOWN in (unit, point.unit) or unit is point.unit:
            continue
        key = f"channel {name}" if name else "measures"
        problems.append(
            f"meter {entry.name}: {key}: {unit.symbol} cannot land on “{point.name}”, which the chart has in "
            f"{point.unit.symbol}: set the meter to that and say so here, or give it another point"
        )
    return problems


def _twice(channels: list[Channel]) -> list[str]:
    """A problem for each name that two channels have."""
    seen: set[str] = set()
    problems = []
    for channel in channels:
        if channel.name in seen:
            problems.append(f'two channels are called "{channel.name}": a meter and a seen point? rename one')
        seen.add(channel.name)
    return problems


def _settings(entry: MeterEntry, line: LineDefaults) -> PortSettings:
    """The bench's serial settings, else the driver's own."""
    given: SerialSettings = entry.serial
    settings = PortSettings(entry.port, line.baud, line.bits, line.parity, line.stop, line.dtr, line.rts)
    said = {
        key: value
        for key in ("baud", "bits", "parity", "stop", "dtr", "rts")
        if (value := getattr(given, key)) is not None
    }
    return replace(settings, **said)


def _shared_ports(bench: Bench) -> list[str]:
    seen: dict[str, str] = {}
    problems = []
    for entry in bench.meters:
        if entry.port in seen:
            problems.append(f'meters "{seen[entry.port]}" and "{entry.name}" are both on {entry.port}')
        seen.setdefault(entry.port, entry.name)
    return problems
