"""Traps about the mains: sags, steps, late meters, and what is no fault of a point."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats
from benchtui.report.say import sentence

from .shapes import away, bleeds, flat, ramps, steps, switched, times
from .streams import Judged, Shape, Timeline, ac, dc, ns

SET = Chart(
    "a set",
    mains=230.0,
    rectifier="solid",
    points=(
        ac("mains", 230.0),
        ac("heater", 6.3),
        dc("B+1", 285.0, 0.05),
        dc("B+2", 240.0, 0.05, fed_from="B+1", through=2200.0),
        dc("bias", -22.0, 0.2),
    ),
)
LEVELS = {"mains": 230.0, "heater": 6.3, "B+1": 285.0, "B+2": 240.0, "bias": -22.0}
ON = 2.0


def late(shape: Shape, by_s: float) -> Shape:
    """The same, shown so much later."""
    return lambda t: shape(t - by_s)


def wander(seed: int, part: float = 0.006) -> Shape:
    """A mains that is never still: parts of itself, over seconds."""
    rng = np.random.default_rng([8, seed])
    rates, phases = rng.uniform(0.02, 0.15, 8), rng.uniform(0.0, 2 * np.pi, 8)
    return lambda t: 1.0 + part * np.sin(2 * np.pi * np.outer(t, rates) + phases).sum(axis=1) / 2.0


def judged(
    course: Shape, *, without: tuple[str, ...] = (), mains_late_s: float = 0.0, until_s: float = 240.0,
    own: dict[str, Shape] | None = None, rates: dict[str, float] | None = None, seed: int = 0,
    window_s: float = 0.0,
) -> Judged:  # fmt: skip
    """All points follow one course of the mains; `own` comes on top of it at single points."""
    time = Timeline(SET, until_s, seed)
    for name, level in LEVELS.items():
        if name in without:
            continue
        shape = switched(times(flat(level), course), ON)
        shape = times(shape, (own or {}).get(name, flat(1.0)))
        step = 0.1 if abs(level) > 60 else 0.01
        lag = mains_late_s if name == "mains" else 0.0
        rate = (rates or {}).get(name, 4.0)
        time.meter(name, late(shape, lag), rate=rate, step=step, window_s=window_s)
    return time.judged()


@pytest.mark.parametrize("seed", range(4))
def test_a_sag_that_ends_within_a_grain_puts_no_point_outside(seed: int) -> None:
    """The band goes with the mains as it was while the readings came, not as it is when they are judged."""
    said = judged(away(flat(1.0), 150.0 + 0.7 * seed, 156.0 + seed, -0.08), seed=seed)
    assert not said.ever_wrong(), said.said()
    assert len(said.of("mains")) == 1, said.said()


@pytest.mark.parametrize("late_s", [0.0, 0.6, 1.2])
@pytest.mark.parametrize("part", [-0.07, 0.025])
def test_a_mains_meter_that_is_late_shows_all_the_same_that_it_was_the_mains(
    late_s: float, part: float
) -> None:
    """Nothing of the set stays blamed where the mains meter moves by as much a second later."""
    said = judged(steps(flat(1.0), 150.0, part), mains_late_s=late_s)
    assert not said.wrong(), said.said()
    assert len(said.of("mains")) == 1, said.said()


def test_a_step_of_the_mains_ends_and_its_way_back_is_another() -> None:
    """Two steps of 2 %, half a minute apart: a neighbour's load, on and off, each told when it came."""
    said = judged(away(flat(1.0), 150.0, 185.0, -0.02))
    assert [round(f.start_ns / 1e9) for f in said.of("mains")] == [150, 185], said.said()
    assert [f.evidence["stays"] for f in said.of("mains")] == [True, True]
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("rate", [0.25, 0.4, 4.0])
def test_a_step_of_the_mains_ends_after_it_began_however_slow_the_meters(rate: float) -> None:
    """A meter that needs half a minute to stand steady closes the finding when it does."""
    said = judged(steps(flat(1.0), 150.0, 0.03), rates=dict.fromkeys(LEVELS, rate), until_s=330.0)
    step = said.one("mains")
    assert step.end_ns is not None
    assert 149.0 <= step.start_ns / 1e9 <= 155.0
    assert step.start_ns < step.end_ns


def test_a_sag_of_five_seconds_came_back() -> None:
    """It is one move, and its end is when the points were back."""
    said = judged(away(flat(1.0), 150.0, 155.0, -0.07))
    sag = said.one("mains")
    assert not sag.evidence["stays"]
    assert sag.end_ns is not None
    assert 154.5 <= sag.end_ns / 1e9 <= 156.0


def test_what_stays_far_off_without_a_witness_is_the_feed_not_the_mains() -> None:
    """-12 % of every point, for good, with neither mains nor heater read: a fault of what feeds them."""
    said = judged(steps(flat(1.0), 150.0, -0.12), without=("mains", "heater", "bias"))
    assert not said.of("mains"), said.said()
    fault = said.one("step")
    assert fault.point == "B+1"
    assert "B+2" in fault.evidence["also"]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("without", [(), ("mains",)])
def test_a_mains_that_wanders_within_seconds_blames_no_point(seed: int, without: tuple[str, ...]) -> None:
    """Moves of about 1 % of every point at once, never still, and some meters slow: nothing of the set."""
    rates = {"B+1": 1.1, "B+2": 7.0, "mains": 2.3, "heater": 0.9}
    said = judged(wander(seed), without=without, rates=rates, seed=seed, until_s=420.0)
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_small_step_of_one_point_is_told_while_the_others_stand(seed: int) -> None:
    """0.7 % of one point: no more than the mains of a house wanders, but heater and mains vouch for it."""
    said = judged(flat(1.0), own={"bias": steps(flat(1.0), 150.0, 0.007)}, seed=seed, rates={"bias": 10.0})
    assert said.one("step").point == "bias"
    assert not said.of("mains")


@pytest.mark.parametrize("late_s", [0.15, 0.25, 0.35])
def test_a_sag_that_a_heater_alone_shows_at_once_blames_no_point(late_s: float) -> None:
    """-12 %: the heater's is the only AC meter, and the supplies follow through their filters."""
    time, sag = Timeline(SET, 240.0), away(flat(1.0), 150.1, 155.0, -0.12)
    for name, level in LEVELS.items():
        shape = switched(times(flat(level), sag), ON)
        if name != "mains":
            shown = shape if name == "heater" else late(shape, late_s)
            time.meter(name, shown, rate=10.0, step=0.1 if abs(level) > 60 else 0.01)
    said = time.judged()
    assert not said.of("dropout", "step"), said.said()
    assert len(said.of("mains")) == 1, said.said()


def test_what_rises_a_little_as_a_fault_begins_is_named_with_it() -> None:
    """B+1 fails, and the transformer with less to carry gives the heater 0.7 % more: nothing of its own."""
    lost = {name: steps(flat(1.0), 150.0, -0.6) for name in ("B+1", "B+2")}
    said = judged(flat(1.0), own={**lost, "heater": steps(flat(1.0), 150.3, 0.007)})
    assert not said.of("step", point="heater"), said.said()
    named = [f for f in said.of("step", "dropout") if "heater" in f.evidence["also"]]
    assert [f.point for f in named] == ["B+1"], said.said()


def test_a_point_that_goes_the_other_way_tells_against_the_mains() -> None:
    """A resistor between two rails opens for a while: the lower falls, the upper rises; it is no mains."""
    own = {"B+1": away(flat(1.0), 150.0, 150.6, 0.024), "B+2": away(flat(1.0), 150.0, 150.6, -0.12)}
    said = judged(flat(1.0), own=own, without=("mains", "heater", "bias"), rates={"B+1": 25.0, "B+2": 25.0})
    assert not said.of("mains"), said.said()
    assert "B+2" in {f.point for f in said.of("dropout")}, said.said()


@pytest.mark.parametrize("without", [("mains",), ("mains", "heater")])
def test_a_switch_off_is_announced_as_no_dropout(without: tuple[str, ...]) -> None:
    """Everything falls, one rail slowly through its filter: it waits for what tells a switch-off."""
    time = Timeline(SET, 260.0)
    taus = {"B+1": 0.8, "B+2": 3.0, "bias": 0.5, "heater": 0.01}
    for name, tau in taus.items():
        if name not in without:
            step = 0.1 if name.startswith("B") else 0.01
            shape = bleeds(switched(flat(LEVELS[name]), ON), 200.0, tau)
            time.meter(name, shape, rate=1.3 if name == "heater" else 5.0, step=step)
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    assert abs(said.one("power_off").start_ns / 1e9 - 200.0) < 2.5


def test_a_dropout_is_seen_after_a_small_step_of_the_mains() -> None:
    """+1.3 % that stays, then B+2 halved for two seconds, twice: the way down passes the old level."""
    course = steps(flat(1.0), 150.0, 0.013)

    def gone(t: Floats) -> Floats:
        return np.where(((t >= 172.0) & (t < 174.0)) | ((t >= 181.0) & (t < 183.0)), 0.5, 1.0)

    said = judged(course, own={"B+2": gone}, rates={"B+1": 1.0, "B+2": 1.0}, without=("mains",))
    assert [round(f.start_ns / 1e9) for f in said.of("dropout", point="B+2")] == [172, 181], said.said()


@pytest.mark.parametrize("part", [-0.06, 0.05])
@pytest.mark.parametrize("over_s", [25.0, 70.0])
def test_a_mains_that_creeps_within_a_minute_is_told_once_and_blames_no_point(
    part: float, over_s: float
) -> None:
    """From one level to another, too slowly for any single reading: one move, from where it left to where it
    came to stand."""
    said = judged(ramps(flat(1.0), 150.0, 150.0 + over_s, part), until_s=320.0)
    assert not said.ever_wrong(), said.said()
    crept = said.one("mains")
    assert abs(crept.start_ns * 1e-9 - 150.0) < 0.35 * over_s
    assert crept.end_ns is not None
    assert abs(crept.end_ns * 1e-9 - (150.0 + over_s)) < 0.35 * over_s + 8.0
    assert crept.evidence["relative"] == pytest.approx(part, rel=0.15)


def test_an_evening_dip_over_an_hour_is_no_move_of_the_mains() -> None:
    """4 % in an hour: nothing to tell of, and no point drifts."""
    said = judged(ramps(flat(1.0), 150.0, 3750.0, -0.04), until_s=3900.0, rates=dict.fromkeys(LEVELS, 1.0))
    assert not said.of("mains"), said.said()
    assert not said.ever_wrong(), said.said()


def test_a_heater_that_rose_with_b_plus_speaks_for_the_mains_though_another_meter_is_late() -> None:
    """No mains meter; one supply shows it at once, the heater half a second later, the other after 1.4 s."""
    step = steps(flat(1.0), 150.0, 0.035)
    time = Timeline(SET, 240.0)
    for name, lag in {"B+1": 0.0, "heater": 0.5, "B+2": 1.4, "bias": 1.4}.items():
        shape = switched(times(flat(LEVELS[name]), step), ON)
        time.meter(name, late(shape, lag), rate=8.0, step=0.1 if abs(LEVELS[name]) > 60 else 0.01)
    said = time.judged()
    assert len(said.of("mains")) == 1, said.said()
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("part", [0.2, -0.6])
def test_too_much_for_a_supply_is_no_move_of_the_mains(part: float) -> None:
    """Every point measured goes up by a fifth, or down by more than half, for six seconds, with no AC meter:
    a feed that nobody reads, not the mains."""
    said = judged(away(flat(1.0), 150.0, 156.0, part), without=("mains", "heater"))
    assert not said.of("mains"), said.said()
    assert len(said.of("dropout")) == 1, said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_mains_that_creeps_with_no_ac_meter_is_seen_on_all_points_together(seed: int) -> None:
    """-4 % of B+, its branch and the bias within 40 s: told once, from where it began, and blames nobody."""
    said = judged(
        ramps(flat(1.0), 200.0, 240.0, -0.04), without=("mains", "heater"), until_s=330.0, seed=seed
    )
    told = said.one("mains")
    assert 195.0 <= told.start_ns * 1e-9 <= 215.0, said.said()
    assert told.evidence["relative"] == pytest.approx(-0.04, abs=0.006)
    assert not said.wrong(), said.said()


def test_what_creeps_while_another_branch_stands_is_not_the_mains() -> None:
    """B+1 and B+2 sink by 5 % within 50 s, the bias stands: their own feed's, and no move of the mains."""
    sinks = {name: ramps(flat(1.0), 200.0, 250.0, -0.05) for name in ("B+1", "B+2")}
    said = judged(flat(1.0), without=("mains", "heater"), until_s=330.0, own=sinks)
    assert not said.of("mains"), said.said()


def test_a_creeping_mains_that_turns_back_to_where_it_was_is_told() -> None:
    """Down by 5 % and up again to the same reading: no division by a move of nought."""
    up = ramps(ramps(flat(1.0), 150.0, 180.0, -0.05), 180.0, 210.0, 1.0 / 0.95 - 1.0)
    time = Timeline(SET, 260.0)
    time.meter("mains", switched(times(flat(230.0), up), ON), rate=4.0, step=1.0, noise=0.0)
    time.meter("B+1", switched(times(flat(285.0), up), ON), rate=4.0, step=0.1)
    said = time.judged()
    assert said.of("mains"), said.said()
    assert not said.wrong(), said.said()


@pytest.mark.parametrize("part", [-0.07, -0.12, -0.2])
@pytest.mark.parametrize("seed", range(4))
def test_a_sag_that_an_averaging_mains_meter_shows_by_and_by_blames_no_point(seed: int, part: float) -> None:
    """The mains meter averages over a second and shows a fourteenth of it when the points show it all."""
    time = Timeline(SET, 240.0, seed)
    sag = away(flat(1.0), 150.1 + 0.2 * seed, 155.0, part)
    for name, level in LEVELS.items():
        if name == "heater":
            continue
        shape, step = switched(times(flat(level), sag), ON), 0.1 if abs(level) > 60 else 0.01
        time.meter(name, shape, rate=10.0, step=step, window_s=1.2 if name == "mains" else 0.02)
    said = time.judged()
    assert not [line for line in said.ever_wrong() if "outside mains" not in line], said.said()
    assert len(said.of("mains")) == 1, said.said()


@pytest.mark.parametrize("rate", [4.0, 2.0, 1.0])
@pytest.mark.parametrize("part", [-0.12, -0.3])
def test_a_deep_fall_is_told_with_the_second_reading_though_the_mains_meter_is_slow(
    part: float, rate: float
) -> None:
    """Four readings a second but for the AC meters: two other points have read since, and stand."""
    fall = {"B+2": away(flat(1.0), 150.05, 156.0, part)}
    said = judged(flat(1.0), own=fall, rates={"mains": rate, "heater": rate})
    assert said.one("dropout", "B+2").found_ns <= ns(150.05 + 0.3), said.said()


@pytest.mark.parametrize("seed", range(6))
def test_a_deep_sag_that_meters_of_two_seconds_average_blames_no_point(seed: int) -> None:
    """-30 %, and only the meter of B+1 is quick: the others show a twentieth of it in their next reading."""
    rng = np.random.default_rng([9, seed])
    time, sag = Timeline(SET, 200.0, seed), away(flat(1.0), 150.05 + rng.uniform(0, 2), 160.0, -0.3)
    for name, level in LEVELS.items():
        shape, step = switched(times(flat(level), sag), ON), 0.1 if abs(level) > 60 else 0.01
        if name == "B+1":
            time.meter(name, shape, rate=5.0, step=step)
        else:
            time.meter(name, shape, rate=0.5, step=step, start_s=rng.uniform(0.1, 2.0), window_s=2.0)
    said = time.judged()
    assert not said.of("dropout", "step"), said.said()


def test_an_overshoot_at_a_warm_restart_is_no_jump() -> None:
    """Three seconds after power-on B+1 rises far past its level and is back before its load conducts."""
    time = Timeline(SET, 240.0)
    rush: Shape = lambda t: 285.0 * (1.0 + 0.5 * np.exp(-(((t - 155.0) / 2.0) ** 2))) * (t >= ON)  # noqa: E731
    on: Shape = lambda t: np.where((t >= 142.0) & (t < 150.0), 0.0, rush(t))  # noqa: E731
    time.meter("B+1", on, rate=4.0, step=0.1)
    time.meter(
        "mains", lambda t: np.where((t < ON) | ((t >= 142.0) & (t < 150.0)), 0.0, 230.0), rate=4.0, step=0.1
    )
    said = time.judged()
    assert not said.of("dropout", "step"), said.said()


@pytest.mark.parametrize("lasts_s", [6.0, 30.0])
@pytest.mark.parametrize("late_s", [0.0, 0.6])
def test_a_mains_lead_that_slips_while_the_heater_is_fed_is_no_move_of_the_mains(
    lasts_s: float, late_s: float
) -> None:
    """The meter goes to nothing and comes back; everything else stands: told of that meter, and why."""
    gone = away(flat(1.0), 150.0, 150.0 + lasts_s, -1.0)
    said = judged(flat(1.0), own={"mains": gone}, mains_late_s=late_s)
    told = said.one("dropout")
    assert told.point == "mains"
    assert "lead of the mains meter" in sentence(told, SET)
    assert not said.of("mains", "power_off"), said.said()


@pytest.mark.parametrize("without", [(), ("B+1", "B+2"), ("heater",)])
def test_a_mains_that_goes_for_seconds_takes_the_heater_with_it(without: tuple[str, ...]) -> None:
    """A cut, or the switch: no lead has slipped."""
    said = judged(away(flat(1.0), 150.0, 151.2, -1.0), without=without)
    assert not said.of("dropout", point="mains"), said.said()
    assert said.of("mains", "power_off"), said.said()
