"""When a discharging point will be below the warning level."""

from __future__ import annotations

import warnings

import pytest

from benchtui.chart.chart import Chart, Part
from benchtui.chart.settings import Settings
from benchtui.watch.now import board

from ..shapes import bleeds, warm_up
from ..streams import Timeline, dc

SUPPLY = Chart("a bench", points=(dc("B+1", 285.0),))


@pytest.mark.parametrize("level", [0.0, 1e-300])
def test_below_a_warning_level_of_nothing_no_time_is_told(level: float) -> None:
    """No discharge ends: at 0 V no time is told, and why; next to it none that is not to come."""
    time = Timeline(SUPPLY, 260.0)
    time.mark(1.0, "on")
    time.mark(200.0, "off")
    time.meter("B+1", bleeds(warm_up(285.0, 1.0), 200.0, 20.0))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        bank = time.judged(Settings(warn_above=level)).bank
        told, why = bank.placer.foresight.bleed(bank.placer.desk.tracks["B+1"], guess=True)
        row = next(row for row in board(bank).rows if row.point == "B+1")
    if level:
        assert told is None or told["at_high_s"] >= told["at_s"] > 260.0
    else:
        assert (told, row.bleed) == (None, None)
        assert why == "there is no level to be below"


def test_a_point_is_not_said_to_be_below_for_certain_before_its_feed_is() -> None:
    """A screen falls quickly while its valve draws; once that is cold, it comes up to its feed."""
    parts = (
        Part("C1", "capacitor", 32e-6, ("B+1", "chassis")),
        Part("R1", "resistor", 1e6, ("B+1", "chassis")),
    )
    chart = Chart("a bench", points=(dc("B+1", 285.0), dc("screen", 180.0, fed_from="B+1")), parts=parts)
    time = Timeline(chart, 203.0)
    time.mark(1.0, "on")
    time.mark(200.0, "off")
    time.meter("B+1", bleeds(warm_up(285.0, 1.0), 200.0, 30.0))
    time.meter("screen", bleeds(warm_up(180.0, 1.0), 200.0, 2.0))
    bank = time.judged().bank
    feed, _ = bank.placer.foresight.bleed(bank.placer.desk.tracks["B+1"])
    screen, _ = bank.placer.foresight.bleed(bank.placer.desk.tracks["screen"])
    assert feed is not None
    assert screen is not None
    assert screen["at_s"] < feed["at_s"]
    assert screen["at_high_s"] >= feed["at_high_s"]
