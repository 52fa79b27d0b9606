"""Where a warming point will stay and when, said while it is still on its way."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Point
from benchtui.model.units import Unit
from benchtui.watch.foresee.foresight import BEFORE, NO_CHART, Answer

from ..cutting import pieces
from ..shapes import bleeds, flat, follows_up, switched, warm_up
from ..streams import Shape, Timeline, ac, dc, ns

ON_S = 5.0


def foreseen(chart: Chart, shapes: dict[str, Shape], at_s: float, *marks: tuple[float, str]) -> Answer:
    """What is said of the chart's last point at an instant; marked on at ON_S if not told otherwise."""
    time = Timeline(chart, at_s)
    for mark_s, kind in marks or ((ON_S, "on"),):
        time.mark(mark_s, kind)
    for name, shape in shapes.items():
        time.meter(name, shape)
    bank = time.judged().bank
    return bank.placer.foresight.predicted(bank.placer.desk.tracks[chart.points[-1].name])


@pytest.mark.parametrize("age_s", [4.0, 5.5, 7.0, 8.0])
@pytest.mark.parametrize("charges_s", [0.2, 0.5, 1.0])
def test_before_the_load_conducts_it_is_the_chart_scaled_by_the_mains_that_is_said(
    age_s: float, charges_s: float
) -> None:
    """A flat top at 328 V is no settled value: the chart says 285 V, at 96 % mains 273.6 V.

    Nor is the end of a reservoir's charging a load that conducts.
    """
    chart = Chart("a set", mains=230.0, rectifier="solid", points=(ac("mains", 230.0), dc("B+1", 285.0)))
    mains, supply = switched(flat(220.8), ON_S), warm_up(273.6, ON_S, charges_s, 0.2)
    told, why = foreseen(chart, {"mains": mains, "B+1": supply}, ON_S + age_s)
    assert why == BEFORE
    assert told is not None
    assert told["value"] == pytest.approx(273.6, rel=0.01)
    assert told["low"] < 273.6 < told["high"]
    assert told["at_s"] > ON_S + 9.0


@pytest.mark.parametrize("part", [0.8, 1.0, 1.15])
def test_after_the_sag_it_is_the_readings_that_are_believed(part: float) -> None:
    """A set a fifth below its chart is not drawn back to it: within 2 % some seconds after the sag."""
    chart = Chart("a set", rectifier="solid", points=(dc("B+1", 285.0),))
    told, why = foreseen(chart, {"B+1": warm_up(285.0 * part, ON_S, 0.5, 0.25)}, ON_S + 24.0)
    assert told is not None
    assert why is None
    assert told["value"] == pytest.approx(285.0 * part, rel=0.02)
    assert told["low"] < 285.0 * part < told["high"]


@pytest.mark.parametrize(("over", "settles_s"), [(0.15, 16.8), (0.25, 17.7), (0.5, 18.8)])
def test_when_it_settled_is_read_off_the_readings_once_it_has(over: float, settles_s: float) -> None:
    """Within 2 % from 14 + 1.5 ln(over / 0.02 - 1) s of age on: told to half a second."""
    chart = Chart("a set", rectifier="solid", points=(dc("B+1", 285.0),))
    told, _ = foreseen(chart, {"B+1": warm_up(285.0, ON_S, 0.5, over)}, ON_S + 24.0)
    assert told is not None
    assert told["at_s"] == pytest.approx(ON_S + settles_s, abs=0.5)
    assert told["at_low_s"] < ON_S + settles_s < told["at_high_s"]


def test_what_settled_before_its_load_was_seen_did_not_settle_when_the_load_was() -> None:
    """A top 1.5 % above the settled level is settled from the moment of power-on, whatever came later."""
    chart = Chart("a set", rectifier="solid", points=(dc("B+1", 285.0),))
    told, _ = foreseen(chart, {"B+1": warm_up(285.0, ON_S, 0.1, 0.015)}, ON_S + 24.0)
    assert told is not None
    assert told["at_low_s"] < ON_S + 0.5


def test_a_rectifier_that_warms_up_beside_its_load_is_seen_rising() -> None:
    """Half way up it is not said to have arrived: within some seconds of when it does."""
    chart = Chart("a set", rectifier="indirect", points=(dc("B+1", 285.0),))
    told, _ = foreseen(chart, {"B+1": follows_up(285.0, ON_S, 14.0)}, ON_S + 14.0)
    assert told is not None
    assert ON_S + 17.0 < told["at_s"] < ON_S + 27.0  # 98 % at 14 + 1.5 ln 49 = 19.8 s
    assert told["low"] < 285.0 < told["high"]


def again(chart: Chart, level: float) -> Answer:
    """What is said three seconds into a second run, the first having settled at a level."""
    first, second = warm_up(level, ON_S, 0.5), warm_up(level, 400.0, 0.5)
    time = Timeline(chart, 403.0)
    for at_s, kind in ((ON_S, "on"), (155.0, "off"), (400.0, "on")):
        time.mark(at_s, kind)
    channel = time.meter("B+1", None)
    time.reads(channel, bleeds(first, 155.0, 8.0), 0.05, 400.0)
    time.reads(channel, second, 400.0, 403.0)
    bank = time.judged().bank
    return bank.placer.foresight.predicted(bank.placer.desk.tracks["B+1"])


def test_a_run_before_is_better_than_the_chart() -> None:
    """240 V where the chart has 285 V: said again three seconds after power-on, within 1 %."""
    told, _ = again(Chart("a set", rectifier="solid", points=(dc("B+1", 285.0),)), 240.0)
    assert told is not None
    assert told["value"] == pytest.approx(240.0, rel=0.01)
    assert told["high"] - told["low"] < 0.03 * 240.0
    assert told["at_s"] == pytest.approx(400.0 + 17.0, abs=4.0)


def test_without_a_chart_the_first_run_tells_nothing_and_the_second_what_the_first_told() -> None:
    """A point that the chart only names."""
    chart = Chart("a bench", points=(Point("B+1", Unit.V),))
    assert foreseen(chart, {"B+1": warm_up(240.0, ON_S, 0.5)}, ON_S + 10.0) == (None, NO_CHART)
    told, _ = again(chart, 240.0)
    assert told is not None
    assert told["value"] == pytest.approx(240.0, rel=0.01)


def test_a_short_run_does_not_displace_a_longer_one() -> None:
    """Ten seconds of power tell nothing of where a point settles; what was known before still does."""
    chart = Chart("a set", rectifier="solid", points=(dc("B+1", 285.0),))
    time = Timeline(chart, 643.0)
    for at_s, kind in ((ON_S, "on"), (155.0, "off"), (400.0, "on"), (410.0, "off"), (640.0, "on")):
        time.mark(at_s, kind)
    channel = time.meter("B+1", None)
    time.reads(channel, bleeds(warm_up(240.0, ON_S, 0.5), 155.0, 8.0), 0.05, 400.0)
    time.reads(channel, bleeds(warm_up(240.0, 400.0, 0.5), 410.0, 8.0), 400.0, 640.0)
    time.reads(channel, warm_up(240.0, 640.0, 0.5), 640.0, 643.0)
    bank = time.judged().bank
    told, _ = bank.placer.foresight.predicted(bank.placer.desk.tracks["B+1"])
    assert told is not None
    assert told["value"] == pytest.approx(240.0, rel=0.01)


def test_a_chart_that_allows_one_value_alone_is_not_divided_by() -> None:
    """No tolerance at all and a measured mains: still a value, and an interval about it."""
    point = Point("B+1", Unit.V, nominal=285.0, low=285.0, high=285.0)
    chart = Chart("a set", mains=230.0, rectifier="solid", points=(ac("mains", 230.0), point))
    shapes = {"mains": switched(flat(230.0), ON_S), "B+1": warm_up(285.0, ON_S, 0.5)}
    time = Timeline(chart, 40.0)
    time.mark(ON_S, "on")
    for name, shape in shapes.items():
        time.meter(name, shape)
    session = time.session()
    bank = session.bank()
    for piece in pieces(session.block, range(0, ns(40.0), ns(1.0))):
        bank.feed(piece)
        track = bank.placer.desk.tracks["B+1"]
        told, _ = bank.placer.foresight.predicted(track)
        assert told is None or told["low"] < told["value"] < told["high"]


def test_two_readings_of_one_instant_tell_how_it_goes_on() -> None:
    """A quick replay or a coarse clock gives several readings one time: no slope is without end."""
    chart = Chart("a set", mains=230.0, rectifier="solid", points=(dc("B+1", 285.0),))
    time = Timeline(chart, 60.0)
    time.mark(ON_S, "on")
    channel = time.meter("B+1", None)
    at_s = [0.5 * (n // 2) for n in range(2, 200)]
    shape = warm_up(285.0, ON_S, 1.0)
    values = [float(v) for v in np.round(shape(np.array([s + 0.2 * (n % 2) for n, s in enumerate(at_s)])), 1)]
    time.add(channel, [ns(s) for s in at_s], values)
    session = time.session()
    bank = session.bank()
    for piece in pieces(session.block, range(0, ns(60.0), ns(1.0))):
        bank.feed(piece)
        told, _ = bank.placer.foresight.predicted(bank.placer.desk.tracks["B+1"])
        assert told is None or told["low"] <= told["value"] <= told["high"]


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("nominal", [-5e-324, 1e-9, 1e-3, 1e9, 1e300])
def test_a_chart_that_has_nothing_to_do_with_the_readings_foresees_nothing(nominal: float) -> None:
    """A slipped prefix or worse: no number that is none, no warning, no failure, also not of a second run."""
    chart = Chart("a set", points=(Point("B+1", Unit.V, nominal=nominal),))
    time = Timeline(chart, 60.0)
    for at, kind in ((ON_S, "on"), (30.0, "off"), (40.0, "on")):
        time.mark(at, kind)
    time.meter("B+1", warm_up(285.0, ON_S, 1.0))
    session = time.session()
    bank = session.bank()
    for piece in pieces(session.block, range(0, ns(60.0), ns(1.0))):
        bank.feed(piece)
        told, _ = bank.placer.foresight.predicted(bank.placer.desk.tracks["B+1"])
        assert told is None or all(np.isfinite(v) for v in told.values())


@pytest.mark.parametrize("rate", [0.4, 0.5, 2.0])
def test_what_has_fallen_below_its_chart_is_not_said_to_rise_to_it_again(rate: float) -> None:
    """Two thirds of its chart and still falling, read seldom: hardly above the last reading."""
    chart = Chart("a set", rectifier="solid", points=(dc("screen", 285.0),))
    time = Timeline(chart, ON_S + 19.0)
    time.mark(ON_S, "on")
    time.meter("screen", warm_up(190.0, ON_S, 0.5, 0.9, 12.0), rate=rate)
    bank = time.judged().bank
    track = bank.placer.desk.tracks["screen"]
    told, _ = bank.placer.foresight.predicted(track)
    newest = track.newest(bank.placer.desk.now_ns)
    assert told is not None
    assert newest is not None
    assert told["value"] < newest[1] + 0.03 * 285.0
    assert told["high"] < newest[1] + 0.06 * 285.0


@pytest.mark.parametrize("part", [0.6, 0.7, 0.8])
def test_a_flat_point_far_below_its_chart_is_not_said_to_rise_to_it(part: float) -> None:
    """Its rectifier warmed up beside its load; nobody saw the load come, and the valves may yet wake."""
    chart = Chart("a set", rectifier="indirect", points=(dc("screen", 285.0),))
    level = 285.0 * part
    told, _ = foreseen(chart, {"screen": follows_up(level, ON_S, 10.0)}, ON_S + 18.0)
    assert told is not None
    assert told["value"] < level + 0.15 * 285.0
    assert told["low"] < level < told["high"]
