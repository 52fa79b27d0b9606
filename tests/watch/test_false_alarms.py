"""The setting `false_alarms`: rarer alarms, fewer findings. White noise and one small step; invented data."""

from __future__ import annotations

from itertools import pairwise

import pytest

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.watch.eyes.grains import caution, threshold

from .shapes import flat, steps, switched
from .streams import Judged, Timeline, ac, dc

SET = Chart("two supplies", mains=230.0, points=(ac("mains", 230.0), dc("B+1", 285.0), dc("bias", -22.0)))
HOURS, CHANNELS = 3, len(SET.points)
RATES_PER_H = (1.0, 0.1, 0.01, 0.001)


def told_in_noise(rate_per_h: float, hours: int = HOURS) -> int:
    """Findings that blame the set, and moves of the mains, in hours of white noise of 1 % on every meter."""
    told = 0
    for seed in range(hours):
        time = Timeline(SET, 3600.0, seed)
        for point, rate, step in zip(SET.points, (4.0, 5.0, 3.0), (0.1, 0.1, 0.01), strict=True):
            assert point.nominal
            noise = 0.01 * abs(point.nominal) / step
            time.meter(point.name, switched(flat(point.nominal), 2.0), rate=rate, step=step, noise=noise)
        said = time.judged(Settings(false_alarms_per_h=rate_per_h))
        told += len(said.ever_wrong()) + len(said.of("mains"))
    return told


def test_an_eager_setting_raises_about_as_many_as_it_says() -> None:
    assert 1 <= told_in_noise(1.0) <= HOURS * CHANNELS


@pytest.mark.parametrize("rate_per_h", RATES_PER_H[1:])
def test_a_rarer_setting_raises_none_in_few_hours(rate_per_h: float) -> None:
    assert told_in_noise(rate_per_h) == 0


def small_step(rate_per_h: float, part: float) -> Judged:
    """Ten minutes in which B+1 steps down by a part, read to a tenth of a volt."""
    time = Timeline(SET, 600.0)
    time.meter("mains", switched(flat(230.0), 2.0), rate=4.0, noise=0.5)
    time.meter("B+1", steps(switched(flat(285.0), 2.0), 300.0, -part), rate=4.0, noise=1.0)
    time.meter("bias", switched(flat(-22.0), 2.0), rate=4.0, step=0.01, noise=1.0)
    return time.judged(Settings(false_alarms_per_h=rate_per_h))


@pytest.mark.parametrize(
    ("part", "told"),
    [(0.0018, ()), *((part, RATES_PER_H[: n + 1]) for n, part in enumerate((0.0027, 0.0036, 0.0042, 0.006)))],
)
def test_an_eager_setting_tells_smaller_steps(part: float, told: tuple[float, ...]) -> None:
    assert tuple(r for r in RATES_PER_H if small_step(r, part).of("step", point="B+1")) == told


def test_bounds_widen_with_every_rarer_setting() -> None:
    cautions = [caution(r) for r in (1e6, *RATES_PER_H, 1e-12)]
    assert cautions == sorted(cautions)
    bounds = [threshold(r, 0.2) for r in (1e6, *RATES_PER_H, 1e-12)]
    assert all(a < b for a, b in pairwise(bounds))
