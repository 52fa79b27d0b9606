"""Run lengths of the sequential tests against the published tables, and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats as outside

from benchtui.stats import cusum, ewma
from benchtui.stats import run_length as rl

SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5)
LUCAS_CROSIER = (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31)
HEAD_START = (149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01)


@pytest.mark.parametrize(("shift", "length"), list(zip(SHIFTS, LUCAS_CROSIER, strict=True)))
def test_two_sided_cusum(shift: float, length: float) -> None:
    """k .5, h 4, to 0.5 %. Source: Lucas and Crosier 1982 (Technometrics 24, 199), Table 1."""
    assert rl.cusum_run_length(shift, 0.5, 4.0) == pytest.approx(length, rel=0.005)
    assert rl.cusum_run_length(-shift, 0.5, 4.0) == pytest.approx(length, rel=0.005)


@pytest.mark.parametrize(("shift", "length"), list(zip(SHIFTS, HEAD_START, strict=False)))
def test_two_sided_cusum_with_head_start(shift: float, length: float) -> None:
    """k .5, h 4, both sums from 2, to 0.5 %. Source: the same table (memory)."""
    assert rl.cusum_run_length(shift, 0.5, 4.0, start=2.0) == pytest.approx(length, rel=0.005)


@pytest.mark.parametrize(("shift", "length"), [(0.0, 117.59), (1.5, 3.75)])
def test_one_sided_cusum(shift: float, length: float) -> None:
    """k .5, h 3, to .02. Source: Brook and Evans 1972 (Biometrika 59, 539)."""
    assert rl.cusum_run_length(shift, 0.5, 3.0, two_sided=False) == pytest.approx(length, abs=0.02)


@pytest.mark.parametrize(
    ("weight", "factor", "lengths"),
    [
        (0.5, 3.071, (500, 255, 88.8, 35.9, 17.5, 6.53, 3.63)),
        (0.03, 2.437, (500, 76.7, 29.3, 17.6, 12.6, 8.07, 5.99)),
    ],
)
def test_ewma(weight: float, factor: float, lengths: tuple[float, ...]) -> None:
    """To 0.5 %. Source: Lucas and Saccucci 1990, Table 3."""
    for shift, length in zip((0, 0.25, 0.5, 0.75, 1, 1.5, 2), lengths, strict=True):
        assert rl.ewma_run_length(shift, weight, factor) == pytest.approx(length, rel=0.005)


@pytest.mark.parametrize(("shift", "start"), [(0.0, 0.0), (0.5, 0.0), (2.0, 0.0), (0.0, 2.0), (1.0, 2.0)])
def test_simulated_cusum(shift: float, start: float) -> None:
    """The evaluated test itself runs as long as computed, within four standard errors of 1,500 runs."""
    rng = np.random.default_rng(int(10 * shift + start))
    lengths = []
    for _ in range(1500):
        state = cusum.Cusum.head_start(4.0) if start else cusum.Cusum()
        before, alarm = 0, None
        while alarm is None:
            course = cusum.run(rng.normal(loc=shift, size=64), 0.5, state)
            alarm = cusum.first_alarm(course, 4.0)
            state = course.end
            before += 64
        lengths.append(before - 64 + alarm + 1)
    error = np.std(lengths) / np.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(rl.cusum_run_length(shift, 0.5, 4.0, start=start), abs=4 * error)


def test_simulated_ewma() -> None:
    """The evaluated average runs as long as computed, within four standard errors of 1,500 runs."""
    rng = np.random.default_rng(4)
    edge = ewma.limit(2.437, 0.03)
    lengths = []
    for _ in range(1500):
        z, n = 0.0, 0
        while True:
            course = ewma.run(rng.normal(loc=1.0, size=32), 0.03, z)
            outside = np.abs(course) > edge
            if outside.any():
                lengths.append(n + int(outside.argmax()) + 1)
                break
            z, n = float(course[-1]), n + 32
    error = np.std(lengths) / np.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(rl.ewma_run_length(1.0, 0.03, 2.437), abs=4 * error)


@pytest.mark.parametrize("wished", [4.0, 168.0, 500.0, 1e4, 7.2e6, 1e9])
def test_designs_give_what_was_wished(wished: float) -> None:
    """The threshold for a run length has that run length, with twice the nodes and more too."""
    rel = 1e-5 if wished < 1e8 else 1e-3
    h = rl.cusum_design(0.5, wished)
    assert rl.cusum_run_length(0.0, 0.5, h, nodes=250) == pytest.approx(wished, rel=rel)
    one = rl.cusum_design(0.5, wished, two_sided=False)
    assert rl.cusum_run_length(0.0, 0.5, one, two_sided=False, nodes=250) == pytest.approx(wished, rel=rel)
    factor = rl.ewma_design(0.1, wished)
    assert rl.ewma_run_length(0.0, 0.1, factor, nodes=250) == pytest.approx(wished, rel=rel)


def test_a_large_allowance_alone_is_rarely_passed() -> None:
    """One reading in 1 / (1 - Phi(k)) passes k itself: a wish below that gives no threshold beyond it."""
    assert rl.cusum_design(1.0, 3.0) == pytest.approx(0.0, abs=1e-6)
    assert rl.cusum_run_length(0.0, 1.0, 1e-9) == pytest.approx(0.5 / outside.norm.sf(1.0), rel=1e-6)


def test_published_designs() -> None:
    """168 readings are h 4 (Lucas and Crosier 1982); 500 are L 3.071 and 2.437 (Lucas and Saccucci 1990)."""
    assert rl.cusum_design(0.5, 168.0) == pytest.approx(4.0, abs=0.01)
    assert rl.ewma_design(0.5, 500.0) == pytest.approx(3.071, abs=0.001)
    assert rl.ewma_design(0.03, 500.0) == pytest.approx(2.437, abs=0.001)


def test_impossible_wishes_are_refused() -> None:
    """No threshold alarms less than every second reading, or is exact beyond 1e9."""
    for wished in (1.0, 1e12, float("nan")):
        with pytest.raises(ValueError, match="run length"):
            rl.cusum_design(0.5, wished)
