"""What a meter repeats with right, and what no point repeats by itself."""

from __future__ import annotations

import numpy as np
import pytest

from benchtui.chart.chart import Chart, Glow, Span
from benchtui.model.readings import Floats

from .shapes import flat, steps, times
from .streams import Judged, Shape, Timeline, ac, dc

UNSAID = Chart("a set", points=(ac("mains", 230.0), dc("B+", 285.0), dc("anode", 62.0, 0.5)))
TUBE = Glow(Span(161, 181), Span(0, 161))


def _regulated(level_of: Shape, mains_of: Shape, *, chart: Chart, seed: int = 0) -> Judged:
    """B+, the mains, and an anode with a last digit of 0.1 V and a third of that as noise."""
    time = Timeline(chart, 400.0, seed)
    time.meter("mains", times(flat(230.0), mains_of), rate=1.0)
    time.meter("B+", times(flat(285.0), mains_of), rate=2.0)
    channel = time.meter("anode", None)
    t = np.arange(0.3, 400.0, 0.6)
    x = level_of(t) + np.random.default_rng([9, seed]).normal(0.0, 0.033, len(t))
    time.add(channel, np.round(t * 1e9).astype(np.int64), np.round(x * 10.0) / 10.0)
    return time.judged()


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    "chart",
    [
        pytest.param(UNSAID, id="unsaid"),
        pytest.param(
            Chart(
                "a set",
                points=(
                    ac("mains", 230.0), dc("B+", 285.0), dc("tube", 150.0, glow=TUBE),
                    dc("anode", 62.0, fed_from="tube", through=93e3),
                ),
            ),
            id="said",
        ),
    ],
)  # fmt: skip
def test_a_regulated_point_that_stands_while_the_mains_moves_is_not_frozen(chart: Chart, seed: int) -> None:
    """The level drifts from one count to the middle of the next; the mains steps by 2 % meanwhile."""
    said = _regulated(
        lambda t: 62.3 + 0.05 * np.cos(t / 40.0), steps(steps(flat(1.0), 150.0, 0.02), 260.0, -0.02),
        chart=chart, seed=seed,
    )  # fmt: skip
    assert not said.of("frozen"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_what_followed_the_mains_before_and_repeats_itself_now_is_frozen(seed: int) -> None:
    """The first step of the mains moved the anode too; at the next one its meter repeats one reading."""
    mains = steps(steps(flat(1.0), 150.0, 0.03), 260.0, -0.03)

    def stuck(t: Floats) -> Floats:
        return np.where(t < 252.0, 62.0 * mains(t), 63.86)

    time = Timeline(UNSAID, 400.0, seed)
    time.meter("mains", times(flat(230.0), mains), rate=1.0)
    time.meter("B+", times(flat(285.0), mains), rate=2.0)
    channel = time.meter("anode", stuck, rate=1.6, until_s=252.0)
    time.reads(channel, flat(63.9), 252.0, 400.0, rate=1.6, noise=0.0)
    told = time.judged().one("frozen", "anode")
    assert told.start_ns * 1e-9 == pytest.approx(252.0, abs=2.0)
    assert told.found_ns * 1e-9 <= 268.0


@pytest.mark.parametrize("seed", range(4))
def test_a_point_that_drifts_and_then_stands_may_repeat_itself(seed: int) -> None:
    """While it fell by half a count from each reading to the next it repeated few: that tells nothing."""
    falls: Shape = lambda t: 54.2 - 12.2 * np.clip((t - 60.0) / 137.0, 0.0, 1.0) - 0.05  # noqa: E731
    said = _regulated(falls, flat(1.0), chart=UNSAID, seed=seed)
    assert not said.of("frozen"), said.said()


@pytest.mark.parametrize("seed", range(3))
def test_a_meter_that_freezes_while_its_point_is_away_is_told(seed: int) -> None:
    """It repeats a reading from the middle of a sag on, long after the sag is over."""
    time = Timeline(UNSAID, 400.0, seed)
    sag = steps(steps(flat(1.0), 200.0, -0.04), 215.0, 1.0 / 0.96 - 1.0)
    time.meter("mains", times(flat(230.0), sag), rate=2.0)
    channel = time.meter("B+", times(flat(285.0), sag), rate=4.0, until_s=205.0)
    time.reads(channel, flat(273.6), 205.05, 330.0, rate=4.0, noise=0.0)
    time.reads(channel, flat(285.0), 330.05, 400.0, rate=4.0)
    time.meter("anode", times(flat(62.0), sag), rate=2.0, step=0.01)
    said = time.judged()
    found = said.one("frozen", "B+")
    assert found.start_ns * 1e-9 == pytest.approx(205.0, abs=1.0)
    assert found.end_ns is not None
    assert not said.of("step", "dropout", point="B+"), said.said()


def test_a_level_between_two_counts_may_come_to_lie_within_one() -> None:
    """To and fro between two counts, then five minutes in the middle of one: nothing is held."""
    time = Timeline(UNSAID, 600.0)
    level: Shape = lambda t: np.where(t < 250.0, 225.5, 225.0)  # noqa: E731
    time.meter("mains", level, rate=4.0, step=1.0, noise=0.2)
    assert not time.judged().of("frozen")
