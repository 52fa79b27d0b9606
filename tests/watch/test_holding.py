"""A meter that held a reading and lets go of it: no fault of the point begins as it does."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats

from .shapes import away, flat, steps, switched, times
from .streams import Judged, Shape, Timeline, dc

SET = Chart("a set", mains=230.0, points=(dc("B+1", 285.0), dc("anode", 120.0), dc("screen", 90.0)))


def drifting(t: Floats) -> Floats:
    """A set that is never quite still: some tenths of a per cent, over minutes."""
    return 1.0 + 0.003 * np.sin(t / 23.0)


def held(shape: Shape, start_s: float, end_s: float) -> Shape:
    """The same, but for as long as the meter holds what it read at first."""
    return lambda t: np.where((t >= start_s) & (t < end_s), shape(np.full(len(t), start_s)), shape(t))


def judged(anode: Shape, step: float, noise: float, hold: tuple[float, float] | None = None) -> Judged:
    time = Timeline(SET, 300.0)
    for name, level in (("B+1", 285.0), ("screen", 90.0)):
        time.meter(name, switched(times(flat(level), drifting), 2.0), step=0.1)
    channel = time.meter("anode", None)
    shape = switched(times(flat(120.0), anode), 2.0)
    time.reads(channel, shape, 0.05, hold[0] if hold else 300.0, step=step, noise=noise)
    if hold:
        time.reads(channel, held(shape, *hold), *hold, step=step, noise=0.0)
        time.reads(channel, shape, hold[1], 300.0, step=step, noise=noise)
    return time.judged()


@pytest.mark.parametrize("part", [-0.012, 0.02])
def test_what_a_meter_shows_as_it_lets_go_is_no_fault(part: float) -> None:
    """Held for half a minute, in which the point went elsewhere slowly, as meters do that are on hold."""
    gone = times(drifting, steps(flat(1.0), 170.0, part))
    said = judged(gone, 0.01, 8.0, (150.0, 182.0))
    assert not said.of("dropout", "step", point="anode"), said.said()


def test_a_coarse_meter_that_repeats_itself_with_right_shows_a_dropout() -> None:
    """One count is .8 %: what it repeats for minutes is what the point reads."""
    said = judged(away(flat(1.0), 182.0, 184.0, -0.04), 1.0, 0.1)
    assert said.one("dropout").point == "anode", said.said()


def test_a_great_jump_as_a_meter_lets_go_is_told() -> None:
    """No point goes 30 % elsewhere unseen and without a fault."""
    said = judged(steps(drifting, 170.0, -0.3), 0.01, 8.0, (150.0, 182.0))
    assert said.of("dropout", "step", point="anode"), said.said()


@pytest.mark.parametrize("lasts_s", [20.0, 200.0])
def test_a_point_that_has_become_still_since_its_warm_up_is_not_on_hold(lasts_s: float) -> None:
    """It rose for a minute, no reading like the one before; now it repeats itself with right, and falls."""
    time = Timeline(SET, 300.0)
    rise: Shape = lambda t: np.where(t > 2.0, -285.0 * np.expm1(-(t - 2.0) / 12.0), 0.0)  # noqa: E731
    time.meter("B+1", away(rise, 150.0, 150.0 + lasts_s, -0.03), rate=4.0, step=1.0, noise=0.1)
    time.meter("screen", switched(flat(90.0), 2.0), rate=4.0, step=0.1)
    said = time.judged()
    assert {f.point for f in said.of("dropout", "step")} == {"B+1"}, said.said()


@pytest.mark.parametrize("seed", range(4))
def test_a_dropout_after_a_quiet_spell_is_told(seed: int) -> None:
    """A point that had noise repeats one value for ten seconds, falls by 8 % and comes back to that value."""
    chart = Chart("a set", points=(dc("HT", 285.0), dc("reg", 150.0, follows_mains=False), dc("bias", -22.0)))
    time = Timeline(chart, 320.0, seed)
    time.meter("HT", flat(285.0), rate=4.0, noise=0.7)
    time.meter("bias", flat(-22.0), rate=4.0, step=0.01, noise=0.7)
    channel = time.meter("reg", None)
    time.reads(channel, flat(150.0), 0.05, 240.0, rate=4.0, noise=1.2)
    time.reads(channel, away(flat(150.03), 250.0, 253.0, -0.08), 240.05, 320.0, rate=4.0, noise=0.05)
    assert time.judged().of("dropout", point="reg")
