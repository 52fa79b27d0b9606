"""The half line that ends a session: it names what is at fault, and where to look."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Glow, Point, Span
from benchtui.model.readings import Flag
from benchtui.model.units import Unit
from benchtui.report.outcome import outcome
from benchtui.watch.summary import summarise
from tests.watch.shapes import away, flat, steps, switched, warm_up
from tests.watch.streams import Timeline, ac, dc

LAMP = Point(
    "pilot", Unit.STATE, nominal=1.0, fed_from="B+4", glow=Glow(Span(66, 88), Span(50, 63))
)  # fmt: skip
SET = Chart("a set", mains=230.0, points=(ac("mains", 230.0, 0.03), dc("B+1", 285.0), dc("B+4", 98.0), LAMP))


@pytest.mark.parametrize("end_s", [155.0, np.inf])
def test_a_feed_is_named_before_the_lamp_that_it_starved(end_s: float) -> None:
    """B+4 falls and the lamp goes out: the place to look is B+4."""
    time = Timeline(SET, 300.0)
    time.mark(2.0, "on")
    time.meter("mains", switched(flat(230.0), 2.0))
    time.meter("B+1", warm_up(285.0, 2.0))
    time.meter("B+4", away(warm_up(98.0, 2.0), 150.0, end_s, -0.7))
    time.meter(
        "pilot", lambda t: ((t > 25.0) & ~((t >= 150.0) & (t < end_s))) * 1.0, step=0.0, noise=0.0,
        unit=Unit.STATE,
    )  # fmt: skip
    said = time.judged()
    assert said.of("starved", point="pilot"), said.said()
    assert outcome(said.bank) == "faults: B+4, pilot"


def test_a_fault_because_of_what_is_no_fault_is_named() -> None:
    """The mains steps out of its band and stays: the step is no fault of the set, standing outside is."""
    time = Timeline(SET, 300.0)
    time.mark(2.0, "on")
    time.meter("mains", switched(steps(flat(230.0), 150.0, -0.08), 2.0))
    time.meter("B+1", steps(warm_up(285.0, 2.0), 150.0, -0.08))
    said = time.judged()
    assert said.one("outside", "mains").evidence["because"] in [f.id for f in said.of("mains")], said.said()
    assert outcome(said.bank).startswith("faults: mains")


def test_a_fault_because_of_a_named_fault_is_the_same_event() -> None:
    """B+4 drops out for good and stands outside: once."""
    time = Timeline(SET, 300.0)
    time.mark(2.0, "on")
    time.meter("mains", switched(flat(230.0), 2.0))
    time.meter("B+4", away(warm_up(98.0, 2.0), 150.0, np.inf, -0.7))
    said = time.judged()
    assert said.of("dropout"), said.said()
    assert said.of("outside"), said.said()
    assert outcome(said.bank) == "faults: B+4"


def test_overload_all_the_time_is_no_reading_and_the_meter_s_matter() -> None:
    """Nothing was read, and that is why the point is not judged: not that the set is off."""
    time = Timeline(SET, 60.0)
    channel = time.meter("B+1", None)
    time.add(channel, [int(t * 1e9) for t in range(1, 60)], [0.0] * 59, flags=int(Flag.OVERLOAD))
    bank = time.judged().bank
    assert outcome(bank) == "nothing was read"
    (why,) = [p.why for p in summarise(bank) if p.point == "B+1"]
    assert why is not None
    assert why.startswith("the meter: overload")


def test_readings_of_no_point_are_told_as_that() -> None:
    """A meter sends, and its lead is on nothing: the way out is to say where it is."""
    time = Timeline(SET, 60.0)
    time.reads(time.meter("B+1", None), flat(285.0), 1.0, 60.0)
    time.notes.clear()
    assert outcome(time.judged().bank) == "nothing was read of any point: no lead was on one"
