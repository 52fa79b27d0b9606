"""Traps about "off": a set that is live is not told off for long, and one that is off not told on."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.model.readings import Floats

from .shapes import bleeds, flat, switched, warm_up
from .streams import Judged, Shape, Timeline
from .test_traps_power import ON, SET, healthy, judged

OFF, AGAIN = 240.0, 244.5
REST = {"B+1": 285.0, "B+2": 240.0, "cathode": 9.4}


def cut(off_s: float = OFF, again_s: float = AGAIN) -> dict[str, Shape]:
    """A healthy set whose power is gone for a few seconds."""

    def returns(shape: Shape, level: float) -> Shape:
        left = float(shape(np.array([again_s]))[0])
        back: Shape = lambda t: level + (left - level) * np.exp(-np.maximum(t - again_s, 0.0) / 0.6)  # noqa: E731
        return lambda t: np.where(t < again_s, shape(t), back(t))

    shapes = healthy(ON, off_s)
    for name, level in REST.items():
        shapes[name] = returns(shapes[name], level)
    for name, level in {"mains": 230.0, "heater": 6.3}.items():
        shape = shapes[name]
        shapes[name] = lambda t, shape=shape, level=level: np.where(t < again_s, shape(t), level)  # type: ignore[misc]
    return shapes


def runs(said: Judged) -> list[tuple[str, float]]:
    """What was told of the power, and when it was so."""
    return [(f.kind, f.start_ns * 1e-9) for f in said.of("power_on", "power_off")]


def read(
    shapes: dict[str, Shape], rates: dict[str, float], *, marks: tuple[tuple[float, str], ...] = (),
    until_s: float = 320.0, seed: int = 0,
) -> Judged:  # fmt: skip
    """Each point at its own rate; those without one are not measured."""
    time = Timeline(SET, until_s, seed)
    for name, rate in rates.items():
        time.meter(name, shapes[name], rate=rate, step=0.1 if name.startswith(("B", "m")) else 0.01)
    for at, kind in marks:
        time.mark(at, kind)
    return time.judged()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("marks", [(), ((ON, "on"),)])
def test_heaters_that_are_fed_again_after_a_short_cut_are_a_run(
    marks: tuple[tuple[float, str], ...], seed: int
) -> None:
    """The supplies are read too slowly to show the dip in whole grains; who marked the first switch-on marks
    no cut."""
    said = read(cut(), {"heater": 4.0, "B+1": 1.0, "B+2": 0.75}, marks=marks, seed=seed)
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off", "power_on"], said.said()
    again = said.of("power_on")[1]
    assert again.start_ns * 1e-9 == pytest.approx(AGAIN, abs=0.5)
    assert again.found_ns * 1e-9 <= AGAIN + 3.0
    assert not said.of("slow_bleed"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_supplies_that_come_back_near_where_they_stood_are_a_run(seed: int) -> None:
    """No AC meter, the switch-off marked, the next switch-on not: the reservoir alone fills nothing to
    where it stood."""
    said = read(cut(), {"B+1": 1.0, "B+2": 0.75}, marks=((ON, "on"), (OFF, "off")), seed=seed)
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off", "power_on"], said.said()
    assert said.of("power_on")[1].found_ns * 1e-9 <= AGAIN + 8.0


@pytest.mark.parametrize(
    ("without", "wait_s"),
    [((), 20.0), (("mains",), 20.0), (("heater",), 20.0), (("mains", "heater"), 45.0)],
)
def test_a_marked_switch_off_that_was_none_is_not_told_for_long(
    without: tuple[str, ...], wait_s: float
) -> None:
    """The key was pressed, the switch was not: all goes on as before."""
    said = judged(healthy(), without=without, marks=((ON, "on"), (OFF, "off")))
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off", "power_on"], said.said()
    assert said.of("power_on")[1].found_ns * 1e-9 <= OFF + wait_s


def test_a_mains_lead_that_slips_leaves_a_set_told_off_for_less_than_a_minute() -> None:
    """Its meter reads nothing, no heater is read; B+ stands as it stood, which no capacitor does."""
    shapes = healthy()
    shapes["mains"] = switched(flat(230.0), ON, OFF)
    said = judged(shapes, without=("heater", "cathode"), until_s=400.0)
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off", "power_on"], said.said()
    assert said.of("power_on")[1].found_ns * 1e-9 <= OFF + 60.0


@pytest.mark.parametrize("seed", range(3))
def test_heaters_tell_a_switch_on_while_the_mains_lead_is_off(seed: int) -> None:
    """The lead slipped while the set was off: nothing on the mains meter, 6.3 V on the heaters."""
    shapes = cut(again_s=270.0)
    shapes["mains"] = switched(flat(230.0), ON, OFF)
    said = judged(shapes, seed=seed)
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off", "power_on"], said.said()
    assert said.of("power_on")[1].start_ns * 1e-9 == pytest.approx(270.0, abs=1.0)


def test_a_record_that_begins_with_the_mains_lead_off_knows_a_fed_heater() -> None:
    """Nothing on the mains meter from the beginning, 6.3 V on the heaters: the set runs."""
    said = judged({"mains": flat(0.0), "heater": flat(6.3), "B+1": flat(285.0)}, until_s=60.0)
    assert said.bank.placer.desk.running
    assert not runs(said)


def test_a_rise_that_takes_its_time_is_a_run_in_the_end() -> None:
    """From nothing to a tenth of the nominal value in fifteen seconds, then on: no AC meter, one rise."""
    slowly: Shape = lambda t: 285.0 * np.clip((t - ON) / 150.0, 0.0, 1.0)  # noqa: E731
    said = read({"B+1": slowly}, {"B+1": 2.0}, until_s=120.0)
    assert [kind for kind, _ in runs(said)] == ["power_on"], said.said()
    assert said.one("power_on").found_ns * 1e-9 <= ON + 30.0


# -- what is off, and may look otherwise


@pytest.mark.parametrize("tau_s", [8.0, 60.0, 400.0])
@pytest.mark.parametrize("without", [("heater",), ("mains", "heater")])
def test_a_set_that_is_off_is_not_told_on(without: tuple[str, ...], tau_s: float) -> None:
    """The mains is read before the switch, or not at all; the bleeder may be open: B+ goes down slowly."""
    shapes = healthy(ON, OFF)
    shapes["mains"] = flat(230.0)
    shapes["B+1"] = bleeds(warm_up(285.0, ON), OFF, tau_s)
    shapes["B+2"] = bleeds(warm_up(240.0, ON, 3.5), OFF, tau_s)
    said = judged(shapes, without=without, marks=((ON, "on"), (OFF, "off")), until_s=600.0)
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off"], said.said()


def test_a_meter_that_holds_its_reading_tells_no_run() -> None:
    """After the switch-off one meter repeats a reading: that is no supply that stands."""

    def held(t: Floats) -> Floats:
        return np.where(t < OFF - 5.0, warm_up(285.0, ON)(t), 285.0)

    time = Timeline(SET, 400.0)
    shapes = healthy(ON, OFF)
    time.meter("mains", shapes["mains"])
    channel = time.meter("B+1", held, until_s=OFF - 5.0)
    time.reads(channel, flat(285.0), OFF - 5.0, 400.0, noise=0.0)
    said = time.judged()
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off"], said.said()


def test_a_probe_that_slips_off_what_is_charged_and_returns_tells_no_run() -> None:
    """Off and charged; for five seconds the probe touches nothing."""
    shapes = healthy(ON, OFF)
    slow = bleeds(warm_up(285.0, ON), OFF, 90.0)
    shapes["B+1"] = lambda t: np.where((t > OFF + 30.0) & (t < OFF + 35.0), 0.0, slow(t))
    said = judged(shapes, without=("heater", "cathode"), until_s=400.0)
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off"], said.said()


@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_supplies_that_read_again_after_a_minute_of_nothing_tell_of_a_run(noise: float) -> None:
    """The lead on the mains has slipped meanwhile, so that its meter says nothing of it."""
    time = Timeline(SET, 340.0)
    time.meter("mains", switched(flat(230.0), ON, OFF), rate=2.0)
    for name, rate in (("B+1", 4.0), ("B+2", 4.0)):
        level = REST[name]
        on = switched(flat(level), ON, OFF)
        again = switched(flat(level), OFF + 60.0)
        both: Shape = lambda t, on=on, again=again: on(t) + again(t)  # type: ignore[misc]  # noqa: E731
        time.meter(name, both, rate=rate, noise=noise)
    said = time.judged()
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off", "power_on"], said.said()
    assert runs(said)[-1][1] == pytest.approx(OFF + 60.0, abs=1.0)


def test_what_filled_after_a_short_run_and_is_on_its_way_down_is_no_run() -> None:
    """Switched off after 1.8 s: B+1 is charged, B+2 fills from it, and then its meter falls asleep."""
    time = Timeline(SET, 200.0)
    down = bleeds(switched(flat(285.0), ON), ON + 1.8, 60.0)
    fills: Shape = lambda t: 0.6 * down(t) * -np.expm1(-np.maximum(t - ON, 0.0) / 3.0)  # noqa: E731
    first = time.meter("B+1", down, rate=1.0)
    time.drop(first, 40.0, 60.0)
    time.meter("B+2", fills, rate=8.0)
    for at, kind in ((ON, "on"), (ON + 1.8, "off")):
        time.mark(at, kind)
    said = time.judged()
    assert [kind for kind, _ in runs(said)] == ["power_on", "power_off"], said.said()
