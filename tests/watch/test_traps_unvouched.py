"""Traps where no meter of the mains tells: common moves with another story, and moves shown late."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchtui.chart.chart import Chart, Glow, Point, Span
from benchtui.model.units import Unit

from .shapes import away, flat, steps, switched, times
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
    until: dict[str, float] | None = None, rates: dict[str, float] | None = None, seed: int = 0,
) -> Judged:  # fmt: skip
    """Meters of four readings a second; a lamp that is looked at as often."""
    time = Timeline(SET, 300.0, seed)
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
