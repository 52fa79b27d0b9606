"""LIVE goes only by a fresh unflagged reading below the level, on the same lead, in the same run."""

from __future__ import annotations

import math

import pytest

from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.notes import Lead, Mark
from benchtui.model.readings import Channel, Flag, Readings
from benchtui.model.units import Unit
from benchtui.watch.bank import Bank
from benchtui.watch.board import Hazard
from benchtui.watch.now import board

S = 1_000_000_000
CHART = '[set]\nname = "Saltmarsh Six"\n' + "".join(
    f'[[point]]\nname = "{name}"\nnominal = "{nominal}"\n'
    for name, nominal in (("B+1", "285 V"), ("B+2", "240 V"), ("anode", "240 Vac"))
)


class Story:
    """A bank that is told of one thing after the other."""

    def __init__(self, point: str | None = "B+1") -> None:
        self.bank = Bank(read_chart(CHART, "chart"), [Channel("A", "A"), Channel("B", "B")], Settings())
        self.now = 0
        if point is not None:
            self.lead(0, point)

    def lead(self, channel: int, point: str | None) -> Story:
        return self._feed(Readings.empty(), (Lead(self.now + 1, channel, point),), 2)

    def mark(self, kind: str) -> Story:
        return self._feed(Readings.empty(), (Mark(self.now + 1, kind),), 2)

    def silent(self, seconds: float) -> Story:
        return self._feed(Readings.empty(), (), int(seconds * S))

    def reads(
        self, value: float, seconds: float = 20, unit: Unit = Unit.V, flags: int = 0, channel: int = 0
    ) -> Story:
        times = [self.now + (i + 1) * S // 4 for i in range(int(seconds * 4))]
        rows = Readings.of(times, channel, int(unit), [value] * len(times), 0.1, flags)
        return self._feed(rows, (), int(seconds * S))

    def _feed(self, rows: Readings, notes: tuple[Lead | Mark, ...], length: int) -> Story:
        self.now += length
        self.bank.feed(Block(rows, notes, self.now))
        return self

    @property
    def hazard(self) -> Hazard:
        return board(self.bank).hazard


def charged_then_off() -> Story:
    return Story().reads(0.0, 1).mark("on").reads(285.0).mark("off").reads(285.0, 1)


@pytest.mark.parametrize(
    ("value", "unit", "flags"),
    [(5.0, Unit.V, Flag.LOW_BATTERY), (30.0, Unit.V, 0), (5.0, Unit.UNKNOWN, 0)],
    ids=["low battery", "exactly at the level", "unit unknown"],
)
def test_what_is_no_plain_reading_below_clears_nothing(value: float, unit: Unit, flags: int) -> None:
    """A flagged reading, one at the level and one of no known unit leave LIVE standing."""
    assert charged_then_off().reads(value, 5, unit, int(flags)).hazard.live


@pytest.mark.parametrize("how", ["lead off", "gap", "overload"])
def test_a_second_run_that_nobody_measured_stays_live_after_power_off(how: str) -> None:
    """What was read below the level before the power came on again says nothing of the time after."""
    story = charged_then_off().reads(5.0, 20)
    if how == "lead off":
        story.lead(0, None)
    story.mark("on")
    if how == "overload":
        story.reads(math.nan, 30, flags=int(Flag.OVERLOAD))
    else:
        story.silent(30)
    story.mark("off").silent(5)
    assert story.hazard.live
    assert story.hazard.phase == "off"


@pytest.mark.parametrize(
    ("point", "unit", "flags"),
    [("B+1", Unit.VAC, 0), ("anode", Unit.V, 0), ("B+1", Unit.V, Flag.HOLD), (None, Unit.V, 0)],
    ids=["AC on a DC point", "DC on an AC point", "held", "a lead on no point"],
)
def test_any_voltage_above_the_level_is_live(point: str | None, unit: Unit, flags: int) -> None:
    """Volts are volts: the function, a held display or a lead not yet placed on the chart hide none."""
    assert Story(point).reads(300.0, 20, unit, int(flags)).hazard.live


def test_ac_after_a_cleared_dc_point_is_live_again() -> None:
    """A point that was cleared on DC and then shows 200 Vac is live."""
    assert charged_then_off().reads(5.0, 10).reads(200.0, 5, Unit.VAC).hazard.live


def test_the_first_of_two_meters_on_a_point_counts() -> None:
    """300 V on one meter is live although another meter on the same point reads 0."""
    story = Story().lead(1, "B+1")
    assert story.reads(300.0, 5, channel=0).reads(0.0, 1, channel=1).hazard.live


def test_a_run_that_was_beyond_the_meters_range_is_live_after_power_off() -> None:
    """Overload on volts is more than the range: it may be above the level until a plain reading says no."""
    beyond = Story().reads(0.0, 1).mark("on").reads(math.nan, 30, flags=int(Flag.OVERLOAD)).mark("off")
    assert beyond.silent(5).hazard.live
    assert beyond.hazard.value is None
    assert beyond.hazard.point == "B+1"
    assert not beyond.reads(5.0, 5).hazard.live


def test_ohms_beyond_the_range_are_no_voltage() -> None:
    """An open probe on ohms shows overload too, and nothing is live."""
    assert not Story().reads(math.nan, 10, Unit.OHM, int(Flag.OVERLOAD)).hazard.live
