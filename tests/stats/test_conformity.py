"""Inside, outside or undecided: JCGM 106 and the GUM."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats import conformity as c

TRANSFORMS = [(1.0, 0.0), (1000.0, 0.0), (1.0, 250.0), (-0.001, 250.0)]


def limits(low: float | None, high: float | None, a: float, b: float) -> tuple[float | None, float | None]:
    """Limits after y -> a*y + b; a negative factor exchanges them."""
    moved = [None if v is None else a * v + b for v in (low, high)]
    return (moved[0], moved[1]) if a > 0 else (moved[1], moved[0])


@pytest.mark.parametrize(("a", "b"), TRANSFORMS)
def test_conformance_probability_one_sided(a: float, b: float) -> None:
    """Limit -5.40 V at most, measured -5.47 V, u 0.05 V: z 1.4, p 0.919. JCGM 106:2012 7.3.2 (memory)."""
    low, high = limits(None, -5.40, a, b)
    assert c.conformance(a * -5.47 + b, abs(a) * 0.05, low, high) == pytest.approx(0.919, abs=0.0005)


@pytest.mark.parametrize(("a", "b"), TRANSFORMS)
@pytest.mark.parametrize(("value", "p"), [(10.0, 0.01242), (10.5, 0.10574), (12.0, 0.99379)])
def test_probability_outside(value: float, p: float, a: float, b: float) -> None:
    """Limits 9..11, u 0.4. Source: tables of the normal distribution."""
    low, high = limits(9.0, 11.0, a, b)
    assert sum(c.outside(a * value + b, abs(a) * 0.4, low, high)) == pytest.approx(p, abs=1e-5)


@pytest.mark.parametrize(("p", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
@pytest.mark.parametrize(("a", "b"), TRANSFORMS)
def test_one_sided_guard_band(p: float, z: float, a: float, b: float) -> None:
    """The guard band is z standard uncertainties. Source: JCGM 106:2012 Table 1 (memory)."""
    low, high = limits(None, 11.0, a, b)
    guard = c.guard(abs(a), low, high, risk=1.0 - p)
    edge = guard.accept_high if a > 0 else guard.accept_low
    assert (11.0 - (edge - b) / a) == pytest.approx(z, abs=0.0051)


def test_combined_uncertainty() -> None:
    """The components of the gauge block example: 31.66 nm, printed as 32 nm. JCGM 100 (GUM) H.1."""
    assert c.combine([25.0, 16.599, 6.7, 5.8, 3.9, 2.88679]) == pytest.approx(31.66, abs=0.01)


def test_effective_degrees_of_freedom() -> None:
    """The same example has 16.7 effective degrees of freedom, printed as 16. GUM H.1.6 (memory)."""
    assert c.effective_dof([(25, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)]) == pytest.approx(16.7, abs=0.1)
    assert c.effective_dof([(1.0, math.inf)]) == math.inf
    assert c.effective_dof([(1.0, 4.0), (0.0, 9.0), (1.0, math.inf)]) == pytest.approx(16.0)


@pytest.mark.parametrize(
    ("value", "percent", "counts", "resolution", "bound"),
    [
        (32.00, 2.5, 3, 0.01, 0.83),
        (100.0, 0.8, 2, 0.1, 1.0),
        (2.000, 0.08, 2, 0.001, 0.0036),
        (166.51e-3, 0.1, 4, 0.01e-3, 0.20651e-3),
    ],
)
def test_accuracy_statements(
    value: float, percent: float, counts: int, resolution: float, bound: float
) -> None:
    """+-(% of reading + counts). Source: university laboratory notes on meter uncertainty; arithmetic."""
    got = c.accuracy_bound(value, of_reading=percent / 100.0, counts=counts, resolution=resolution)
    assert got == pytest.approx(bound, rel=1e-9)
    assert c.accuracy_bound(-value, of_reading=percent / 100.0, counts=counts, resolution=resolution) == got


def test_a_needle_is_accurate_to_a_part_of_its_scale() -> None:
    """2 % of full scale on 250 V is 5 V wherever the needle stands: the definition of an accuracy class."""
    assert c.accuracy_bound(30.0, of_full_scale=0.02, full_scale=250.0) == pytest.approx(5.0)


def test_rectangular_errors() -> None:
    """+-a evenly spread has the sd of a uniform distribution (scipy); a last digit, that of half a count
    each way.
    """
    assert c.rectangular(0.83) == pytest.approx(outside.uniform(-0.83, 1.66).std())
    assert c.rounding(0.1) == pytest.approx(outside.uniform(-0.05, 0.1).std())


@settings(max_examples=300, deadline=None)
@given(
    st.floats(-50.0, 50.0), st.one_of(st.just(0.0), st.floats(1e-4, 30.0)),
    st.floats(0.0, 60.0), st.floats(0.0005, 0.45),
    st.floats(-120.0, 120.0), st.sampled_from(["both", "low", "high"]),
)  # fmt: skip
def test_a_decision_keeps_its_risk(
    low: float, u: float, width: float, risk: float, value: float, sides: str
) -> None:
    """Inside means a conformance probability of at least 1 - risk; outside, at least that much beyond one
    limit.
    """
    bottom = None if sides == "high" else low
    top = None if sides == "low" else low + width
    decision = c.guard(u, bottom, top, risk=risk).decide(value)
    below, above = c.outside(value, u, bottom, top)
    if decision == c.INSIDE:
        assert 1.0 - below - above >= 1.0 - risk - 1e-9
    elif decision == c.OUTSIDE:
        assert max(below, above) >= 1.0 - risk - 1e-9
    else:
        assert 1.0 - below - above <= 1.0 - risk + 1e-9
        assert max(below, above) <= 1.0 - risk + 1e-9


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(-5.0, 25.0), min_size=1, max_size=30), st.floats(0.0, 3.0))
def test_one_at_a_time_or_all_at_once(values: list[float], u: float) -> None:
    """A column is decided as its readings are; one that is not a number is undecided."""
    guard = c.guard(u, 5.0, 15.0)
    column = np.array([*values, math.nan])
    assert list(guard.decide_all(column)) == [guard.decide(v) for v in column]
    assert guard.decide(math.nan) == c.UNDECIDED


def test_an_exact_reading_is_inside_or_outside() -> None:
    """Without uncertainty nothing is undecided, and a limit itself is inside."""
    guard = c.guard(0.0, 9.0, 11.0)
    assert [guard.decide(v) for v in (9.0, 11.0, 10.0)] == [c.INSIDE] * 3
    assert [guard.decide(v) for v in (8.999999, 11.000001)] == [c.OUTSIDE] * 2
    assert c.conformance(9.0, 0.0, 9.0, 11.0) == 1.0


def test_a_meter_too_coarse_for_the_tolerance_never_says_inside() -> None:
    """With an uncertainty as large as the band no reading is inside, and a reading within is not outside
    either.
    """
    guard = c.guard(2.0, 9.0, 11.0)
    decided = guard.decide_all(np.linspace(0.0, 20.0, 401))
    assert c.INSIDE not in decided
    assert guard.decide(10.0) == c.UNDECIDED
    assert guard.decide(20.0) == c.OUTSIDE


def test_nonsense_is_refused() -> None:
    """Crossed limits, a negative uncertainty, a risk that is none: errors, not answers."""
    with pytest.raises(ValueError, match="limit"):
        c.guard(1.0, 2.0, 1.0)
    for f in (lambda: c.guard(-1.0, 0.0, 1.0), lambda: c.conformance(0.0, -1.0, 0.0)):
        with pytest.raises(ValueError, match="uncertainty"):
            f()
    with pytest.raises(ValueError, match="risk"):
        c.guard(1.0, 0.0, 1.0, risk=0.5)
