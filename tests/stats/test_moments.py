"""Running mean and sd of stiff data."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats.moments import Moments

from . import nist

CASES = [("NUMACC1", 10000002.0, 1.0), ("NUMACC3", 1000000.2, 0.1)]


def readings(name: str) -> np.ndarray:
    """The data of one file, from line 61."""
    return np.loadtxt(nist.DATA / f"{name}.DAT", skiprows=60)


@pytest.mark.parametrize(("name", "mean", "sd"), CASES)
@pytest.mark.parametrize(("a", "b"), [(1.0, 0.0), (1000.0, 0.0), (-0.001, 0.0), (1.0, 250.0)])
def test_stiff_data(name: str, mean: float, sd: float, a: float, b: float) -> None:
    """Means and sds of digits that differ in the eighth place only. NIST certified values in the files."""
    values = a * readings(name) + b
    one_by_one = Moments()
    for value in values.tolist():
        one_by_one = one_by_one.after(value)
    halves = Moments.of(values[: len(values) // 3]).merged(Moments.of(values[len(values) // 3 :]))
    for moments in (one_by_one, Moments.of(values), halves):
        assert moments.count == len(values)
        assert moments.mean == pytest.approx(a * mean + b, rel=1e-13)
        assert moments.sd == pytest.approx(abs(a) * sd, rel=1e-6)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=50), st.lists(st.integers(0, 50), max_size=5))
def test_merging_any_parts_gives_the_whole(values: list[float], cuts: list[int]) -> None:
    """Blocks merged in order, and readings one by one, agree with numpy on the whole."""
    column = np.array(values)
    merged, one_by_one = Moments(), Moments()
    for part in np.split(column, sorted(min(c, len(values)) for c in cuts)):
        merged = merged.merged(Moments.of(part))
    for value in values:
        one_by_one = one_by_one.after(value)
    for moments in (merged, one_by_one):
        assert moments.count == len(values)
        assert moments.mean == pytest.approx(float(column.mean()), rel=1e-9, abs=1e-6)
        if len(values) > 1:
            assert moments.sd == pytest.approx(float(column.std(ddof=1)), rel=1e-6, abs=1e-6)


def test_nothing_has_no_spread() -> None:
    """None or one reading have no standard deviation; two equal ones have 0."""
    assert math.isnan(Moments().sd)
    assert math.isnan(Moments().after(5.0).sd)
    assert math.isnan(Moments().mean_sd)
    assert Moments.of(np.array([5.0, 5.0])).sd == 0.0
    assert Moments.of(np.array([1.0, 3.0])).mean_sd == pytest.approx(1.0)
