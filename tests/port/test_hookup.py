"""The bench, hooked up: channels in order, leads where they start, every mistake in one go."""

from __future__ import annotations

import pytest

from benchtui.chart.bench import Bench, MeterEntry, SerialSettings
from benchtui.chart.chart import Chart, Point
from benchtui.model.errors import DriverError
from benchtui.model.notes import Lead
from benchtui.model.readings import Accuracy, Channel
from benchtui.model.units import Unit
from benchtui.port.hookup import hook_up

CHART = Chart(
    "test", points=(Point("B+1", Unit.V), Point("B+2", Unit.V), Point("pilot", Unit.STATE, seen=True))
)


def test_channels_and_leads() -> None:
    """One channel a meter, one a named value, one a seen point; each with its lead at 0."""
    accuracy = Accuracy(0.0005, 3)
    bench = Bench(
        (
            MeterEntry("A", "lines", "/dev/a", Unit.V, "B+1", accuracy, 1e7),
            MeterEntry("S", "scpi", "/dev/s", Unit.V, options={"channels": ["B+2", "", "spare"]}),
        )
    )
    hookup = hook_up(bench, CHART)
    assert hookup.channels == (
        Channel("A", "A", accuracy, 1e7),
        Channel("S:B+2", "S"),
        Channel("S:spare", "S"),
        Channel("pilot", "eye", eye=True),
    )
    assert hookup.leads == (Lead(0, 0, "B+1"), Lead(0, 1, "B+2"), Lead(0, 2, None), Lead(0, 3, "pilot"))
    assert [m.description.channels for m in hookup.meters] == [(0,), (1, 2)]


def test_the_benchs_serial_settings_stand_before_the_drivers() -> None:
    """What the bench does not say the driver knows."""
    bench = Bench(
        (MeterEntry("A", "lines", "/dev/a", serial=SerialSettings(baud=2400, parity="odd", dtr=True)),)
    )
    settings = hook_up(bench, CHART).meters[0].settings
    assert (settings.baud, settings.bits, settings.parity, settings.dtr, settings.rts) == (
        2400,
        8,
        "odd",
        True,
        None,
    )


def test_all_problems_of_a_bench_come_at_once() -> None:
    """An unknown driver, a wrong key, one port for two meters, one name for two channels."""
    bench = Bench(
        (
            MeterEntry("A", "linnes", "/dev/a"),
            MeterEntry("B", "lines", "/dev/b", options={"colour": 1}),
            MeterEntry("C", "lines", "/dev/b"),
            MeterEntry("pilot", "lines", "/dev/d"),
        )
    )
    with pytest.raises(DriverError) as failed:
        hook_up(bench, CHART)
    told = str(failed.value)
    for part in (
        "meter A: there is no driver",
        "meter B: colour",
        'meters "B" and "C" are both on /dev/b',
        '"pilot"',
    ):
        assert part in told
