"""What is the meter's is never called the set's: sleep, overload, wrong function, turned leads."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Glow, Point, Span
from benchtui.model.units import Unit
from benchtui.report.say import sentence
from benchtui.watch.now import board
from benchtui.watch.summary import summarise

from .shapes import away, flat, switched, warm_up
from .streams import Judged, Timeline, ac, dc, ns

SET = Chart(
    "a set",
    mains=230.0,
    points=(
        ac("mains", 230.0),
        dc("B+1", 285.0, limit=350.0, surge=400.0, surge_s=30.0),
        dc("B+2", 240.0, fed_from="B+1", through=2200.0),
        dc("bias", -22.0),
        Point("pilot", Unit.STATE, nominal=1.0, fed_from="B+2", seen=True,
              glow=Glow(Span(65, 90), Span(50, 65))),
    ),
)  # fmt: skip
METER_KINDS = ("gap", "overload", "frozen", "function", "reversed")


def others(time: Timeline) -> None:
    """The mains and B+2, read and healthy."""
    time.meter("mains", switched(flat(230.0), 1.0))
    time.meter("B+2", warm_up(240.0, 1.0))


def befallen(what: str, start_s: float = 150.0, end_s: float = 165.0, seed: int = 0) -> Judged:
    """B+1 is healthy throughout; its meter is not, between two instants."""
    time = Timeline(SET, 300.0, seed)
    others(time)
    channel = time.meter("B+1", warm_up(285.0, 1.0))
    time.drop(channel, start_s, end_s)
    t_ns = [ns(t) for t in np.arange(start_s + 0.05, end_s, 0.5)]
    nothing = [float("nan")] * len(t_ns)
    if what == "overload":
        time.add(channel, t_ns, nothing, flags=1)
    elif what == "invalid":
        time.add(channel, t_ns, nothing, flags=8)
    elif what == "hold":
        time.add(channel, t_ns, [285.0] * len(t_ns), flags=2)
    elif what == "AC for DC":
        time.add(channel, t_ns, [7.9] * len(t_ns), unit=Unit.VAC)
    elif what == "ohms":
        time.add(channel, t_ns, [4.7e4] * len(t_ns), unit=Unit.OHM)
    elif what == "reversed":
        time.reads(channel, flat(-285.0), start_s, end_s)
    elif what == "stuck":
        time.add(channel, t_ns, [285.1] * len(t_ns))
    return time.judged()


CASES = [
    ("gap", "gap"), ("overload", "overload"), ("hold", "frozen"), ("AC for DC", "function"),
    ("ohms", "function"), ("reversed", "reversed"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "kind"), CASES)
@pytest.mark.parametrize("seed", range(3))
def test_what_befalls_a_meter_is_told_as_the_meters_alone(what: str, kind: str, seed: int) -> None:
    """One finding of the meter, from its first to its last such reading, and none that blames the set."""
    said = befallen(what, seed=seed)
    assert not said.ever_wrong(), said.said()
    found = said.one(kind, "B+1")
    assert found.severity == "meter"
    assert found.evidence["meter"] == "meter of B+1"
    assert found.start_ns / 1e9 == pytest.approx(150.0, abs=0.51)
    assert found.end_ns is not None
    assert found.end_ns / 1e9 == pytest.approx(165.0, abs=0.51)
    assert [f.kind for f in said.of(*METER_KINDS)] == [kind]


@pytest.mark.parametrize(("what", "kind"), CASES)
def test_what_befalls_a_meter_during_warm_up_is_the_meters_too(what: str, kind: str) -> None:
    """From 5 s to 14 s after power-on nothing is known of the set; nothing is said of it either."""
    said = befallen(what, 6.0, 15.0)
    assert not said.ever_wrong(), said.said()
    assert [f.kind for f in said.of(*METER_KINDS)] == [kind], said.said()


@pytest.mark.parametrize(
    ("what", "word"),
    [
        ("gap", "no reading"),
        ("overload", "overload"),
        ("AC for DC", "wrong function"),
        ("reversed", "reversed"),
    ],
)  # fmt: skip
def test_the_board_shows_nothing_as_in_while_its_meter_is_at_fault(what: str, word: str) -> None:
    """The row has the sign `x` and says what is wrong; the decision is withheld, with a reason."""
    said = befallen(what, 150.0, 300.0)
    row = next(r for r in board(said.bank).rows if r.point == "B+1")
    assert (row.sign, row.word) == ("x", word)
    point = next(p for p in summarise(said.bank) if p.point == "B+1")
    assert point.decision == "not judged"
    assert point.why


def test_overload_of_a_meter_that_looks_for_its_range_is_no_finding() -> None:
    """Two readings of overload in a second and a half are how meters change range."""
    said = befallen("overload", 150.0, 151.0)
    assert not said.of(*METER_KINDS)
    assert not said.ever_wrong()


@pytest.mark.parametrize("resolution", [0.1, 1.0])
def test_a_quiet_point_repeats_itself_with_right(resolution: float) -> None:
    """150.0 V in nine of ten readings for an hour, and for a quarter of an hour: too quiet to tell."""
    chart = Chart("a set", points=(dc("tube", 150.0),))
    time = Timeline(chart, 3600.0)
    time.mark(1.0, "on")
    rng = np.random.default_rng(4)
    t = np.arange(0.5, 3600, 0.5)
    x = np.where(rng.random(len(t)) < 0.05, 150.0 + resolution, 150.0)
    x[2000:4000] = 150.0
    channel = time.meter("tube", None)
    time.add(channel, [ns(s) for s in t], x, step=resolution)
    said = time.judged()
    assert not said.of("frozen"), said.said()
    assert not said.ever_wrong()


@pytest.mark.parametrize("seed", range(3))
def test_a_stuck_meter_is_frozen_while_its_neighbour_moves(seed: int) -> None:
    """A point that never repeated so before gives one value for half a minute while B+2 wanders on."""
    said = befallen("stuck", 150.0, 190.0, seed)
    found = said.one("frozen", "B+1")
    assert found.start_ns / 1e9 == pytest.approx(150.0, abs=2.0)
    assert found.end_ns is not None
    assert found.end_ns / 1e9 == pytest.approx(190.0, abs=2.0)
    assert not said.ever_wrong()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("wakes_s", [40.0, 130.0, 700.0])
def test_a_meter_that_sleeps_through_the_settling_wakes_without_alarm(wakes_s: float, seed: int) -> None:
    """Asleep from 4 s after power-on: a gap, then the level it wakes to is settled, and no step was seen."""
    time = Timeline(SET, wakes_s + 120.0, seed)
    others(time)
    channel = time.meter("B+1", warm_up(285.0, 1.0))
    time.drop(channel, 5.0, wakes_s)
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    gap = said.one("gap")
    assert gap.end_ns is not None
    assert gap.end_ns / 1e9 == pytest.approx(wakes_s, abs=0.6)
    settled = said.one("settled", "B+1")
    assert settled.evidence["value"] == pytest.approx(285.0, rel=0.02)


def test_what_happened_while_a_meter_slept_is_not_called_a_dropout_when_it_wakes() -> None:
    """It slept at 285 V and wakes at 200 V: out of its band, but when and how nobody saw."""
    time = Timeline(SET, 500.0)
    time.mark(1.0, "on")
    channel = time.meter("B+1", warm_up(285.0, 1.0), until_s=150.0)
    time.reads(channel, flat(200.0), 400.0, 500.0)
    said = time.judged()
    assert [f.kind for f in said.of("dropout", "step", "chatter")] in ([], ["step"]), said.said()
    assert len(said.of("outside", point="B+1")) == 1


def eye(said_at: list[tuple[float, int]], until_s: float = 1000.0) -> Judged:
    """B+2 healthy; the pilot as the technician's key told it."""
    time = Timeline(SET, until_s)
    others(time)
    pilot = time.meter("pilot", None, eye=True)
    for at, lit in said_at:
        time.at(pilot, at, float(lit), unit=Unit.STATE, step=0.0)
    return time.judged()


def test_a_lamp_that_nobody_looked_at_for_ten_minutes_is_not_judged() -> None:
    """Seen lit at 30 s and never again: no gap, no fault; the board says that nobody looked."""
    said = eye([(30.0, 1)])
    assert not said.of(*METER_KINDS, point="pilot")
    assert not said.ever_wrong(), said.said()
    point = next(p for p in summarise(said.bank) if p.point == "pilot")
    assert (point.decision, point.value) == ("not judged", None)
    assert point.why == "nobody looked lately"
    row = next(r for r in board(said.bank).rows if r.point == "pilot")
    assert (row.sign, row.word) == ("?", "not looked")


def test_a_lamp_seen_lit_again_after_ten_minutes_was_not_seen_to_go_out() -> None:
    """Lit at 30 s, lit at 640 s: nothing is said of the time between."""
    said = eye([(30.0, 1), (640.0, 1)], 660.0)
    assert not said.of("dropout", "outside", "gap")
    point = next(p for p in summarise(said.bank) if p.point == "pilot")
    assert point.decision == "inside"


def test_a_lamp_seen_out_went_out_between_two_looks() -> None:
    """Lit at 30 s, out at 640 s: a dropout from 640 s, last seen lit at 30 s, with its feed's value."""
    said = eye([(30.0, 1), (640.0, 0)], 660.0)
    out = said.one("dropout", "pilot")
    assert out.start_ns == ns(640.0)
    assert out.evidence["last_lit_s"] == 30.0
    assert out.evidence["feed_value"] == pytest.approx(240.0, rel=0.01)
    fed = said.one("fed_but_out", "pilot")
    assert fed.evidence["of"] == [out.id]
    assert "lamp, resistor or joints" in fed.evidence["suspects"]


@pytest.mark.parametrize(("volts", "kind"), [(60.0, "starved"), (74.0, None), (95.0, "fed_but_out")])
def test_a_lamp_that_never_lit_had_to_strike_not_only_to_be_held(volts: float, kind: str | None) -> None:
    """A neon that strikes at 66 to 88 V and holds at 53 to 63 V: at 74 V nobody can tell."""
    neon = Point("neon", Unit.STATE, nominal=1.0, fed_from="lamp feed", seen=True,
                 glow=Glow(Span(66, 88), Span(53, 63)))  # fmt: skip
    time = Timeline(Chart("a set", points=(dc("lamp feed", volts), neon)), 140.0)
    time.mark(1.0, "on")
    time.meter("lamp feed", switched(flat(volts), 1.0))
    lamp = time.meter("neon", None, eye=True)
    for at in (5.0, 60.0, 85.0, 120.0):
        time.at(lamp, at, 0.0, unit=Unit.STATE, step=0.0)
    said = time.judged()
    assert [f.kind for f in said.of("starved", "fed_but_out")] == ([kind] if kind else []), said.said()


def test_a_lead_that_falls_off_in_one_reading_is_not_a_discharge() -> None:
    """285 V to 0.0 V in one reading, after power-off: the point was above the level and stays so."""
    time = Timeline(SET, 300.0)
    time.meter("mains", switched(flat(230.0), 1.0, 200.0))
    time.meter("B+1", away(warm_up(285.0, 1.0), 203.0, 999.0, -1.0))
    said = time.judged()
    assert len(said.of("power_off")) == 1


@pytest.mark.parametrize("until_s", [60.0, 160.0])
def test_turned_leads_on_a_negative_rail_are_the_meters(until_s: float) -> None:
    """A bias of -22 V read as +22 V from the start is `reversed`, not outside."""
    time = Timeline(SET, until_s)
    others(time)
    time.meter("bias", warm_up(22.0, 1.0), step=0.01)
    said = time.judged()
    assert len(said.of("reversed", point="bias")) == 1
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize(("level", "turned"), [(22.3, True), (14.0, False), (50.0, False), (320.0, False)])
def test_a_bias_that_has_itself_turned_has_not_its_leads_turned(level: float, turned: bool) -> None:
    """Just as many volts with the other sign are the leads, or a positive grid; another value is a fault."""
    time = Timeline(SET, 200.0)
    others(time)
    time.meter("bias", lambda t: np.where(t < 100.0, -1.0, level / 22.0) * warm_up(22.0, 1.0)(t), step=0.01)
    said = time.judged()
    assert bool(said.of("reversed", point="bias")) == turned
    assert bool(said.of("outside", "step", point="bias")) == (not turned), said.said()
    if turned:
        assert "coupling capacitor" in sentence(said.one("reversed"), SET)


def test_a_meter_that_never_sends_is_told() -> None:
    """Its lead is on B+1 and nothing comes: after a dozen seconds that is said, and no more once it sends."""
    time = Timeline(SET, 120.0)
    others(time)
    time.meter("bias", None)
    late = time.meter("B+1", warm_up(285.0, 1.0))
    time.drop(late, 0.0, 30.0)
    said = time.judged()
    never = said.one("gap", "bias")
    assert (never.start_ns, never.end_ns, never.severity) == (0, None, "meter")
    assert "yet" in sentence(never, SET)
    woke = said.one("gap", "B+1")
    assert woke.end_ns is not None
    assert woke.end_ns / 1e9 == pytest.approx(30.0, abs=1.0)
    assert not said.ever_wrong(), said.said()


def test_a_needle_read_by_hand_every_quarter_of_a_minute_is_not_asleep() -> None:
    """From its second spacing on a slow reader is known to be slow: no gap, though the pace varies."""
    time = Timeline(Chart("a set", points=(dc("B+1", 285.0),)), 200.0)
    channel = time.meter("B+1", None)
    for at_s in (3.0, 13.5, 29.0, 42.0, 60.0, 71.0, 88.0, 105.0, 119.0, 137.0, 150.0, 168.0, 184.0, 199.0):
        time.at(channel, at_s, 285.0, step=5.0)
    said = time.judged()
    assert not [f for f in said.of("gap") if f.start_ns > ns(14.0)], said.said()


def test_a_meter_that_reads_what_no_bench_has_is_set_to_something_else() -> None:
    """285,000 V again and again: millivolts under the name of volts. No reading of the set, and told."""
    time = Timeline(SET, 120.0)
    others(time)
    time.meter("B+1", flat(285_000.0), step=1.0)
    said = time.judged()
    assert said.one("function", "B+1").severity == "meter"
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(6))
def test_a_meter_scatters_by_as_many_counts_on_its_coarser_range(seed: int) -> None:
    """The mains is turned up, and the heater's meter leaves the range on which its noise was a millivolt."""
    heater = Chart("a set", mains=230.0, points=(ac("mains", 230.0), ac("heater", 6.3)))
    time, up_s = Timeline(heater, 200.0, seed), 90.0
    time.meter("mains", lambda t: np.where(t >= up_s, 230.0, 184.0), rate=10.0)
    low = time.meter("heater", flat(5.04), rate=4.0, step=0.001, noise=1.2, until_s=up_s)
    time.reads(low, flat(6.3), up_s + 0.05, 200.0, rate=4.0, step=0.01, noise=1.2, unit=Unit.VAC)
    said = time.judged()
    assert not said.of("dropout", "step", "chatter"), said.said()
    assert len(said.of("mains")) == 1, said.said()


@pytest.mark.parametrize("wait_s", [6.0, 12.0])
@pytest.mark.parametrize("part", [-0.02, -0.03])
def test_back_on_its_finer_range_a_meter_is_trusted_as_before(part: float, wait_s: float) -> None:
    """For twenty seconds a point stands higher, on a coarser range; soon after it is back it steps down."""
    screen = Chart(
        "a set", mains=230.0, points=(ac("mains", 230.0), dc("HT", 250.0), dc("screen", 50.0, 0.5))
    )
    time, step_s = Timeline(screen, 260.0), 140.0 + wait_s
    time.meter("mains", flat(230.0))
    time.meter("HT", flat(250.0), rate=4.0)
    meter = time.meter("screen", None)
    fine = {"rate": 4.0, "step": 0.01, "noise": 2.0}
    time.reads(meter, flat(50.0), 0.05, 120.0, **fine)
    time.reads(meter, flat(70.0), 120.05, 140.0, rate=4.0, step=0.1, noise=0.6)
    time.reads(meter, lambda t: np.where(t >= step_s, 50.0 * (1.0 + part), 50.0), 140.05, 260.0, **fine)
    said = time.judged()
    assert said.one("step", "screen").start_ns * 1e-9 == pytest.approx(step_s, abs=1.0)
