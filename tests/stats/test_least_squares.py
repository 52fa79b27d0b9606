"""Nonlinear least squares against certified values."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats.criteria import aicc, bic
from benchtui.stats.least_squares import Fit, fit

from . import nist

BOTH = (0, 1)
UNITS = [(1.0, 1.0), (1000.0, 1.0), (1.0 / 3600.0, 1.0), (1.0, 1000.0), (3.6e6, -0.001)]


def in_order(name: str, values: Any) -> Any:
    """Parameters with sums of exponentials sorted by rate, so that their order does not matter."""
    if not name.startswith("Lanczos"):
        return values
    order = np.argsort(np.asarray(values)[1::2])
    return np.ravel(np.column_stack((values[0::2][order], values[1::2][order])))


def in_order_of(name: str, result: Fit) -> tuple[Any, Any]:
    """Parameters and their sds, sorted alike."""
    if not name.startswith("Lanczos"):
        return result.parameters, result.sds
    order = np.argsort(result.parameters[1::2])
    places = np.ravel(np.column_stack((2 * order, 2 * order + 1)))
    return result.parameters[places], result.sds[places]


@pytest.mark.parametrize("start", BOTH)
@pytest.mark.parametrize("name", nist.FILES)
def test_certified_values(name: str, start: int) -> None:
    """Parameters, their sds and rss to a relative 1e-4 from both starts (Lanczos1: parameters). NIST StRD."""
    case = nist.read(name)
    result = fit(nist.MODELS[name], case.x, case.y, case.starts[start])
    parameters, sds = in_order_of(name, result)
    assert result.converged
    assert parameters == pytest.approx(in_order(name, case.values), rel=1e-4)
    if name == "Misra1a" and start == 1:
        assert parameters == pytest.approx(case.values, rel=1e-6)
    if name != "Lanczos1":
        assert result.rss == pytest.approx(case.rss, rel=1e-4)
        assert sds == pytest.approx(case.sds, rel=1e-4)


@pytest.mark.parametrize(("x_unit", "y_unit"), UNITS)
@pytest.mark.parametrize("name", sorted(set(nist.FILES) - {"DanWood"}))
def test_certified_values_in_other_units(name: str, x_unit: float, y_unit: float) -> None:
    """Time in ms or hours, volts in millivolts, a sign turned: the answer transforms with the units. NIST
    StRD.
    """
    case = nist.read(name)
    factor = x_unit ** np.array(nist.X_POWERS[name]) * y_unit ** np.array(nist.Y_POWERS[name])
    plain = fit(nist.MODELS[name], case.x, case.y, case.starts[0])
    moved = fit(nist.MODELS[name], case.x * x_unit, case.y * y_unit, np.array(case.starts[0]) * factor)
    assert moved.converged
    assert moved.parameters / factor == pytest.approx(plain.parameters, rel=1e-6)
    if name != "Lanczos1":
        assert moved.sds / np.abs(factor) == pytest.approx(plain.sds, rel=1e-5)


@pytest.mark.parametrize("start", BOTH)
@pytest.mark.parametrize("name", nist.FILES)
def test_certified_values_above_250_volts(name: str, start: int) -> None:
    """With 250 added to readings and model the parameters stay the certified ones. NIST StRD."""
    case = nist.read(name)
    result = fit(lambda x, b: nist.MODELS[name](x, b) + 250.0, case.x, case.y + 250.0, case.starts[start])
    assert result.converged
    assert in_order_of(name, result)[0] == pytest.approx(in_order(name, case.values), rel=1e-4)


@pytest.mark.parametrize(("x_unit", "y_unit"), UNITS)
def test_choice_of_model(x_unit: float, y_unit: float) -> None:
    """Misra1a's readings under four published models: best 1c, then 1d, 1b, 1a; rss certified. NIST."""
    case = nist.read("Misra1a")
    start = (500.0 * y_unit, 1e-4 / x_unit)
    names = ("Misra1a", "Misra1b", "Misra1c", "Misra1d")
    rss = {n: fit(nist.MODELS[n], case.x * x_unit, case.y * y_unit, start).rss for n in names}
    for criterion in (aicc, bic):
        order = sorted(rss, key=lambda name: criterion(rss[name], 14, 2))
        assert order == ["Misra1c", "Misra1d", "Misra1b", "Misra1a"]
    scaled = [rss[name] / y_unit**2 for name in order]
    assert scaled == pytest.approx([0.0410, 0.0564, 0.0755, 0.1246], abs=5e-5)


@pytest.mark.parametrize("start", [(1.0, 1.0), (100.0, 0.75)])
def test_a_hard_start(start: tuple[float, float]) -> None:
    """BoxBOD: b 213.80940889, .54723748542 from either start. NIST StRD (memory)."""
    x = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0])
    y = np.array([109.0, 149.0, 149.0, 191.0, 213.0, 224.0])
    result = fit(nist.MODELS["Misra1a"], x, y, start)
    assert result.parameters == pytest.approx([213.80940889, 0.54723748542], rel=1e-7)
    assert result.rss == pytest.approx(1168.0088766, rel=1e-9)


MGH10 = [
    34780,
    28610,
    23650,
    19630,
    16370,
    13720,
    11540,
    9744,
    8261,
    7030,
    6005,
    5147,
    4427,
    3820,
    3307,
    2872,
]


@pytest.mark.parametrize("start", [(2.0, 400000.0, 25000.0), (0.02, 4000.0, 250.0)])
def test_a_very_hard_start(start: tuple[float, float, float]) -> None:
    """MGH10: b .0056096364710, 6181.3463463, 345.22363462 from either start. NIST StRD (memory)."""
    x = np.arange(50.0, 126.0, 5.0)
    result = fit(lambda x, b: b[0] * np.exp(b[1] / (x + b[2])), x, np.array(MGH10, dtype=float), start)
    assert result.converged
    assert result.parameters == pytest.approx([5.6096364710e-3, 6.1813463463e3, 3.4522363462e2], rel=1e-6)


def test_a_straight_line_is_solved_exactly() -> None:
    """A linear model gives what numpy's polynomial fit gives, with the textbook sds, in a step or two."""
    rng = np.random.default_rng(2)
    x = np.linspace(0.0, 5.0, 30)
    y = 3.0 - 2.0 * x + rng.normal(size=30)
    result = fit(lambda x, b: b[0] + b[1] * x, x, y, (0.0, 0.0))
    theirs, covariance = np.polyfit(x, y, 1, cov=True)
    assert result.parameters == pytest.approx(theirs[::-1], rel=1e-9)
    assert result.sds == pytest.approx(np.sqrt(np.diag(covariance))[::-1], rel=1e-9)
    assert result.significance(1) < 1e-6 < 0.05


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 10**6))
def test_weights_are_sds(seed: int) -> None:
    """Readings of weight 0 do not count at all, and a common factor of the weights changes nothing."""
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 4.0, 25)
    y = 5.0 * np.exp(-0.7 * x) + 0.05 * rng.normal(size=25)
    y[3] = 1e4
    keep = np.arange(25) != 3
    model = nist.MODELS["Misra1a"]
    rising = 5.0 - y
    few = fit(model, x[keep], rising[keep], (4.0, 1.0))
    for common in (1.0, 1e6):
        weighted = fit(model, x, rising, (4.0, 1.0), weight=common * keep)
        assert weighted.parameters == pytest.approx(few.parameters, rel=1e-6)


def test_what_cannot_be_told_is_not_told() -> None:
    """Two parameters of which only the product matters have no finite sds and no significance."""
    x = np.linspace(0.0, 1.0, 20)
    y = 2.0 * x + 0.01 * np.sin(50.0 * x)
    result = fit(lambda x, b: b[0] * b[1] * x, x, y, (1.0, 1.0))
    assert result.parameters[0] * result.parameters[1] == pytest.approx(2.0, rel=0.01)
    assert not np.isfinite(result.sds).any()
    assert result.significance(0) == 1.0


def test_nonsense_is_refused() -> None:
    """Too few readings, or a model without a value at the start, are errors."""
    one = np.array([1.0])
    with pytest.raises(ValueError, match="parameters need"):
        fit(lambda x, b: b[0] + b[1] * x, one, one, (0.0, 0.0))
    with pytest.raises(ValueError, match="finite"):
        fit(lambda x, b: np.log(b[0]) * x, np.ones(3), np.ones(3), (0.0,))
    exact = fit(lambda x, b: b[0] * x, one, one, (0.5,))
    assert exact.parameters[0] == pytest.approx(1.0)
    assert exact.sd == 0.0
    assert exact.significance(0) == 1.0
