"""Traps about the power: what looks like a switch-off and is none, and what a run is."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.chart.chart_file import read_chart
from benchtui.chart.settings import Settings
from benchtui.model.readings import Floats
from benchtui.sim import bring_up, simulate

from .cutting import Session
from .shapes import away, bleeds, flat, follows_up, steps, switched, times, warm_up
from .streams import Judged, Shape, Timeline, ac, dc

SET = Chart(
    "a set",
    mains=230.0,
    rectifier="direct",
    points=(
        ac("mains", 230.0),
        ac("heater", 6.3),
        dc("B+1", 285.0, limit=350.0, surge=400.0, surge_s=30.0),
        dc("B+2", 240.0, fed_from="B+1", through=2200.0),
        dc("cathode", 9.4, 0.15),
    ),
)
ON, OFF = 5.0, 240.0
EVERY = ("mains", "heater", "B+1", "B+2", "cathode")


def healthy(on_s: float = ON, off_s: float = np.inf) -> dict[str, Shape]:
    """The five points of a healthy set, switched on and off."""
    return {
        "mains": switched(flat(230.0), on_s, off_s),
        "heater": switched(flat(6.3), on_s, off_s),
        "B+1": bleeds(warm_up(285.0, on_s), off_s, 8.0),
        "B+2": bleeds(warm_up(240.0, on_s, 3.5), off_s, 9.0),
        "cathode": bleeds(follows_up(9.4, on_s), off_s, 1.0),
    }


def judged(
    shapes: dict[str, Shape], *, without: tuple[str, ...] = (), marks: tuple[tuple[float, str], ...] = (),
    until_s: float = 300.0, rate: float = 2.0, seed: int = 0,
) -> Judged:  # fmt: skip
    """A meter on each point, and the power marked where asked."""
    time = Timeline(SET, until_s, seed)
    for name, shape in shapes.items():
        if name not in without:
            time.meter(name, shape, rate=rate, step=0.1 if name.startswith(("B", "m")) else 0.01)
    for at, kind in marks:
        time.mark(at, kind)
    return time.judged()


BENCHES = [
    pytest.param((), (), id="all meters"),
    pytest.param(("mains",), (), id="no mains meter"),
    pytest.param(("mains", "heater"), ((ON, "on"),), id="marked, no AC meter"),
]


@pytest.mark.parametrize(("without", "marks"), BENCHES)
@pytest.mark.parametrize("seed", range(3))
def test_a_rectifier_that_opens_is_no_power_off(
    without: tuple[str, ...], marks: tuple[tuple[float, str], ...], seed: int
) -> None:
    """B+ falls for good with the power there: a fault, and the run goes on."""
    shapes = healthy()
    for name in ("B+1", "B+2", "cathode"):
        shapes[name] = bleeds(shapes[name], 150.0, {"B+1": 3.0, "B+2": 3.5, "cathode": 2.0}[name])
    said = judged(shapes, without=without, marks=marks, seed=seed)
    assert not said.of("power_off"), said.said()
    assert len(said.of("power_on")) == 1
    fault = said.one("dropout")
    assert fault.point == "B+1"
    assert fault.end_ns is None
    assert 149.0 <= fault.start_ns / 1e9 <= 152.0
    assert "B+2" in fault.evidence["also"]


@pytest.mark.parametrize(
    "without", [pytest.param((), id="all meters"), pytest.param(("mains",), id="no mains meter")]
)
def test_eight_seconds_off_and_on_are_a_warm_restart(without: tuple[str, ...]) -> None:
    """A power-off and a power-on, two runs, and no fault of the set."""
    first, again = healthy(ON, 150.0), healthy(158.0)
    rest = {"B+1": 285.0, "B+2": 240.0, "cathode": 9.4}
    shapes: dict[str, Shape] = {}
    for name in EVERY:
        level = rest.get(name)
        warm = again[name] if level is None else _returns(first[name], level, 158.0)
        shapes[name] = _then(first[name], warm, 158.0)
    said = judged(shapes, without=without)
    assert [f.kind for f in said.of("power_on", "power_off")] == ["power_on", "power_off", "power_on"]
    assert 149.0 <= said.one("power_off").start_ns / 1e9 <= 152.5
    assert 157.0 <= said.of("power_on")[1].start_ns / 1e9 <= 160.0
    assert not said.ever_wrong(), said.said()


def _then(first: Shape, second: Shape, at_s: float) -> Shape:
    return lambda t: np.where(t < at_s, first(t), second(t))


def _returns(first: Shape, level: float, on_s: float) -> Shape:
    """From where it had fallen to back up to its level: the heaters are still warm."""
    left = float(first(np.array([on_s]))[0])
    return lambda t: level + (left - level) * np.exp(-np.maximum(t - on_s, 0.0) / 0.8)


@pytest.mark.parametrize("without", [(), ("mains",), ("mains", "heater")])
@pytest.mark.parametrize("seed", range(3))
def test_a_dead_zero_after_power_off_is_neither_frozen_nor_a_dropout(
    without: tuple[str, ...], seed: int
) -> None:
    """Ten minutes of 0.0 V on every point after a switch-off blame neither the set nor the meters."""
    shapes = {name: _dead(shape) for name, shape in healthy(ON, OFF).items()}
    said = judged(shapes, without=without, until_s=840.0, seed=seed)
    assert len(said.of("power_off")) == 1, said.said()
    assert not said.of("frozen"), said.said()
    assert not said.wrong(), said.said()


def _dead(shape: Shape) -> Shape:
    """Nothing at all once it has fallen below a tenth of a volt."""
    return lambda t: np.where((t > OFF) & (np.abs(shape(t)) < 0.3), 0.0, shape(t))


@pytest.mark.parametrize("rectifier", ["solid", "direct", "indirect"])
@pytest.mark.parametrize("seed", [11, pytest.param(12, marks=pytest.mark.long)])
def test_a_healthy_set_brought_up_in_steps_of_ten_volts_gives_no_alarm(rectifier: str, seed: int) -> None:
    """On a variable transformer, ten volts a minute: rises, jumps and sags of B+ are what the valves do."""
    run = simulate(seed, [], 1700.0, 1.0, rectifier=rectifier, script=bring_up())
    session = Session(read_chart(run.chart_text, "chart.toml"), run.channels, Settings(), run.block())
    bank = session.bank()
    said = Judged(bank, bank.feed(session.block))
    assert not said.ever_wrong(), said.said()
    assert len(said.of("power_on")) == 1
    assert not said.of("power_off")


@pytest.mark.parametrize("seed", range(3))
def test_a_flat_top_before_the_load_conducts_is_not_settled(seed: int) -> None:
    """Twelve seconds of plateau, sloping by less than 0.1 %, then the sag: settled is the level after it."""

    def plateau(t: Floats) -> Floats:
        age = t - ON
        up = 1.0 - np.exp(-np.maximum(age, 0.0) / 1.2)
        sag = 1.0 / (1.0 + np.exp(-np.clip((age - 26.0) / 1.5, -50, 50)))
        return np.where(age > 0, 285.0 * up * (1.17 - 0.17 * sag - 0.00002 * age), 0.0)

    top = plateau(np.array([ON + 10.0, ON + 22.0]))
    assert abs(top[1] / top[0] - 1.0) < 0.001 * 12
    for without in ((), ("cathode",), ("mains", "cathode", "heater")):
        shapes = healthy()
        shapes["B+1"] = plateau
        shapes["B+2"] = times(plateau, flat(240.0 / 285.0))
        shapes["cathode"] = follows_up(9.4, ON, 26.0)
        said = judged(shapes, without=without, seed=seed, marks=((ON, "on"),))
        settled = said.one("settled", "B+1")
        assert settled.evidence["value"] == pytest.approx(285.0, rel=0.02), said.said()
        assert settled.start_ns / 1e9 >= ON + 26.0
        ever = [f for f in said.bank.folding.all() if f.kind == "settled" and f.point == "B+1"]
        assert len(ever) == 1, said.said()
        assert not said.of("limit")


SLOW = {"mains": 0.5, "heater": 1.0, "B+1": 5.0, "B+2": 2.0, "cathode": 5.0}
FIRST_S = {"mains": 2.9, "heater": 2.4, "B+1": 0.1, "B+2": 0.3, "cathode": 0.15}


def unevenly(
    shapes: dict[str, Shape], until_s: float, first_s: dict[str, float], without: str = ""
) -> Judged:
    """Each meter at its own rate, from its own first reading on; nothing is marked."""
    time = Timeline(SET, until_s)
    for name in EVERY:
        if name != without:
            step = 0.1 if name.startswith(("B", "m")) else 0.01
            time.meter(name, shapes[name], rate=SLOW[name], start_s=first_s[name], step=step)
    return time.judged()


@pytest.mark.parametrize("without", ["", "mains", "heater"])
@pytest.mark.parametrize("over", [0.0, 0.35])
def test_a_run_that_one_meter_saw_begin_began_then(without: str, over: float) -> None:
    """Mains and heater first read after power-on; B+ is seen to rise from nothing: it began there."""
    shapes = healthy(2.0)
    shapes["B+1"] = warm_up(285.0, 2.0, over=over)
    said = unevenly(shapes, 400.0, FIRST_S, without)
    assert not said.ever_wrong(), said.said()
    began = said.one("power_on")
    assert 1.9 <= began.start_ns / 1e9 <= 4.0
    assert len(said.of("settled")) == len(EVERY) - bool(without)


@pytest.mark.parametrize("without", ["", "heater"])
@pytest.mark.parametrize("off_s", [240.0, 240.9, 241.7])
def test_a_switch_off_that_a_slow_mains_meter_tells_late_is_no_fault(without: str, off_s: float) -> None:
    """The mains meter reads every two seconds; what falls until it has told of the switch-off is no fault."""
    said = unevenly(healthy(2.0, off_s), 300.0, dict.fromkeys(EVERY, 0.1), without)
    assert not said.ever_wrong(), said.said()
    assert len(said.of("power_off")) == 1


def test_a_mains_meter_slower_than_the_set_does_not_make_the_surge_a_fault() -> None:
    """Its first reading shows 230 V already; B+ is seen to rise from nothing: the surge rating holds."""
    shapes = healthy(2.0)
    shapes["B+1"] = times(warm_up(285.0, 2.0, over=0.35), flat(1.0))
    time = Timeline(SET, 200.0)
    time.meter("mains", shapes["mains"], rate=0.5, start_s=2.1)
    for name in ("heater", "B+1", "B+2", "cathode"):
        time.meter(name, shapes[name], step=0.1 if name.startswith("B") else 0.01)
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    assert len(said.of("power_on")) == 1


def test_points_that_fill_from_a_capacitor_after_power_off_are_no_power_on() -> None:
    """Bleeder open, valves cold: what had a drop comes up to what still holds. No run, and still charged."""
    shapes = healthy(off_s=120.0)

    def falls(t: Floats) -> Floats:
        return np.where(t > 120.0, 150.0 * np.exp(-np.maximum(t - 121.0, 0.0) / 150.0), 285.0)

    def fills(t: Floats) -> Floats:
        low = np.where(t > 120.0, 240.0 * np.exp(-np.maximum(t - 120.0, 0.0) / 1.0), 240.0)
        return np.where(t > 121.0, np.maximum(low, falls(t) * (1.0 - np.exp(-(t - 121.0) / 8.0))), low)

    before_b1, before_b2 = shapes["B+1"], shapes["B+2"]
    shapes["B+1"] = lambda t: np.where(t > 120.0, falls(t), before_b1(t))
    shapes["B+2"] = lambda t: np.where(t > 120.0, fills(t), before_b2(t))
    for without in (("mains", "cathode"), ("mains", "heater", "cathode")):
        said = judged(shapes, without=without, marks=((ON, "on"), (120.0, "off")))
        assert len(said.of("power_on")) == 1, said.said()
        assert not said.of("outside", "unsettled", "dropout", "step"), said.said()


VOLTS = (60.0, 85.0, 110.0, 130.0, 150.0, 165.0, 180.0, 195.0, 210.0, 222.0, 230.0)
TURNS_S = 25.0


def turned_up(t: Floats) -> Floats:
    """The mains through a variable transformer, turned up every so often, as parts of its nominal."""
    steps = np.clip(((t - ON) // TURNS_S).astype(int), 0, len(VOLTS) - 1)
    return np.where(t >= ON, np.array(VOLTS)[steps] / 230.0, 0.0)


def draws(t: Floats) -> Floats:
    """What is left once the load valves draw: slowly, from the middle of the bring-up on."""
    return 1.2 - 0.2 / (1.0 + np.exp(-(t - 130.0) / 8.0))


def brought_up(
    fault: Shape, *, points: tuple[str, ...] = ("B+1", "B+2"), without: tuple[str, ...] = (), seed: int = 0
) -> Judged:
    """Brought up over four minutes and more; `fault` multiplies some of the points."""
    time = Timeline(SET, 330.0, seed)
    for name, level in {"mains": 230.0, "heater": 6.3, "B+1": 285.0, "B+2": 240.0}.items():
        if name in without:
            continue
        shape = times(flat(level), turned_up)
        if name.startswith("B"):
            shape = times(shape, draws)
        if name in points:
            shape = times(shape, fault)
        time.meter(name, shape, rate=4.0, step=0.1 if level > 60 else 0.01)
    return time.judged()


@pytest.mark.parametrize("without", [(), ("heater",), ("mains", "heater")])
@pytest.mark.parametrize("seed", range(3))
def test_load_valves_that_begin_to_draw_in_a_bring_up_leave_no_course(
    without: tuple[str, ...], seed: int
) -> None:
    """B+ falls by a sixth against the mains, within half a minute: that is what a healthy set does."""
    said = brought_up(flat(1.0), without=without, seed=seed)
    faults = [f for f in said.listed if f.severity == "fault" and f.kind != "outside"]
    assert not faults, said.said()
    assert not said.of("step", "drift", "creep", "unsettled"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_what_no_valve_loads_yet_may_stand_above_its_chart_in_a_bring_up(seed: int) -> None:
    """B+1 alone says how far the set is brought up: B+2 stands too high until its valves draw, and follows
    two seconds later."""
    time = Timeline(SET, 330.0, seed)
    time.meter("B+1", times(flat(285.0), turned_up), rate=4.0, step=0.1)
    high: Shape = lambda t: 240.0 * turned_up(t - 2.0) * (2.6 - 1.6 / (1.0 + np.exp(-(t - 130.0) / 6.0)))  # noqa: E731
    time.meter("B+2", high, rate=4.0, step=0.1)
    said = time.judged()
    assert not said.of("step", "dropout", "drift"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_transformer_turned_without_a_stop_is_a_bring_up_too(seed: int) -> None:
    """From 60 V to 230 V in six minutes, with no AC meter: nothing settles yet, nothing drifts."""
    time = Timeline(SET, 480.0, seed)
    turned: Shape = lambda t: np.where(t >= ON, np.clip(0.26 + 0.74 * (t - ON) / 360.0, 0.0, 1.0), 0.0)  # noqa: E731
    for name, level in {"B+1": 285.0, "B+2": 240.0, "cathode": 9.4}.items():
        time.meter(name, times(flat(level), turned), rate=1.0, step=0.1 if level > 60 else 0.01)
    said = time.judged()
    assert not said.of("unsettled", "drift", "step", "dropout", "creep"), said.said()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("over_s", [0.5, 12.0])
@pytest.mark.parametrize("without", [(), ("mains",)])
def test_b_plus_that_falls_in_a_bring_up_while_the_mains_stands_departs(
    without: tuple[str, ...], over_s: float, seed: int
) -> None:
    """By a third, at once or over some seconds: told once, at the feed, while the mains is still low."""
    at_s = ON + 6.4 * TURNS_S
    said = brought_up(
        lambda t: 1.0 - np.clip((t - at_s) / over_s, 0.0, 1.0) / 3.0, without=without, seed=seed
    )
    left = said.one("departs")
    assert left.point == "B+1", said.said()
    assert left.evidence["also"] == ["B+2"], said.said()
    assert at_s - 5.0 <= left.start_ns * 1e-9 <= at_s + 12.0
    assert left.found_ns * 1e-9 <= at_s + over_s + 15.0, said.said()
    assert not said.of("dropout", "step"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_point_that_dies_in_a_bring_up_with_no_ac_meter_is_told(seed: int) -> None:
    """B+2 falls to a fiftieth between two turns while B+1, the only other meter, stands: that is no hand."""
    at_s = ON + 6.4 * TURNS_S
    dies: Shape = lambda t: np.where(t >= at_s, 0.02, 1.0)  # noqa: E731
    said = brought_up(dies, points=("B+2",), without=("mains", "heater"), seed=seed)
    fell = said.one("dropout")
    assert fell.point == "B+2", said.said()
    assert fell.start_ns * 1e-9 == pytest.approx(at_s, abs=0.6)


@pytest.mark.parametrize("seed", range(3))
def test_a_feed_whose_slow_meter_never_stood_on_its_course_departs_with_what_it_feeds(seed: int) -> None:
    """Its grains take as long as the turns of the transformer come apart; its readings tell that it fell."""
    at_s = ON + 6.4 * TURNS_S
    time = Timeline(SET, 330.0, seed)
    falls: Shape = lambda t: 1.0 - np.clip((t - at_s) / 0.5, 0.0, 1.0) * 0.4  # noqa: E731
    for name, level, rate in (("heater", 6.3, 4.0), ("B+1", 285.0, 0.4), ("B+2", 240.0, 4.0)):
        shape = times(flat(level), turned_up)
        if name.startswith("B"):
            shape = times(shape, times(draws, falls))
        time.meter(name, shape, rate=rate, step=0.1 if level > 60 else 0.01)
    said = time.judged()
    left = said.one("departs")
    assert (left.point, left.evidence["also"]) == ("B+1", ["B+2"]), said.said()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("without", "lasts_s"),
    [((), 1.0), ((), 6.0), (("mains",), 1.0), (("mains",), 6.0), (("mains", "heater"), 1.0)],
)
def test_a_dropout_between_two_turns_of_a_bring_up_is_told(
    without: tuple[str, ...], lasts_s: float, seed: int
) -> None:
    """B+2 falls by half and comes back while the mains stands at 180 V and B+1 does not move."""
    at_s = ON + 6.4 * TURNS_S
    falls: Shape = lambda t: np.where((t >= at_s) & (t < at_s + lasts_s), 0.5, 1.0)  # noqa: E731
    said = brought_up(falls, points=("B+2",), without=without, seed=seed)
    told = said.of("dropout", "departs")
    assert [f.point for f in told] == ["B+2"], said.said()
    assert told[0].start_ns * 1e-9 == pytest.approx(at_s, abs=0.6)
    assert told[0].end_ns is not None
    assert not said.of("step", "chatter"), said.said()


def test_a_point_that_departed_and_returns_is_over() -> None:
    """For twenty seconds B+2 alone lies low; then it stands on its course again."""
    at_s = ON + 5.2 * TURNS_S
    gone = brought_up(lambda t: np.where((t >= at_s) & (t < at_s + 20.0), 0.6, 1.0), points=("B+2",))
    left = gone.one("departs")
    assert (left.point, left.evidence["also"]) == ("B+2", [])
    assert left.end_ns is not None
    assert left.end_ns * 1e-9 == pytest.approx(at_s + 20.0, abs=8.0)


def test_on_and_off_within_two_seconds_is_one_run_though_points_fill_afterwards() -> None:
    """The reservoir charged and fills what hangs on it: a rise after the switch-off, and no second run."""
    off_s = ON + 1.8
    fills = {
        "B+1": lambda t: np.where(t < ON, 0.0, 310.0 * np.exp(-np.maximum(t - off_s, 0.0) / 14.0)),
        "B+2": lambda t: np.where(
            t < ON, 0.0, 250.0 * (1.0 - np.exp(-(t - ON) / 1.5)) * np.exp(-np.maximum(t - off_s, 0.0) / 15.0)
        ),
        "cathode": flat(0.0),
    }
    said = judged(fills, marks=((ON, "on"), (off_s, "off")), until_s=120.0)
    assert len(said.of("power_on")) == 1, said.said()
    assert len(said.of("power_off")) == 1, said.said()
    assert not said.of("outside"), said.said()


@pytest.mark.parametrize("late_s", [1.0, 1.6])
def test_a_short_marked_run_that_a_late_mains_meter_shows_afterwards_is_one(late_s: float) -> None:
    """On for a second and a half; the mains meter shows it when the switch is off again."""
    shapes = healthy(ON, ON + 1.4)
    mains = shapes["mains"]
    shapes["mains"] = lambda t: mains(t - late_s)
    said = judged(shapes, marks=((ON, "on"), (ON + 1.4, "off")), without=("heater",), rate=1.0, until_s=60.0)
    assert len(said.of("power_on")) == 1, said.said()
    assert len(said.of("power_off")) == 1, said.said()


def test_what_goes_on_filling_long_after_a_marked_switch_off_is_no_second_run() -> None:
    """An open bleeder: two seconds of power fill the reservoir, and that fills the rest, for minutes."""
    off_s = ON + 2.0
    shapes: dict[str, Shape] = {
        "B+1": lambda t: np.where(t < ON, 0.0, 220.0 * np.exp(-np.maximum(t - off_s, 0.0) / 60.0)),
        "B+2": lambda t: np.where(
            t < ON, 0.0, 205.0 * (1.0 - np.exp(-(t - ON) / 1.2)) * np.exp(-np.maximum(t - off_s, 0.0) / 60.0)
        ),
    }
    said = judged(shapes, marks=((ON, "on"), (off_s, "off")), rate=1.0, until_s=200.0)
    assert len(said.of("power_on")) == 1, said.said()


def test_a_branch_that_returns_leaves_its_feeds_departure_open() -> None:
    """B+1 and B+2 fall, B+2 alone stands up again: B+1 has still departed."""
    at_s = ON + 6.4 * TURNS_S

    def falls(t: Floats) -> Floats:
        return 1.0 - np.clip((t - at_s) / 2.0, 0.0, 1.0) / 3.0

    time = Timeline(SET, at_s + 55.0)
    for name, level in {"mains": 230.0, "heater": 6.3, "B+1": 285.0, "B+2": 240.0}.items():
        shape = times(flat(level), turned_up)
        if name == "B+1":
            shape = times(times(shape, draws), falls)
        if name == "B+2":
            shape = times(times(shape, draws), lambda t: np.where(t > at_s + 30.0, 1.0, falls(t)))
        time.meter(name, shape, rate=4.0, step=0.1 if level > 60 else 0.01)
    left = time.judged().one("departs")
    assert (left.point, left.evidence["also"], left.end_ns) == ("B+1", ["B+2"], None)


TURNS = Chart("a set", mains=230.0, rectifier="solid", points=(
    ac("mains", 230.0), dc("HT", 250.0, 0.15), dc("screen", 150.0, 0.2, fed_from="HT")))  # fmt: skip


def turned(*turns: tuple[float, float]) -> Shape:
    """A transformer turned to a part of the mains at some instants."""
    edges, parts = np.array([0.0, *(at for at, _ in turns)]), np.array([0.0, *(to for _, to in turns)])
    return lambda t: parts[np.searchsorted(edges, t, "right") - 1]


@pytest.mark.parametrize("phase_s", [0.0, 0.4, 1.2, 2.0, 2.8])
@pytest.mark.parametrize(("rate", "window_s"), [(1.0, 1.0), (0.5, 0.0)])
def test_a_feed_is_not_to_blame_that_goes_down_with_the_transformer(
    rate: float, window_s: float, phase_s: float
) -> None:
    """The screen alone had departed; then all is turned down, which a slow mains meter shows late."""
    hand = turned((5.0, 0.4), (35.0, 0.6), (65.0, 0.75), (120.0 + phase_s, 0.58))
    time = Timeline(TURNS, 150.0)
    time.meter("mains", times(flat(230.0), hand), rate=rate, window_s=window_s)
    time.meter("HT", times(flat(250.0), hand), rate=8.0)
    dies: Shape = lambda t: np.where(t >= 95.0, 0.6, 1.0)  # noqa: E731
    time.meter("screen", times(times(flat(150.0), hand), dies), rate=4.0, start_s=0.1)
    said = time.judged()
    assert {f.point for f in said.of("departs")} == {"screen"}, said.said()


@pytest.mark.parametrize("rate", [0.5, 2.0, 4.0])
@pytest.mark.parametrize("draw_s", [0.5, 3.0])
def test_a_load_that_begins_to_draw_until_the_next_turn_is_no_dropout(draw_s: float, rate: float) -> None:
    """HT falls by 15 % and is lifted back to where it was by the hand, which the mains meter shows late."""
    hand = turned((5.0, 0.3), (35.0, 0.45), (65.0, 0.6), (100.4, 0.72), (130.0, 0.86), (160.0, 1.0))
    load: Shape = lambda t: 1.18 - 0.18 * np.clip((t - 80.0) / draw_s, 0.0, 1.0)  # noqa: E731
    time = Timeline(TURNS, 220.0)
    time.meter("mains", times(flat(230.0), hand), rate=1.0, window_s=1.0)
    time.meter("HT", times(times(flat(250.0), hand), load), rate=rate)
    time.meter("screen", times(times(flat(150.0), hand), load), rate=rate, start_s=0.3)
    said = time.judged()
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(2))
def test_a_set_that_is_low_from_the_start_by_its_heater_winding_is_brought_up(seed: int) -> None:
    """No mains meter: the first stop of the transformer, at a quarter of it, puts no point outside."""
    said = brought_up(flat(1.0), without=("mains",), seed=seed)
    assert not said.of("outside", "dropout", "step", "departs"), said.said()


def test_supplies_that_come_no_further_than_half_may_yet_be_turned_up() -> None:
    """No AC meter at all: all that is read stands at a third of its chart from power-on."""
    said = brought_up(flat(1.0), without=("mains", "heater"))
    assert not said.of("outside", "dropout", "step", "departs"), said.said()


@pytest.mark.parametrize("part", [-0.08, -0.4])
def test_a_set_that_a_fault_keeps_low_is_watched_all_the_same(part: float) -> None:
    """B+1 at 55 % of its chart from power-on, no AC meter: what it drops by is told, as anywhere."""
    time = Timeline(SET, 160.0)
    course = warm_up(157.0, 1.0)
    for at_s in (60.0, 80.0, 100.0, 120.0):
        course = away(course, at_s, at_s + 2.0, part)
    time.meter("B+1", course, rate=4.0)
    time.meter("B+2", warm_up(132.0, 1.0), rate=4.0)
    said = time.judged()
    assert len(said.of("dropout", point="B+1")) == 4, said.said()


def test_a_point_that_rises_far_while_another_stands_is_no_turn_of_the_transformer() -> None:
    """A minute after the last turn B+2 jumps by half, B+1 stands, no AC meter reads: a fault."""
    at_s = ON + 10.0 * TURNS_S + 60.0
    said = brought_up(steps(flat(1.0), at_s, 0.5), points=("B+2",), without=("mains", "heater"))
    told = said.of("step", "dropout", point="B+2")
    assert len(told) == 1, said.said()
    assert told[0].start_ns * 1e-9 == pytest.approx(at_s, abs=0.6)


@pytest.mark.parametrize("back_s", [12.0, 40.0])
def test_what_falls_silent_under_a_tap_and_comes_back_was_not_switched_off(back_s: float) -> None:
    """One point is read, no mark of the power: just after a tap it falls to nothing, and it comes back."""
    time = Timeline(SET, 220.0)
    time.meter("B+1", away(warm_up(285.0, 1.0), 120.0, 120.0 + back_s, -1.0))
    time.mark(119.0, "tap", "V2")
    said = time.judged()
    assert len(said.of("power_on")) == 1, said.said()
    assert not said.of("power_off"), said.said()
    fell = said.one("dropout", "B+1")
    assert fell.evidence["after_mark"] == 119.0
    assert fell.end_ns is not None


def test_what_falls_silent_under_a_tap_for_good_was_switched_off_after_all() -> None:
    """A minute later nothing has come back: told then, from when it fell."""
    time = Timeline(SET, 240.0)
    time.meter("B+1", switched(flat(285.0), 1.0, 120.0))
    time.mark(119.0, "tap", "V2")
    off = time.judged().one("power_off")
    assert off.start_ns * 1e-9 == pytest.approx(120.0, abs=1.0)
    assert off.found_ns * 1e-9 == pytest.approx(180.0, abs=2.0)


def test_a_run_begins_when_the_power_comes_and_not_as_charge_creeps_back() -> None:
    """What a capacitor gives back by itself has passed the cold level for ten seconds before the switch."""
    time = Timeline(SET, 120.0)
    creeps = 14.0

    def course(t: Floats) -> Floats:
        rises = np.minimum(285.0, 12.0 + 150.0 * (t - creeps))
        return np.where(t < creeps, 12.0 * (1.0 - np.exp(-t / 2.0)), rises)

    time.meter("B+1", course, rate=10.0)
    on = time.judged().of("power_on")
    assert len(on) == 1
    assert on[0].start_ns * 1e-9 == pytest.approx(creeps, abs=0.4)


def test_a_departure_does_not_end_before_it_began() -> None:
    """The grain in which a quick point fell began before the fall: it says nothing of the point's return."""
    at_s = ON + 6.2 * TURNS_S
    for late in np.arange(0.0, 4.0, 0.5):
        said = brought_up(lambda t, s=at_s + late: np.where(t >= s, 0.2, 1.0), points=("B+2",))
        for found in said.of("departs"):
            assert found.end_ns is None or found.end_ns >= found.start_ns
        assert len(said.of("departs", point="B+2")) == 1, said.said()
