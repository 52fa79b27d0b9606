"""Hours in five lines: they count what was found, and say what could have hidden."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Point
from benchtui.chart.settings import Settings
from benchtui.model.readings import Channel, Flag
from benchtui.model.units import Unit
from benchtui.report.soak import soak
from benchtui.watch.bank import Bank
from tests.watch.shapes import away, flat, switched, warm_up
from tests.watch.streams import Timeline, ac, dc

SET = Chart(
    "a set",
    mains=230.0,
    points=(
        ac("mains", 230.0),
        dc("B+1", 285.0),
        dc("B+2", 240.0, fed_from="B+1", through=2200.0),
        dc("bias", -22.0),
    ),
)


def lines(time: Timeline) -> dict[str, str]:
    """The five lines by the word that each begins with."""
    return dict(line.split(": ", 1) for line in soak(time.judged().bank))


def evening() -> Timeline:
    """An hour: B+2 drops out three times, its meter once sends nothing for two minutes."""
    time = Timeline(SET, 3600.0)
    time.mark(2.0, "on")
    time.meter("mains", switched(flat(230.0), 2.0))
    time.meter("B+1", warm_up(285.0, 2.0))
    time.meter("bias", switched(flat(-22.0), 2.0), rate=0.5)
    shape = warm_up(240.0, 2.0)
    for start in (600.0, 1500.0, 3000.0):
        shape = away(shape, start, start + 8.0, 0.5)
    channel = time.meter("B+2", shape)
    time.drop(channel, 2000.0, 2120.0)
    return time


def test_an_hour_in_five_lines() -> None:
    """Each line says its part: attended, held, moved, failed with times, and how sure."""
    told = lines(evening())
    assert list(told) == ["On", "Held", "Moved", "Failed", "How sure"]
    assert told["On"].startswith("59:58 in one run, of 1 h 00 min recorded. A powered set is not left alone")
    assert told["Held"] == "mains, B+1, bias"
    assert told["Moved"] == "nothing"
    assert told["Failed"].startswith("B+2 dropped out 3 times, 10:00 to 50:00; B+2 stood outside its band")
    assert "from 1.0 s" in told["How sure"]
    assert "to 4.0 s (bias)" in told["How sure"]
    assert "not seen: B+2 2:00" in told["How sure"]


def test_where_nothing_was_found_it_says_what_the_meters_could_show() -> None:
    """No dropouts seen is said with the shortest that would surely show; never that all is well."""
    time = Timeline(SET, 600.0)
    time.mark(2.0, "on")
    time.meter("B+1", warm_up(285.0, 2.0))
    told = lines(time)
    assert told["Failed"] == "nothing that these meters could show"
    assert told["How sure"].startswith("dropouts are surely seen from 1.0 s (B+1)")
    assert "safe" not in " ".join(told.values()).lower()


def test_what_moved_at_the_time_of_a_fault_did_not_hold() -> None:
    """B+2 falls with the supply that feeds it: it is among what moved, and not among what held."""
    time = Timeline(SET, 300.0)
    time.mark(2.0, "on")
    time.meter("mains", switched(flat(230.0), 2.0))
    time.meter("B+1", away(warm_up(285.0, 2.0), 200.0, 208.0, 0.01))
    time.meter("B+2", away(warm_up(240.0, 2.0), 200.0, 208.0, 0.01))
    time.meter("bias", switched(flat(-22.0), 2.0), rate=0.5)
    told = lines(time)
    assert told["Failed"].startswith("B+1 dropped out")
    assert told["Held"] == "mains, bias"
    assert told["Moved"] == "B+2 when B+1 did"


def test_what_stands_outside_at_the_end_has_not_held() -> None:
    """In the last seconds B+1 falls to nothing: told or not, it has not held."""
    time = Timeline(SET, 300.0)
    time.mark(2.0, "on")
    time.meter("mains", switched(flat(230.0), 2.0))
    time.meter("B+1", away(warm_up(285.0, 2.0), 298.2, 400.0, 0.01))
    told = lines(time)
    assert told["Held"] == "mains"


def test_a_record_of_nothing() -> None:
    """No readings, no power: five lines all the same."""
    bank = Bank(SET, [Channel("A", "A")], Settings())
    told = dict(line.split(": ", 1) for line in soak(bank))
    assert told["On"].startswith("no power seen")
    assert told["How sure"] == "no meter told its rate yet"


def test_a_dropout_as_long_as_it_says_is_seen() -> None:
    """The length that the last line states is measured: dropouts of it are told, wherever they fall."""
    rng = np.random.default_rng(7)
    for _ in range(8):
        time = Timeline(SET, 300.0)
        time.mark(2.0, "on")
        start = float(rng.uniform(150.0, 200.0))
        time.meter("B+1", away(warm_up(285.0, 2.0), start, start + 1.0, 0.5))
        time.meter("mains", switched(flat(230.0), 2.0))
        told = lines(time)
        assert "(B+1)" in told["How sure"] or "1.0 s" in told["How sure"]
        assert told["Failed"].startswith("B+1 dropped out"), told


def test_what_nobody_has_read_lately_held_until_then() -> None:
    """B+1's meter stops at 2:00, somebody last looked at the lamp at 0:40; B+2 is read to the end."""
    lamp = Point("pilot", Unit.STATE, nominal=1.0, seen=True)
    time = Timeline(replace(SET, points=(*SET.points, lamp)), 400.0)
    time.mark(2.0, "on")
    time.meter("B+1", warm_up(285.0, 2.0), until_s=120.2)
    time.meter("B+2", warm_up(240.0, 2.0))
    eye = time.meter("pilot", None, eye=True)
    time.at(eye, 40.0, 1.0, unit=Unit.STATE, step=0.0)
    assert lines(time)["Held"] == "B+1 (until 2:00), B+2, pilot (until 40 s)"


@pytest.mark.parametrize("unit", [Unit.V, Unit.OHM])
def test_where_no_number_was_read_nothing_is_known(unit: Unit) -> None:
    """A meter that shows overload all the time, or ohms of a point in volts, could show no fault."""
    time = Timeline(SET, 60.0)
    channel = time.meter("B+1", None)
    t_ns = [int(t * 1e9) for t in range(1, 60)]
    time.add(channel, t_ns, [285.0] * 59, unit=unit, flags=int(Flag.OVERLOAD) if unit is Unit.V else 0)
    assert lines(time)["Failed"] == "not known: nothing was read"
