"""Traps at the edge of a move of the mains: one point kicks farther than the rest, or the other way."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats
from benchtui.watch.place.cluster import Cluster, Move
from benchtui.watch.place.late import mains_shown_late

from .shapes import flat, times
from .streams import Judged, Shape, Timeline, ac, dc

AMPLIFIER = Chart(
    "an amplifier with fixed bias",
    mains=230.0,
    rectifier="solid",
    points=(
        ac("mains", 230.0),
        dc("HT", 455.0),
        dc("driver HT", 391.0, fed_from="HT"),
        dc("driver anode", 204.0, 0.2, fed_from="driver HT"),
        dc("bias", -30.5),
        dc("output cathode", 0.74, 0.25),
    ),
)
LEVELS = {p.name: p.nominal or 0.0 for p in AMPLIFIER.points}
AT_S = 120.0


def dips(part: float, start_s: float, lasts_s: float) -> Shape:
    """Away by a part for so long, as a factor."""
    return lambda t: 1.0 + part * ((t >= start_s) & (t < start_s + lasts_s))


def begun(**courses: Shape) -> tuple[Timeline, dict[str, Shape]]:
    """A record that begins with the set long on; each point as its factor says."""
    named = {name.replace("_", " "): course for name, course in courses.items()}
    return Timeline(AMPLIFIER, 200.0), {n: times(flat(LEVELS[n]), c) for n, c in named.items()}


def step_of(name: str) -> float:
    """One count of the digits that a meter shows at this level."""
    return 0.1 if abs(LEVELS[name]) > 60 else 0.01 if abs(LEVELS[name]) > 5 else 0.001


def judged(time: Timeline, shapes: dict[str, Shape], **rates: float) -> Judged:
    """A meter on each of the points, four readings a second or as said; the mains meter averages."""
    for name, shape in shapes.items():
        rate = rates.get(name.replace(" ", "_"), 4.0)
        window_s = 1.6 if name == "mains" else 0.0
        time.meter(name, shape, rate=rate, step=step_of(name), noise=0.5, window_s=window_s)
    return time.judged()


@pytest.mark.parametrize("start_s", [AT_S, AT_S + 0.4, AT_S + 0.9])
def test_a_stage_that_kicks_the_other_way_as_the_mains_steps_is_no_fault(start_s: float) -> None:
    """The HT rises by 1.7 %; the anode first falls by 2 %, before a slow mains meter has read."""

    def rises(t: Floats) -> Floats:
        return 1.0 + 0.017 * (t >= start_s)

    def kicks(t: Floats) -> Floats:
        since = np.maximum(t - start_s, 0.0)
        return rises(t) - 0.042 * np.exp(-since / 0.5) * (t >= start_s)

    time, shapes = begun(HT=rises, driver_HT=rises, driver_anode=kicks, mains=rises)
    said = judged(time, shapes, HT=8.0, mains=0.8)
    assert not said.ever_wrong(), said.said()
    told = said.of("mains")
    assert told, said.said()
    assert all(float(str(f.evidence["relative"])) > 0.0 for f in told), "it rose, whatever kicked"


def test_a_cathode_that_goes_farther_than_two_supplies_with_nothing_in_common_is_no_fault() -> None:
    """A sag of 3.4 % with no AC meter: the current of the output valve falls by nearly three times that."""
    sag = dips(-0.034, AT_S, 1.8)
    time, shapes = begun(HT=sag, driver_HT=sag, bias=sag, output_cathode=dips(-0.09, AT_S, 1.8))
    said = judged(time, shapes, HT=1.0, bias=8.0, output_cathode=1.0)
    assert not said.ever_wrong(), said.said()
    assert said.one("mains").evidence["shown_by"] != "output cathode", "a kick is not how far the mains went"


def test_a_cathode_that_falls_alone_by_as_much_is_one() -> None:
    """The same, but the supplies stand."""
    time, shapes = begun(
        HT=flat(1.0), driver_HT=flat(1.0), bias=flat(1.0), output_cathode=dips(-0.09, AT_S, 1.8)
    )
    said = judged(time, shapes, HT=1.0, bias=8.0, output_cathode=1.0)
    assert said.one("dropout").point == "output cathode", said.said()


def test_what_a_change_of_range_hid_does_not_tell_against_the_mains() -> None:
    """In a sag of 15 % a cathode falls to half, on a lower range of its meter; what is seen of it first is
    how it overshoots as the sag ends."""
    sag = dips(-0.15, AT_S, 2.2)
    time, shapes = begun(HT=sag, driver_HT=sag, bias=sag)
    for name, shape in shapes.items():
        time.meter(name, shape, rate=8.0 if name == "bias" else 1.0, step=step_of(name), noise=0.5)
    cathode = time.meter("output cathode", flat(0.743), rate=0.8, step=0.001, noise=0.5)
    time.drop(cathode, AT_S, AT_S + 4.0)
    for after_s, value, step in ((0.3, 0.372, 0.0001), (1.55, 0.515, 0.001), (2.8, 0.79, 0.001)):
        time.at(cathode, AT_S + after_s, value, step=step)
    said = time.judged()
    assert not said.ever_wrong(), said.said()
    assert said.of("mains"), said.said()


@pytest.mark.parametrize("lasts_s", [0.25, 0.4])
def test_a_short_dip_of_all_that_an_averaging_mains_meter_shows_in_part_is_the_mains(lasts_s: float) -> None:
    """The supplies fall by an eighth, a cathode by a quarter; the mains meter shows a tenth of that."""
    dip, deeper = dips(-0.12, AT_S, lasts_s), dips(-0.25, AT_S, lasts_s)
    time, shapes = begun(HT=dip, driver_HT=dip, driver_anode=dip, output_cathode=deeper, mains=dip)
    said = judged(time, shapes, HT=10.0, driver_HT=10.0, driver_anode=8.0, output_cathode=6.0, mains=1.6)
    assert not said.ever_wrong(), said.said()
    assert said.of("mains"), said.said()


@pytest.mark.parametrize("start_s", [AT_S, AT_S + 0.6, AT_S + 1.2])
def test_what_a_quick_meter_shows_the_wrong_way_round_waits_for_the_slow_ones(start_s: float) -> None:
    """A sag of 8 % lifts an anode by 14 % while the bias lags; HT and bias are read about once a second."""
    sag = dips(-0.08, start_s, 6.0)

    def lifted(t: Floats) -> Floats:
        inside = (t >= start_s) & (t < start_s + 6.0)
        return 1.0 + 0.14 * np.exp(-np.maximum(t - start_s, 0.0) / 4.0) * inside

    time, shapes = begun(HT=sag, driver_anode=lifted, bias=sag, output_cathode=dips(0.02, start_s, 6.0))
    said = judged(time, shapes, HT=1.0, bias=0.8, driver_anode=4.0, output_cathode=8.0)
    assert not said.ever_wrong(), said.said()
    assert said.of("mains"), said.said()


def test_a_stage_that_swings_through_a_sag_is_part_of_it() -> None:
    """An anode first rises by 13 %, then falls by 21 %, while all else stands a tenth lower."""
    sag = dips(-0.09, AT_S, 3.5)

    def swings(t: Floats) -> Floats:
        rises = (t >= AT_S) & (t < AT_S + 0.6)
        falls = (t >= AT_S + 1.0) & (t < AT_S + 3.0)
        return 1.0 + 0.13 * rises - 0.21 * falls

    time, shapes = begun(HT=sag, driver_HT=sag, driver_anode=swings, bias=sag, mains=sag)
    said = judged(time, shapes, HT=2.0, driver_HT=8.0, driver_anode=8.0, bias=1.0, mains=3.0)
    assert not said.ever_wrong(), said.said()
    assert said.of("mains"), said.said()


def test_an_anode_that_falls_alone_long_after_a_sag_began_is_a_fault() -> None:
    """Ten seconds into a sag that lasts: nothing swings for so long."""
    sag = dips(-0.09, AT_S, 30.0)
    own = dips(-0.3, AT_S + 10.0, 3.0)
    time, shapes = begun(HT=sag, driver_HT=sag, driver_anode=times(sag, own), bias=sag, mains=sag)
    said = judged(time, shapes, HT=2.0, driver_HT=8.0, driver_anode=8.0, bias=1.0, mains=3.0)
    assert said.one("dropout").point == "driver anode", said.said()


@pytest.mark.parametrize("after_s", [0.0, 1.0])
@pytest.mark.parametrize("part", [-0.4, -0.18])
def test_a_stage_that_kicked_and_then_falls_for_good_is_a_fault(part: float, after_s: float) -> None:
    """It fell about the end of the sag, as one that swings on would; but it stays."""
    sag = dips(-0.09, AT_S, 3.5)
    fell_s = AT_S + 3.5 + after_s
    course: Shape = lambda t: 1.0 + 0.13 * ((t >= AT_S) & (t < AT_S + 0.6)) + part * (t >= fell_s)  # noqa: E731
    time, shapes = begun(HT=sag, driver_HT=sag, driver_anode=course, bias=sag, mains=sag)
    said = judged(time, shapes, HT=2.0, driver_HT=8.0, driver_anode=8.0, bias=1.0, mains=3.0)
    told = said.of("step", "dropout")
    assert [f.point for f in told] == ["driver anode"], said.said()
    assert told[0].end_ns is None
    assert told[0].found_ns * 1e-9 <= fell_s + 6.0


def test_points_that_return_from_exactly_nothing_are_weighed_without_a_level() -> None:
    """The way back from 0 V has no level to be a part of, and nothing went against it."""
    time, shapes = begun(HT=flat(1.0), bias=flat(1.0))
    tracks = judged(time, shapes).bank.placer.desk.tracks
    back = [Move(tracks[name], -2, 1, 0.0, LEVELS[name], 0.1, True, 0) for name in ("HT", "bias")]
    cluster = Cluster(1, 1, back, "mains")
    assert cluster.most_against(back[0]) is None
    assert cluster.usual.relative == 0.0
    assert not mains_shown_late(cluster, Move(tracks["HT"], 3, 2, 455.0, -9.0, 0.1, True, 1))
    assert not mains_shown_late(
        Cluster(1, 1, back[1:], "mains"), Move(tracks["HT"], 3, 2, 455.0, -9.0, 0.1, True, 1)
    )
