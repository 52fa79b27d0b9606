"""Probabilities and quantiles against printed tables and against scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.special as special
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats import quantile as q
from benchtui.stats.root import bracket_up, solve
from benchtui.stats.special import beta_i, gamma_p, gamma_q

probabilities = st.one_of(st.floats(1e-12, 1.0 - 1e-12), st.floats(-12.0, -0.5).map(lambda e: 10.0**e))
shapes = st.floats(-0.3, 3.3).map(lambda e: 10.0**e)


@pytest.mark.parametrize(("p", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_normal_table(p: float, z: float) -> None:
    """Source: JCGM 106:2012 Table 1 (memory)."""
    assert q.normal_quantile(p) == pytest.approx(z, abs=0.0051)


@pytest.mark.parametrize(("dof", "t"), [(1, 12.706), (2, 4.303), (5, 2.571), (10, 2.228), (30, 2.042)])
def test_student_table(dof: int, t: float) -> None:
    """Two-sided 95 % factors as tables print them (JCGM 100:2008 Table G.2 to 2 places)."""
    assert q.t_quantile(0.975, dof) == pytest.approx(t, abs=0.0006)


@pytest.mark.parametrize(("dof", "x"), [(1, 3.841), (2, 5.991), (5, 11.070), (10, 18.307), (30, 43.773)])
def test_chi_square_table(dof: int, x: float) -> None:
    """Upper 5 % points as in the NIST/SEMATECH e-Handbook, table 1.3.6.7.4 (memory)."""
    assert q.chi2_quantile(0.95, dof) == pytest.approx(x, abs=0.0006)


@settings(max_examples=200, deadline=None)
@given(probabilities)
def test_normal_agrees_with_scipy(p: float) -> None:
    """The normal quantile and its inverse agree with an outside library to 1e-13."""
    z = q.normal_quantile(p)
    assert z == pytest.approx(outside.norm.ppf(p), rel=1e-13, abs=1e-13)
    assert q.normal_cdf(z) == pytest.approx(outside.norm.cdf(z), rel=1e-12)


@settings(max_examples=100, deadline=None)
@given(probabilities, shapes, shapes)
def test_beta_agrees_with_scipy(p: float, a: float, b: float) -> None:
    """The beta quantile gives back its probability, as an outside library computes it, in the nearer tail."""
    x = q.beta_quantile(p, a, b)
    if 1e-290 < x < 1.0 - 1e-9:
        slack = 1e-8 * min(p, 1.0 - p) + 1e-15 * x * outside.beta.pdf(x, a, b)
        assert abs(special.betainc(a, b, x) - p) < slack + 1e-13 * p
        assert beta_i(a, b, x) == pytest.approx(special.betainc(a, b, x), rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(probabilities, shapes)
def test_gamma_agrees_with_scipy(p: float, shape: float) -> None:
    """The gamma quantiles agree with an outside library, from either tail."""
    x = q.gamma_quantile(p, shape)
    if x > 1e-290:
        assert x == pytest.approx(special.gammaincinv(shape, p), rel=1e-9)
        assert gamma_p(shape, x) == pytest.approx(special.gammainc(shape, x), rel=1e-11)
        assert gamma_q(shape, x) == pytest.approx(special.gammaincc(shape, x), rel=1e-11)
    upper = q.gamma_upper_quantile(p, shape)
    if upper > 1e-290:
        assert upper == pytest.approx(special.gammainccinv(shape, p), rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(probabilities, shapes)
def test_student_agrees_with_scipy(p: float, dof: float) -> None:
    """Student's quantile agrees with an outside library wherever that has a finite answer."""
    t = outside.t.ppf(p, dof)
    if math.isfinite(t) and 1e-9 < abs(t) < 1e100:
        assert q.t_quantile(p, dof) == pytest.approx(t, rel=1e-8, abs=1e-10)
        assert q.t_cdf(float(t), dof) == pytest.approx(outside.t.cdf(t, dof), rel=1e-9)


def test_the_far_tails_keep_their_digits() -> None:
    """A tail of 1e-200 is not rounded to 0."""
    assert q.normal_cdf(-30.0) == pytest.approx(outside.norm.cdf(-30.0), rel=1e-12)
    assert q.normal_quantile(1e-200) == pytest.approx(outside.norm.ppf(1e-200), rel=1e-13)
    assert q.gamma_upper_quantile(1e-100, 3.0) == pytest.approx(special.gammainccinv(3.0, 1e-100), rel=1e-12)


def test_certain_and_impossible() -> None:
    """Probabilities 0 and 1 give the ends of the range, others than 0..1 are refused."""
    assert q.normal_quantile(0.0) == -math.inf
    assert q.normal_quantile(1.0) == math.inf
    assert q.gamma_quantile(0.0, 2.0) == 0.0
    assert q.gamma_quantile(1.0, 2.0) == math.inf
    assert q.gamma_upper_quantile(0.0, 2.0) == math.inf
    assert q.beta_quantile(1.0, 2.0, 3.0) == 1.0
    assert q.t_quantile(0.5, 3.0) == 0.0
    for f in (q.normal_quantile, lambda p: q.gamma_quantile(p, 1.0), lambda p: q.beta_quantile(p, 1.0, 1.0),
              lambda p: q.t_quantile(p, 1.0), lambda p: q.gamma_upper_quantile(p, 1.0)):  # fmt: skip
        with pytest.raises(ValueError, match="probability"):
            f(1.5)


@settings(max_examples=200, deadline=None)
@given(st.floats(-50.0, 50.0), st.floats(0.01, 20.0), st.integers(1, 7))
def test_solve_finds_the_zero(root: float, steep: float, power: int) -> None:
    """The solver lands on the zero of awkward functions: very steep, very flat, one-sided."""
    found = solve(lambda x: math.copysign(abs(x - root) ** power, x - root) * steep, root - 70.0, root + 33.0)
    assert found == pytest.approx(root, abs=1e-6 if power > 1 else 1e-12)
    assert solve(lambda x: math.atan(steep * (x - root)), root - 1e6, root + 3.0) == pytest.approx(
        root, abs=1e-9
    )


def test_solve_refuses_what_has_no_zero() -> None:
    """No change of sign is an error, not an answer."""
    with pytest.raises(ValueError, match="no change of sign"):
        solve(lambda x: 1.0 + x * x, -1.0, 1.0)
    with pytest.raises(ValueError, match="no zero"):
        bracket_up(lambda x: -1.0, 1.0)
    assert solve(lambda x: x, 0.0, 1.0) == 0.0
    assert np.isclose(solve(lambda x: x - 1.0, 0.0, 1.0), 1.0)
