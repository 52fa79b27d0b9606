"""Traps where no meter of the mains tells: common moves with another story, and moves shown late."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Glow, Point, Span
from benchtui.model.readings import Floats
from benchtui.model.units import Unit

from .shapes import away, flat, ramps, steps, switched, times
from .streams import Judged, Shape, Timeline, ac, dc

SET = Chart(
    "three branches",
    mains=230.0,
    points=(
        dc("B+1", 285.0),
        dc("screen", 120.0),
        dc("cathode", 9.0),
        ac("heater", 6.3),
        Point("pilot", Unit.STATE, nominal=1.0, fed_from="B+1", seen=True,
              glow=Glow(Span(65, 90), Span(50, 65))),
    ),
)  # fmt: skip
ON = 2.0


def judged(
    shapes: dict[str, Shape], *, late: dict[str, float] | None = None, taps: tuple[float, ...] = (),
    until: dict[str, float] | None = None, rates: dict[str, float] | None = None, until_s: float = 300.0,
    seed: int = 0,
) -> Judged:  # fmt: skip
    """Meters of four readings a second; a lamp that is looked at as often."""
    time = Timeline(SET, until_s, seed)
    for name, shape in shapes.items():
        shown = later(switched(shape, ON), (late or {}).get(name, 0.0))
        step = 1.0 if name == "pilot" else 0.1 if name == "B+1" else 0.01
        noise = 0.0 if name == "pilot" else 0.3
        rate, end_s = (rates or {}).get(name, 4.0), (until or {}).get(name)
        time.meter(name, shown, rate=rate, step=step, noise=noise, until_s=end_s)
    for at_s in taps:
        time.mark(at_s, "tap", "chassis")
    return time.judged()


def later(shape: Shape, by_s: float) -> Shape:
    """The same, shown so much later."""
    return lambda t: shape(t - by_s)


def rises(start_s: float, end_s: float, part: float) -> dict[str, Shape]:
    """B+1 and the cathode are both unloaded for a while, by about as much."""
    return {
        "B+1": away(flat(285.0), start_s, end_s, part),
        "cathode": away(flat(9.0), start_s, end_s, 1.3 * part),
    }


@pytest.mark.parametrize("seed", range(3))
def test_a_rise_of_seconds_is_a_load_that_let_go_and_not_the_mains(seed: int) -> None:
    """The supply dips for seconds, but hardly ever rises for seconds (EN 50160, from memory)."""
    said = judged(rises(150.0, 153.0, 0.08), seed=seed)
    assert not said.of("mains"), said.said()
    assert said.one("dropout").evidence["relative"] > 0


def test_a_rise_that_stays_may_be_the_mains() -> None:
    """Both points up by 4 %, for good, and nothing says that it was anything else."""
    said = judged({name: steps(shape, 150.0, 0.04) for name, shape in rises(1e3, 1e3, 0.0).items()})
    assert said.one("mains").evidence["stays"], said.said()
    assert not said.of("dropout", "step"), said.said()


def test_a_fault_that_comes_again_is_not_the_mains_the_second_time() -> None:
    """The screen falls out and unloads two points; ten seconds later its meter has gone to sleep."""
    first, again = (150.0, 152.0), (160.0, 160.7)

    def twice(level: float, part: float) -> Shape:
        return away(away(flat(level), *first, part), *again, part)

    shapes = {"B+1": twice(285.0, -0.05), "cathode": twice(9.0, -0.06), "screen": twice(120.0, -0.6)}
    said = judged(shapes, until={"screen": 156.0})
    assert not said.of("mains"), said.said()
    assert said.of("dropout"), said.said()


def test_the_same_deep_dip_a_third_time_is_no_supply() -> None:
    """-16 % of everything for two seconds, 43 s apart: the third and fourth are a fault."""
    shapes = rises(1e3, 1e3, 0.0)
    for at_s in (130.0, 173.0, 216.0, 259.0):
        shapes = {name: away(shape, at_s, at_s + 2.0, -0.16) for name, shape in shapes.items()}
    said = judged(shapes)
    assert len(said.of("mains")) == 2, said.said()
    assert len(said.of("dropout")) == 2, said.said()


def test_a_supply_that_drops_out_again_and_again_is_not_the_mains_though_its_tree_moves_evenly() -> None:
    """Only points of one tree are measured; B+1 falls by 12 % for a second and a half, five times."""
    names = ("B+1", "B+2", "B+3", "B+4")
    points = tuple(dc(n, 300.0 - 40 * i, fed_from=names[i - 1] if i else None) for i, n in enumerate(names))
    time = Timeline(Chart("a tree", mains=230.0, points=points), 300.0)
    for i, name in enumerate(names):
        shape = flat(300.0 - 40 * i)
        for at_s in (130.0, 150.0, 175.0, 200.0, 230.0):
            shape = times(shape, away(flat(1.0), at_s, at_s + 1.5, -0.12))
        time.meter(name, switched(shape, ON), rate=4.0, step=0.1)
    said = time.judged()
    assert len(said.of("dropout", point="B+1")) == 3, said.said()


def test_a_rise_of_seconds_that_is_even_over_most_points_is_the_mains() -> None:
    """Four of five points rise by nearly the same part for six seconds, the fifth is regulated in part."""
    parts = {
        "B+1": (285.0, 0.037),
        "screen": (120.0, 0.034),
        "cathode": (9.0, 0.042),
        "a": (90.0, 0.038),
        "b": (60.0, 0.02),
    }
    chart = Chart("five", mains=230.0, points=tuple(dc(name, level) for name, (level, _) in parts.items()))
    time = Timeline(chart, 300.0)
    for name, (level, part) in parts.items():
        time.meter(name, switched(away(flat(level), 150.0, 155.5, part), ON), rate=4.0, step=0.01)
    said = time.judged()
    assert len(said.of("mains")) == 1, said.said()
    assert not said.of("dropout", "step"), said.said()


@pytest.mark.parametrize("taps", [(150.0,), (150.0, 151.0)])
def test_what_follows_the_hand_is_not_the_mains(taps: tuple[float, ...]) -> None:
    """A tap, and half a second later everything dips for two seconds; another tap in between."""
    dips = rises(150.5, 152.5, -0.06)
    assert judged(dips).of("mains")
    tapped = judged(dips, taps=taps)
    assert not tapped.of("mains"), tapped.said()
    assert tapped.one("dropout").evidence["after_mark"] is not None


def test_a_lamp_that_goes_out_unloads_its_supply_and_that_is_no_story_of_its_own() -> None:
    """The pilot is out for eight seconds, and with it all stands 1 % higher."""
    shapes = {name: away(shape, 150.0, 158.0, 0.01) for name, shape in rises(1e3, 1e3, 0.0).items()}
    said = judged({**shapes, "pilot": away(flat(1.0), 150.0, 158.0, -1.0)})
    assert [f.point for f in said.of("dropout")] == ["pilot"], said.said()
    assert not said.of("mains", "step"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_move_of_the_mains_that_two_groups_of_meters_show_apart_is_one(seed: int) -> None:
    """B+1 at once, the others 0.9 s later, and the slow meter of the heater last: a sag of 8 %, told once."""
    sag = away(flat(1.0), 150.0, 158.0, -0.08)
    levels = {"heater": 6.3, "B+1": 285.0, "cathode": 9.0, "screen": 120.0}
    shapes = {name: times(flat(level), sag) for name, level in levels.items()}
    said = judged(
        shapes, late={"cathode": 0.9, "screen": 0.9, "heater": 0.7}, rates={"heater": 0.83}, seed=seed
    )
    assert len(said.of("mains")) == 1, said.said()
    assert not said.ever_wrong(), said.said()


def test_a_late_jump_shows_that_a_little_move_of_the_mains_was_not_the_cause() -> None:
    """The mains wanders by 0.8 % as a joint opens: the screen's late meter shows that it lost a half."""
    chart = replace(SET, points=(*SET.points, ac("mains", 230.0)))
    time = Timeline(chart, 300.0)
    levels = {"mains": (230.0, 0.008, 0.0), "B+1": (285.0, 0.016, 0.0), "screen": (120.0, -0.5, 0.8)}
    for name, (level, part, late_s) in levels.items():
        shape = switched(away(flat(level), 150.0 + late_s, 153.0 + late_s, part), ON)
        time.meter(name, shape, rate=4.0, step=0.01)
    said = time.judged()
    assert said.one("dropout").point == "screen", said.said()
    assert not said.of("mains"), said.said()


def test_a_restless_point_swallows_no_fault_of_an_unrelated_one() -> None:
    """The screen shakes by a tenth; the cathode, which has nothing to do with it, falls by nine tenths."""
    shakes: Shape = lambda t: np.where((t >= 140) & (t < 190) & (t % 2.0 < 0.6), 108.0, 120.0)  # noqa: E731
    falls = away(flat(9.0), 160.05, 170.0, -0.9)
    said = judged({"B+1": flat(285.0), "screen": shakes, "cathode": falls})
    assert said.one("chatter").point == "screen", said.said()
    assert said.one("dropout").point == "cathode", said.said()


def test_swings_to_both_sides_of_a_level_are_restless() -> None:
    """By a fifth up and down, twice a second: it passes its level each time."""

    def swings(t: Floats) -> Floats:
        part = np.where(np.floor(2.0 * t) % 2 == 0, 0.2, -0.2)
        return 120.0 * (1.0 + np.where((t >= 150) & (t < 170), part, 0.0))

    said = judged({"B+1": flat(285.0), "cathode": flat(9.0), "screen": swings})
    assert said.one("chatter").point == "screen", said.said()


def test_a_supply_that_comes_back_is_not_turned_up() -> None:
    """B+1 stands low and drops out for 25 s; the screen's dropout after it is told."""
    gone = away(flat(250.0), 150.0, 175.0, -0.4)
    said = judged({"B+1": gone, "cathode": flat(9.0), "screen": away(flat(105.0), 200.0, 203.0, -0.6)})
    assert {f.point for f in said.of("dropout")} == {"B+1", "screen"}, said.said()


def test_a_fault_taken_for_the_mains_and_back_is_one_finding() -> None:
    """B+1 falls by 3 %, the late mains wanders by 1 %, then B+1 falls by 20 %: told once, and it ends."""
    chart = replace(SET, points=(*SET.points, ac("mains", 230.0)))
    time = Timeline(chart, 300.0)
    falls = {
        "mains": away(flat(230.0), 150.9, 170.0, -0.01),
        "B+1": away(away(flat(285.0), 150.0, 170.0, -0.03), 151.2, 170.0, -0.175),
        "cathode": flat(9.0),
    }
    for name, shape in falls.items():
        time.meter(name, switched(shape, ON), rate=4.0, step=0.1 if name == "B+1" else 0.01, noise=0.3)
    said = time.judged()
    assert [(f.point, f.state) for f in said.of("dropout", "step", "mains")] == [("B+1", "closed")], (
        said.said()
    )


def test_a_sudden_fall_within_a_creep_of_the_mains_is_told() -> None:
    """Everything creeps by -8 % over 80 s; the cathode goes by 12 % at once, and then by 70 %."""
    creep = ramps(flat(1.0), 200.0, 280.0, -0.08)
    falls = away(away(flat(9.0), 270.0, 300.0, -0.12), 271.5, 300.0, -0.66)
    said = judged(
        {
            "B+1": times(flat(285.0), creep),
            "screen": times(flat(120.0), creep),
            "cathode": times(falls, creep),
        },
        until_s=340.0,
    )
    assert said.one("dropout").point == "cathode", said.said()
