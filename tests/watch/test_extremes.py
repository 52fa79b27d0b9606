"""The smallest streams of what the fuzz found, each a fact of its own."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from benchtui.chart.chart import Chart, MeterLoad, Point
from benchtui.chart.settings import Settings
from benchtui.model.readings import Accuracy
from benchtui.model.units import Unit

from .cutting import assert_laws, pieces
from .shapes import away, bleeds, flat, switched, warm_up
from .streams import Timeline, ac, dc, ns
from .test_fuzz import printed

SUPPLY = Chart("a bench", points=(dc("B+1", 285.0, limit=350.0),))


@pytest.mark.parametrize("value", [1e13, 1e155, 9.9e37, -1.7e308, 5e-324])
def test_a_number_that_no_bench_can_have_is_no_voltage(value: float) -> None:
    """Huge and tiny numbers on the wire, alone or in turn with good ones, are survived."""
    for turn in (1, 2, 5):
        time = Timeline(SUPPLY, 120.0)
        channel = time.meter("B+1", None)
        values = [value if k % turn == 0 and k > 60 else 285.0 + 0.1 * (k % 3) for k in range(200)]
        time.add(channel, [ns(0.5 + 0.5 * k) for k in range(200)], values)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            assert_laws(time.session(), [range(0, ns(120), ns(7))])
            assert printed(time.judged().bank)


def test_a_meter_of_no_resistance_is_no_reason_to_stop() -> None:
    """An input resistance of 0 ohm in a hand-made bench leaves the band as the chart has it."""
    chart = Chart("a bench", meter=MeterLoad(ohms=1e7), points=(dc("B+1", 285.0, source_resistance=900.0),))
    time = Timeline(chart, 200.0)
    time.mark(1.0, "on")
    time.meter("B+1", flat(285.0), ohms=0.0, accuracy=Accuracy(0.005, 2))
    judged = time.judged()
    assert judged.bank.placer.banding.decision["B+1"] == "inside"


@pytest.mark.parametrize("step", [0.0, 5e-324, 1e6])
def test_a_resolution_of_any_size_is_survived(step: float) -> None:
    """Resolution unknown, or coarser than the value itself: no fault, no exception."""
    time = Timeline(SUPPLY, 120.0)
    channel = time.meter("B+1", None)
    rng = np.random.default_rng(1)
    t_ns = [ns(0.5 + 0.5 * k) for k in range(200)]
    time.add(channel, t_ns, 285.0 + rng.normal(0, 0.1, 200), step=step)
    judged = time.judged()
    assert printed(judged.bank)
    assert not judged.wrong()


def test_every_reading_twice_at_the_same_instant_changes_no_fault() -> None:
    """Duplicates, as a driver may give them after a reconnection, are survived; nothing blames the set."""
    time = Timeline(SUPPLY, 120.0)
    channel = time.meter("B+1", None)
    t_ns = [ns(0.5 + 0.5 * (k // 2)) for k in range(400)]
    time.add(channel, t_ns, [285.0 + 0.1 * (k // 2 % 3) for k in range(400)])
    assert_laws(time.session(), [range(0, ns(120), ns(7))])
    assert not time.judged().wrong()


def test_hours_without_readings_are_one_gap() -> None:
    """A night without readings is a gap of the meter's, and what follows is judged afresh."""
    time = Timeline(SUPPLY, 30_000.0)
    channel = time.meter("B+1", flat(285.0), until_s=60.0)
    time.reads(channel, flat(285.0), 29_000.0, 29_900.0)
    judged = time.judged()
    assert [(f.kind, f.end_ns is None) for f in judged.of("gap")] == [("gap", False), ("gap", True)]
    assert not judged.wrong()


def test_a_lead_that_moves_thousands_of_times_leaves_little_behind() -> None:
    """Ten thousand moves between two points: every reading is judged, nothing grows but the log."""
    chart = Chart("a bench", points=(dc("B+1", 285.0), dc("B+2", 240.0)))
    time = Timeline(chart, 10_001.0)
    channel = time.meter("B+1", flat(285.0), rate=1.0, start_s=0.5)
    for k in range(1, 10_000):
        time.lead(float(k), channel, ("B+1", "B+2")[k % 2])
    judged = time.judged()
    bank = judged.bank
    assert len(bank.placer.desk.tracks) == 1
    assert len(bank.leads) == 1
    assert len(bank.placer.moves.gathered.clusters) <= 32
    assert len(bank.placer.desk._timers) < 50


def test_the_same_mark_again_and_again_is_one_run() -> None:
    """On, on, off, off, on: two runs, whoever presses the key how often."""
    time = Timeline(SUPPLY, 100.0)
    for at, kind in ((10, "on"), (11, "on"), (30, "off"), (31, "off"), (32, "off"), (50, "on"), (50, "on")):
        time.mark(at, kind)
    judged = time.judged()
    assert [f.start_ns // 10**9 for f in judged.of("power_on")] == [10, 50]
    assert [f.start_ns // 10**9 for f in judged.of("power_off")] == [30]


@pytest.mark.parametrize(
    "point",
    [
        Point("P", Unit.V), Point("P", Unit.V, limit=10.0),
        Point("P", Unit.V, nominal=0.0, low=-1.0, high=1.0),
        Point("P", Unit.V, low=11.0), Point("P", Unit.V, high=13.0), Point("P", Unit.V, nominal=-12.0),
        Point("P", Unit.VAC, nominal=12.0), Point("P", Unit.V, nominal=12.0, low=12.0, high=12.0),
        Point("P", Unit.V, surge=10.0, surge_s=1e9), Point("P", Unit.V, nominal=5e-324),
    ],
    ids=lambda p: f"{p.unit.symbol} {p.nominal} {p.low} {p.high} {p.limit}",
)  # fmt: skip
def test_a_point_may_lack_anything(point: Point) -> None:
    """Without nominal, with one bound, with a rating alone, of 0 V or less: it is judged by what it has."""
    time = Timeline(Chart("a bench", points=(point,)), 200.0)
    time.mark(1.0, "on")
    time.meter("P", flat(12.0), step=0.01)
    judged = time.judged()
    assert printed(judged.bank)
    assert bool(judged.of("limit")) == (point.limit is not None or point.surge is not None)
    assert bool(judged.of("reversed")) == (point.nominal == -12.0)
    assert not judged.of("dropout", "step", "chatter", "drift", "creep", "frozen")


@pytest.mark.parametrize(("nominal", "edge"), [(12.0, 0.0), (12.0, 12.0), (-285.0, 1e-9)])
def test_a_band_of_no_width_is_foreseen_without_dividing_by_it(nominal: float, edge: float) -> None:
    """A chart that allows one value alone, and a point that stays at 0 V: the summary stands at any time."""
    chart = Chart("a bench", points=(Point("P", Unit.V, nominal=nominal, low=edge, high=edge),))
    time = Timeline(chart, 90.0)
    time.mark(1.0, "on")
    time.meter("P", flat(0.0), step=0.01)
    session = time.session()
    bank = session.bank()
    for piece in pieces(session.block, range(0, ns(90.0), ns(1.5))):
        bank.feed(piece)
        assert printed(bank)


@pytest.mark.parametrize("part", [-0.4, -1.0])
def test_a_dropout_ends_for_the_record_when_the_lead_is_taken_away(part: float) -> None:
    """Nobody knows what became of it: it does not last on, least of all once the point reads right again."""
    chart = Chart("a bench", points=(dc("B+1", 285.0), dc("B+2", 240.0)))
    time = Timeline(chart, 300.0)
    time.mark(1.0, "on")
    channel = time.meter("B+1", None)
    time.meter("B+2", flat(240.0))
    time.reads(channel, away(warm_up(285.0, 1.0), 120.0, 150.0, part), 0.05, 140.0)
    time.lead(140.0, channel, None)
    time.lead(200.0, channel, "B+1")
    time.reads(channel, flat(285.0), 200.5, 300.0)
    assert time.judged().one("dropout", "B+1").end_ns is not None


def test_chatter_ends_for_the_record_when_the_lead_is_taken_away() -> None:
    """A restless point whose lead has left is not looked for again and again, and its finding is closed."""
    chart = Chart("a bench", points=(dc("B+1", 285.0), dc("B+2", 240.0)))
    time = Timeline(chart, 300.0)
    time.mark(1.0, "on")
    channel = time.meter("B+1", None)
    time.meter("B+2", flat(240.0), rate=10.0)
    shape = warm_up(285.0, 1.0)
    for k in range(12):
        shape = away(shape, 120.0 + 2 * k, 121.0 + 2 * k, -0.4)
    time.reads(channel, shape, 0.05, 142.6, rate=10.0)
    time.lead(142.6, channel, None)
    judged = time.judged()
    assert judged.one("chatter", "B+1").end_ns is not None
    assert len(judged.bank.placer.desk._timers) < 5


def test_a_slow_mains_meter_at_nothing_is_not_divided_by() -> None:
    """The mains reads 0 V for some seconds before the run is over; a point that came late is still judged."""
    chart = Chart("a bench", mains=230.0, points=(ac("mains", 230.0), dc("B+2", 240.0)))
    time = Timeline(chart, 60.0)
    time.meter("mains", switched(flat(230.0), -5.0, 42.0), rate=0.4, start_s=0.55, noise=0.0)
    time.meter("B+2", bleeds(flat(240.0), 42.0, 8.0), rate=5.0, start_s=31.124)
    assert time.judged().of("power_off")


def test_a_warning_level_of_nothing_is_foreseen_without_a_logarithm_of_it() -> None:
    """`warn_above` 0 V is a setting like another: nothing falls below it, and the time is not told."""
    time = Timeline(SUPPLY, 260.0)
    time.mark(1.0, "on")
    time.mark(200.0, "off")
    time.meter("B+1", bleeds(warm_up(285.0, 1.0), 200.0, 20.0))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert printed(time.judged(Settings(warn_above=0.0)).bank)


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_a_supply_at_exactly_nought_beside_warm_points_is_not_divided_by(rate: float) -> None:
    """Nobody reads the mains; the first supply reads 0.0 for minutes, then a moment, then nought again."""
    chart = Chart("a set", points=(dc("B+1", 285.0), dc("B+2", 240.0, fed_from="B+1"), dc("bias", -22.0)))
    time = Timeline(chart, 400.0)
    time.meter("B+1", lambda t: np.where((t > 200.0) & (t < 230.0), 9.0, 0.0), rate=rate, step=0.1, noise=0.0)
    for name, level in {"B+2": 240.0, "bias": -22.0}.items():
        time.meter(name, lambda t, level=level: np.where(t > 2.0, level, 0.0), rate=rate, step=0.1, noise=0.0)
    assert time.judged().of("power_on")
