"""Traps about what moves together: a whole set and its stragglers, tails of a sag, meters that missed it."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats
from benchtui.model.units import Unit

from .shapes import away, bleeds, flat, steps, switched, times
from .streams import Judged, Shape, Timeline, ac, dc

LEVELS = {
    "mains": 230.0, "heater": 6.3, "HT1": 285.0, "HT2": 240.0, "anode": 150.0, "screen": 100.0, "bias": -22.0,
    "cathode": 2.4, "grid": -2.1,
}  # fmt: skip
SET = Chart(
    "a set whose chart says little",
    mains=230.0,
    rectifier="solid",
    points=(
        ac("mains", 230.0),
        ac("heater", 6.3),
        dc("HT1", 285.0),
        dc("HT2", 240.0),
        dc("anode", 150.0, fed_from="HT2"),
        dc("screen", 100.0, follows_mains=False),
        dc("bias", -22.0),
        dc("cathode", 2.4, 0.3),
        dc("grid", -2.1, 0.3),
    ),
)
ON = 2.0
TREE = ("HT1", "HT2", "anode", "cathode")


def judged(
    moves: dict[str, Shape], *, rates: dict[str, float] | None = None, seed: int = 0, until_s: float = 260.0,
    noise: float = 0.5,
) -> Judged:  # fmt: skip
    """Only the points named have a meter: four readings a second, or as said."""
    time = Timeline(SET, until_s, seed)
    for name, course in moves.items():
        shape, level = switched(times(flat(LEVELS[name]), course), ON), abs(LEVELS[name])
        step = 0.1 if level > 60 else 0.01 if level > 5 else 0.001
        time.meter(name, shape, rate=(rates or {}).get(name, 4.0), step=step, noise=noise)
    return time.judged()


def swings(*parts: tuple[float, float, float], over_s: float = 1.5) -> Shape:
    """Away by a part from one instant to another, each edge of it an exponential of some seconds."""

    def course(t: Floats) -> Floats:
        off = np.zeros(len(t))
        for start_s, end_s, part in parts:
            up = -np.expm1(-np.maximum(t - start_s, 0.0) / over_s)
            down = -np.expm1(-np.maximum(t - end_s, 0.0) / over_s)
            off += part * (up - down)
        return 1.0 + off

    return course


@pytest.mark.parametrize(("part", "after_s"), [(-0.15, 4.0), (-0.3, 9.0)])
def test_what_the_heaters_do_after_a_sag_is_no_fault(part: float, after_s: float) -> None:
    """The mains dips for seconds; a screen held by a regulator moves a little as heaters follow."""
    sag = away(flat(1.0), 150.0, 156.0, part)
    tail = swings((156.0 + after_s, 172.0, 0.1 * abs(part)))
    said = judged({"mains": sag, "HT1": sag, "HT2": sag, "screen": tail})
    assert not said.ever_wrong(), said.said()
    assert len(said.of("mains")) == 1, said.said()


def test_a_small_fault_that_no_sag_explains_is_told_soon_after_one() -> None:
    """-4 % of the screen eight seconds after half a second of sag: no heater has followed that."""
    sag = away(flat(1.0), 150.0, 150.5, -0.15)
    said = judged({"mains": sag, "HT1": sag, "HT2": sag, "screen": away(flat(1.0), 158.0, 161.0, -0.04)})
    assert said.one("dropout").point == "screen", said.said()


def test_what_stands_where_a_tail_would_be_long_over_is_told() -> None:
    """-3.5 % of HT2 for good, in the tail of a sag of ten seconds."""
    sag = away(flat(1.0), 150.0, 160.0, -0.15)
    own = times(sag, steps(flat(1.0), 172.0, -0.035))
    said = judged({"mains": sag, "HT1": sag, "HT2": own, "screen": flat(1.0)})
    assert round(said.one("step", "HT2").start_ns / 1e9) == 172, said.said()


def test_dropouts_that_come_again_in_the_tail_of_a_sag_are_told() -> None:
    """No heater lets go and comes back within two seconds, again and again."""
    sag = away(flat(1.0), 150.0, 160.0, -0.15)
    own = sag
    for at_s in (163.0, 167.0, 171.0, 175.0):
        own = times(own, away(flat(1.0), at_s, at_s + 1.6, -0.03))
    said = judged({"mains": sag, "HT1": sag, "HT2": own, "screen": flat(1.0)})
    assert {f.point for f in said.of("dropout", "chatter")} == {"HT2"}, said.said()


def test_what_begins_as_a_tail_and_goes_far_beyond_is_a_fault() -> None:
    """A joint lets go in two stages, in the tail of a sag."""
    sag = away(flat(1.0), 150.0, 160.0, -0.15)
    gone = times(away(flat(1.0), 166.0, 170.0, -0.02), away(flat(1.0), 166.6, 170.0, -0.3))
    said = judged({"mains": sag, "HT1": sag, "HT2": sag, "screen": gone})
    assert said.one("dropout").point == "screen", said.said()


@pytest.mark.parametrize("at_s", [150.05, 150.3])
def test_a_short_dip_that_a_heater_meter_read_and_did_not_show_was_no_mains(at_s: float) -> None:
    """HT1 and a cathode, of which the chart does not say what feeds it, dip for .3 s by 3 %."""
    dip = away(flat(1.0), at_s, at_s + 0.35, -0.03)
    rates = {"HT1": 10.0, "heater": 2.0, "cathode": 6.0}
    said = judged({"HT1": dip, "cathode": dip, "heater": flat(1.0)}, rates=rates)
    assert not said.of("mains"), said.said()
    assert said.one("dropout").point == "HT1", said.said()


def test_a_cathode_that_kicks_does_not_hide_that_everything_fell() -> None:
    """-14 % of two supplies and the bias, with no AC meter; a cathode falls by twice as much, and first."""
    sag = away(flat(1.0), 150.0, 158.0, -0.14)
    moves = {**dict.fromkeys(TREE, sag), "bias": sag, "cathode": away(flat(1.0), 149.9, 158.0, -0.3)}
    said = judged(moves, rates={"cathode": 8.0})
    assert not said.of("dropout", "step"), said.said()
    assert len(said.of("mains")) == 1, said.said()


def test_a_grid_that_stands_does_not_outvote_the_whole_set() -> None:
    """-2 % of everything for a minute, but of a grid, which lives of more than its supply."""
    step = away(flat(1.0), 150.0, 210.0, -0.02)
    moves = {**dict.fromkeys((*TREE, "bias"), step), "grid": flat(1.0)}
    said = judged(moves)
    assert not said.wrong(), said.said()
    assert said.of("mains"), said.said()


def test_of_supplies_that_the_chart_does_not_link_the_highest_is_to_blame() -> None:
    """HT1 feeds HT2, which the chart does not say; HT2 feeds an anode, which it does. The bias stands."""
    fall = away(flat(1.0), 150.0, 158.0, -0.2)
    said = judged({**dict.fromkeys(TREE, fall), "bias": flat(1.0), "mains": flat(1.0)})
    assert said.one("dropout").point == "HT1", said.said()


def test_a_swell_that_a_heater_shows_is_the_mains() -> None:
    """+4 % for half a second, of which a slow heater meter shows a part."""
    swell = away(flat(1.0), 150.0, 150.5, 0.04)
    less = away(flat(1.0), 150.0, 150.7, 0.015)
    said = judged({"HT2": swell, "anode": swell, "HT1": less, "heater": less}, rates={"heater": 2.0})
    assert not said.wrong(), said.said()
    assert len(said.of("mains")) == 1, said.said()


def test_a_step_of_one_point_that_the_mains_meter_bears_out_is_told_as_the_mains() -> None:
    """-1.5 % of HT1 and, a little slower, of the mains, whose meter is noisy; nothing else is read."""
    step, slow = steps(flat(1.0), 150.0, -0.015), swings((150.0, 900.0, -0.015), over_s=1.0)
    said = judged({"HT1": step, "mains": slow}, noise=6.0)
    assert not said.ever_wrong(), said.said()
    assert len(said.of("mains")) == 1, said.said()


def test_a_small_dip_is_no_mains_where_its_meter_shows_next_to_nothing() -> None:
    """-1 % of two points of one tree for three seconds, and a mains that wanders by a part of that."""
    wander = swings(*((20.0 * k, 20.0 * k + 9.0, 0.006) for k in range(2, 13)), over_s=4.0)
    dip = times(wander, away(flat(1.0), 150.0, 153.0, -0.01))
    said = judged({"HT2": dip, "anode": dip, "mains": wander}, rates={"HT2": 8.0, "anode": 8.0}, noise=2.0)
    assert not said.of("mains"), said.said()
    assert [f.point for f in said.of("dropout")] == ["HT2"], said.said()


@pytest.mark.parametrize("part", [-0.006, 0.007])
def test_a_small_step_of_a_heater_with_no_mains_meter_is_not_its_own(part: float) -> None:
    """Its winding carries the mains; that the supplies hide as much in their noise says nothing."""
    said = judged({"heater": steps(flat(1.0), 150.0, part), "HT1": flat(1.0)}, noise=1.0)
    assert not said.ever_wrong(), said.said()


def test_a_slow_meter_that_has_not_yet_said_is_waited_for_by_whoever_sees_small_steps() -> None:
    """-1.2 % of everything within half a minute, with no AC meter: a quick meter has its grains first."""
    creep = swings((150.0, 900.0, -0.012), over_s=6.0)
    moves = dict.fromkeys(("HT1", "HT2", "anode"), creep)
    said = judged(moves, rates={"HT1": 4.0, "HT2": 0.8, "anode": 0.7}, noise=1.0)
    assert not said.ever_wrong(), said.said()


def test_a_switch_off_that_an_averaging_mains_meter_shows_late_is_no_dropout() -> None:
    """The supplies are down long before it has shown more than a sixth of it."""
    time = Timeline(SET, 260.0)
    for name, tau_s in (("HT1", 0.4), ("HT2", 0.5)):
        shape = bleeds(switched(flat(LEVELS[name]), ON), 200.07, tau_s)
        time.meter(name, shape, rate=4.0)
    off = switched(flat(230.0), ON, 200.07)
    time.meter("mains", lambda t: off(t) + 0.0, rate=1.0, window_s=0.9, start_s=0.2)
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    assert abs(said.one("power_off").start_ns / 1e9 - 200.5) < 1.5


def test_a_cut_that_makes_the_mains_meter_change_its_range_is_no_dropout() -> None:
    """.45 s without mains: its meter shows 15 and 117 V, in other ranges; a valve's anode falls by most."""
    time = Timeline(SET, 200.0)
    moves = {"HT1": -0.32, "HT2": -0.3, "anode": -0.6}
    for name, part in moves.items():
        shape = switched(times(flat(LEVELS[name]), away(flat(1.0), 132.5, 133.1, part)), ON)
        time.meter(name, shape, rate=8.0)
    mains = time.meter("mains", switched(flat(233.0), ON), rate=4.0, start_s=0.08, step=1.0)
    time.drop(mains, 132.4, 133.4)
    for at_s, value, step in (
        (132.58, 229.0, 1.0),
        (132.83, 15.39, 0.01),
        (133.08, 117.1, 0.1),
        (133.33, 227.0, 1.0),
    ):
        time.at(mains, at_s, value, step=step, unit=Unit.VAC)
    said = time.judged()
    assert not said.of("dropout", "step"), said.said()


def test_a_heater_that_sags_is_the_mains_though_a_cathode_and_a_regulator_stand() -> None:
    """-9 % for six seconds; the supplies have slow meters, and what is quick is held by a regulator."""
    sag = away(flat(1.0), 150.0, 156.0, -0.09)
    moves = {"heater": sag, "HT1": sag, "HT2": sag, "screen": flat(1.0), "cathode": flat(1.0)}
    rates = {"heater": 2.7, "HT1": 0.95, "HT2": 0.65, "screen": 6.0, "cathode": 6.0}
    said = judged(moves, rates=rates)
    assert not said.ever_wrong(), said.said()
    assert len(said.of("mains")) == 1, said.said()


@pytest.mark.parametrize("at_s", [150.1, 150.2, 150.6, 150.9])
@pytest.mark.parametrize("rate", [1.0, 2.0])
def test_a_sag_between_two_readings_of_the_mains_meter_blames_no_point(at_s: float, rate: float) -> None:
    """-4 % for .35 s, which its meter does not average."""
    sag = away(flat(1.0), at_s, at_s + 0.35, -0.04)
    rates = {"HT1": 10.0, "HT2": 10.0, "bias": 10.0, "mains": rate}
    said = judged({"HT1": sag, "HT2": sag, "bias": sag, "mains": sag}, rates=rates)
    assert not said.of("dropout", "step"), said.said()


STEPPED = {"bias": 0.012, "HT1": 0.018}
STAGES = Chart(
    "a regulated set with two rectifiers",
    mains=230.0,
    points=(
        dc("raw", 310.0),
        dc("smooth", 280.0, fed_from="raw"),
        dc("reg", 150.0, fed_from="smooth", follows_mains=False),
        dc("anode", 60.0, fed_from="reg", follows_mains=False),
        dc("minus", -45.0),
    ),
)


def staged(moves: dict[str, Shape], rates: dict[str, float], seed: int = 0) -> Judged:
    """Every point of the regulated set, with the moves that are its own."""
    time = Timeline(STAGES, 400.0, seed)
    for point in STAGES.points:
        assert point.nominal
        shape = switched(times(flat(point.nominal), moves.get(point.name, flat(1.0))), ON)
        step = 0.1 if abs(point.nominal) > 100 else 0.01
        time.meter(point.name, shape, rate=rates.get(point.name, 4.0), step=step, noise=0.5)
    return time.judged()


@pytest.mark.parametrize("seed", range(3))
def test_what_a_filter_and_a_regulator_hold_does_not_tell_against_a_sag(seed: int) -> None:
    """Two supplies that share nothing fall by a tenth; what one of them feeds stands, or falls in part."""
    dip = away(flat(1.0), 300.0, 300.7, -0.1)
    moves = {"raw": dip, "minus": dip, "smooth": away(flat(1.0), 300.1, 300.9, -0.02)}
    said = staged(moves, {"raw": 2.0, "minus": 2.0, "smooth": 1.0}, seed)
    assert said.of("mains"), said.said()
    assert not said.ever_wrong(), said.said()


def test_equal_dips_of_two_supplies_are_the_mains_however_often() -> None:
    """A tenth off both, five times: the chart says that the supplies have nothing in common."""
    dips: Shape = flat(1.0)
    for at_s in (160.0, 205.0, 250.0, 300.0, 350.0):
        dips = away(dips, at_s, at_s + 0.9, -0.105)
    said = staged({"raw": dips, "smooth": dips, "minus": dips}, {})
    assert len(said.of("mains")) == 5, said.said()
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_small_step_of_the_mains_that_every_eye_follows_is_told(seed: int) -> None:
    """A mains that wanders a little steps by two per cent, within a second or two on each meter."""
    rng = np.random.default_rng([13, seed])
    rates, phases = rng.uniform(0.02, 0.1, 6), rng.uniform(0.0, 2 * np.pi, 6)

    def course(t: Floats) -> Floats:
        wander = 0.002 * np.sin(2 * np.pi * np.outer(t, rates) + phases).sum(axis=1) / 2.0
        return np.asarray(1.0 + wander - 0.019 / (1.0 + np.exp(-np.clip((t - 200.0) / 1.2, -50, 50))))

    slow = dict.fromkeys(("HT1", "mains"), 1.0)
    said = judged(dict.fromkeys(("HT1", "bias", "mains"), course), rates=slow, seed=seed)
    assert any(abs(f.start_ns * 1e-9 - 200.0) <= 4.0 for f in said.of("mains")), said.said()
    assert not said.ever_wrong(), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_step_of_one_point_that_another_bears_out_late_is_the_mains(seed: int) -> None:
    """No AC meter: the quick meter of the bias is told alone, until the noisy one of HT1 shows a step too."""
    time = Timeline(SET, 260.0, seed)
    shapes = {name: switched(steps(flat(LEVELS[name]), 200.0, -part), ON) for name, part in STEPPED.items()}
    time.meter("bias", shapes["bias"], rate=4.0, step=0.01, noise=0.5)
    time.meter("HT1", shapes["HT1"], rate=1.4, step=1.0, noise=0.8)
    said = time.judged()
    assert len(said.of("mains")) == 1, said.said()
    assert not said.wrong(), said.said()


def test_a_feed_that_rises_as_what_it_feeds_falls_has_lost_its_load() -> None:
    """The tube regulator is starved by an open joint: smooth jumps up, reg sags a little, and is to blame."""
    gone = 200.0, 209.0
    moves = {
        "smooth": away(flat(1.0), *gone, 0.12),
        "reg": away(flat(1.0), *gone, -0.023),
        "anode": away(flat(1.0), *gone, -0.02),
    }
    said = staged(moves, {"smooth": 8.0})
    assert [f.point for f in said.of("dropout", "step", "chatter")] == ["reg"], said.said()


def test_a_heater_that_sags_while_nothing_else_is_live_shows_the_mains() -> None:
    """The supply has failed and everything is at nothing: only a heater can tell of the mains."""
    dead = {name: steps(flat(1.0), 120.0, -1.0) for name in ("HT1", "HT2", "anode", "cathode")}
    said = judged({**dead, "heater": away(flat(1.0), 200.0, 205.0, -0.05)})
    assert any(abs(f.start_ns * 1e-9 - 200.0) <= 1.0 for f in said.of("mains")), said.said()
    assert not said.of("dropout", "step", point="heater"), said.said()


def test_a_point_that_follows_a_lasting_move_of_the_mains_sluggishly_is_no_fault() -> None:
    """Everything rises by 5 %; what a slow filter holds follows two seconds later."""
    rise = away(flat(1.0), 150.0, 167.0, 0.05)
    late = away(flat(1.0), 152.4, 168.5, 0.03)
    moves = {"heater": rise, "HT1": rise, "bias": rise, "HT2": late}
    said = judged(moves, rates=dict.fromkeys(moves, 0.7))
    assert said.of("mains"), said.said()
    assert not said.ever_wrong(), said.said()


def test_a_dead_ac_meter_says_nothing_of_a_short_dip() -> None:
    """A heater that reads nothing, and a run that a mark began: what dips a little is judged without it."""
    dip = away(flat(1.0), 150.1, 150.45, -0.015)
    time = Timeline(SET, 170.0, 1)
    time.mark(0.5, "on")
    for name, rate in (("HT1", 10.0), ("bias", 3.0), ("HT2", 0.9)):
        course = times(flat(LEVELS[name]), flat(1.0) if name == "HT2" else dip)
        time.meter(name, course, rate=rate, step=0.01 if name == "bias" else 0.1, noise=0.5)
    time.meter("heater", flat(0.0), rate=1.0, step=0.01, noise=0.0)
    assert time.judged().of("power_on")


@pytest.mark.parametrize("witness", ["bias", "heater"])
def test_noise_of_a_point_that_stood_is_no_part_of_the_move(witness: str) -> None:
    """Two supplies, one fed by the other, fall by 8 %; a point whose noise is a half per cent stands."""
    blamed = 0
    for seed in range(6):
        time = Timeline(SET, 190.0, seed)
        for name in ("HT1", "HT2"):
            time.meter(name, times(flat(LEVELS[name]), away(flat(1.0), 150.0, 156.0, -0.08)), rate=4.0)
        level = LEVELS[witness]
        time.meter(witness, flat(level), rate=4.0, step=0.001, noise=0.005 * abs(level) / 0.001)
        blamed += bool(time.judged().of("dropout", point="HT1"))
    assert blamed >= 5


@pytest.mark.parametrize("rate", [0.33, 2.0])
@pytest.mark.parametrize("seed", range(3))
def test_no_small_step_is_the_mains_against_a_meter_of_it(rate: float, seed: int) -> None:
    """HT1 and HT2 go down by 1.8 % within a second; the mains meter, slow or quick, stands."""
    step = swings((250.0, 1e9, -0.018), over_s=0.3)
    time = Timeline(SET, 400.0, seed)
    time.meter("mains", flat(230.0), rate=rate)
    for name, noise in (("HT1", 8.0), ("HT2", 7.0)):
        time.meter(name, times(flat(LEVELS[name]), step), rate=4.0, noise=noise)
    assert not time.judged().of("mains")


@pytest.mark.parametrize("seed", range(3))
def test_a_heater_whose_meter_is_late_tells_that_it_was_the_mains(seed: int) -> None:
    """No mains meter: two supplies go down by 4 % and stay; the heater's meter reads every three seconds."""
    step = steps(flat(1.0), 200.3, -0.04)
    said = judged({"HT1": step, "HT2": step, "heater": step}, rates={"heater": 0.3}, seed=seed)
    assert said.of("mains"), said.said()
    assert not said.wrong(), said.said()


@pytest.mark.parametrize("lasts_s", [1.0, 6.0, 12.0])
@pytest.mark.parametrize("after_s", [20.0, 40.0])
def test_a_dropout_soon_after_a_lasting_step_of_the_mains_ends_when_it_does(
    after_s: float, lasts_s: float
) -> None:
    """The mains rises by 3 % and stays; the anode falls by half from where that has left it, and returns."""
    step: Shape = lambda t: np.where(t >= 100.0, 1.03, 1.0)  # noqa: E731
    own: Shape = lambda t: np.where((t >= 100.0 + after_s) & (t < 100.0 + after_s + lasts_s), 0.5, 1.0)  # noqa: E731
    said = judged({"mains": step, "HT1": step, "HT2": step, "anode": times(step, own)})
    fell = said.one("dropout")
    assert fell.point == "anode"
    assert fell.end_ns is not None, said.said()
    assert fell.end_ns * 1e-9 == pytest.approx(100.0 + after_s + lasts_s, abs=0.5)
    assert len(said.of("mains")) == 1, said.said()
