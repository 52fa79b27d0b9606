"""The laws where a channel says late, or at one instant twice, what it reads."""

from __future__ import annotations

import numpy as np

from benchtui.chart.chart import Chart
from benchtui.model.units import Unit

from .cutting import assert_laws
from .shapes import flat
from .streams import Timeline, dc, ns


def test_a_point_unknown_to_the_chart_takes_the_first_unit_that_is_told() -> None:
    """A bare number first and volts afterwards is no wrong function, in one block or in two."""
    time = Timeline(Chart("a bench"), 30.0)
    channel = time.meter("loose end", None)
    time.at(channel, 1.0, 90.0, unit=Unit.UNKNOWN)
    time.add(channel, [ns(t) for t in range(2, 29)], [90.0] * 27)
    session = time.session()
    assert_laws(session, [[ns(1.5)]])
    assert not time.judged().of("function")


def test_two_readings_at_one_instant_are_told_in_the_same_order_in_every_block() -> None:
    """Reading 4,096 and 4,097 at one instant, both over the rating, give the same events however cut."""
    time = Timeline(Chart("a bench", points=(dc("B+1", 285.0, limit=290.0),)), 2600.0)
    channel = time.meter("B+1", None)
    t_ns = np.arange(2, 5000) * ns(0.5)
    values = np.array([285.0 + 0.1 * (k % 3) for k in range(len(t_ns))])
    t_ns[4096] = t_ns[4095]
    values[4095:4097] = 300.0, -300.0
    time.add(channel, t_ns, values)
    assert_laws(time.session(), [range(0, ns(2600), ns(10))])


def test_what_unit_a_point_has_is_not_known_before_a_reading_tells_it() -> None:
    """Bare numbers for a minute, volts afterwards: in one block the first minute is judged as it was live."""
    time = Timeline(Chart("a bench"), 120.0)
    channel = time.meter("loose end", flat(90.0), unit=Unit.UNKNOWN, until_s=60.0)
    time.reads(channel, flat(90.0), 60.05, 120.0)
    assert_laws(time.session(), [[ns(50.0)]])
