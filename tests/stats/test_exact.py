"""So many out of so many: exact intervals and tests against published values and scipy."""

from __future__ import annotations

import pytest
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats import exact


def test_binomial_interval() -> None:
    """4 of 20, 90 %: .071354 to .401028. NIST/SEMATECH e-Handbook 7.2.4.2 (the example), roots computed."""
    assert exact.binomial_interval(4, 20, 0.90) == pytest.approx((0.071354, 0.401028), abs=1e-6)


@pytest.mark.parametrize(("n", "upper", "rule_of_three"), [(1500, 0.001995, 0.002), (30, 0.095034, 0.1)])
def test_no_event_in_n_trials(n: int, upper: float, rule_of_three: float) -> None:
    """95 % upper bound, exact; and 3/n. Hanley and Lippman-Hand 1983 (memory)."""
    assert exact.binomial_upper(0, n) == pytest.approx(upper, abs=1e-6)
    assert exact.binomial_upper(0, n) == pytest.approx(1.0 - 0.05 ** (1.0 / n), rel=1e-10)
    assert exact.binomial_upper(0, n) == pytest.approx(rule_of_three, rel=0.06)


def test_fisher_on_the_tea_cups() -> None:
    """[[3, 1], [1, 3]]: .2429 one-sided, .4857 two-sided; 8 of 8 right: 1/70. Agresti; R reference output."""
    assert exact.fisher(((3, 1), (1, 3)), "greater") == pytest.approx(0.2429, abs=5e-5)
    assert exact.fisher(((3, 1), (1, 3))) == pytest.approx(0.4857, abs=5e-5)
    assert exact.fisher(((4, 0), (0, 4)), "greater") == 1 / 70
    assert exact.fisher(((1, 3), (3, 1)), "less") == pytest.approx(0.2429, abs=5e-5)


@settings(max_examples=200, deadline=None)
@given(st.tuples(*[st.integers(0, 60)] * 4), st.sampled_from(["less", "greater", "two-sided"]))
def test_fisher_agrees_with_scipy(counts: tuple[int, int, int, int], side: exact.Side) -> None:
    """Any table, any side: as an outside library; and exchanging rows exchanges the sides."""
    a, b, c, d = counts
    ours = exact.fisher(((a, b), (c, d)), side)
    if sum(counts):
        theirs = outside.fisher_exact([[a, b], [c, d]], alternative=side).pvalue
        assert ours == pytest.approx(theirs, rel=1e-9)
    turned: dict[str, exact.Side] = {"less": "greater", "greater": "less", "two-sided": "two-sided"}
    assert exact.fisher(((c, d), (a, b)), turned[side]) == pytest.approx(ours, rel=1e-12)


@settings(max_examples=200, deadline=None)
@given(
    st.integers(1, 400), st.floats(0.0, 1.0), st.floats(0.5, 0.999),
    st.one_of(st.floats(1e-6, 1.0 - 1e-6), st.sampled_from([0.0, 1.0])),
    st.sampled_from(["less", "greater", "two-sided"]),
)  # fmt: skip
def test_binomials_agree_with_scipy(
    n: int, part: float, confidence: float, p: float, side: exact.Side
) -> None:
    """Any count: intervals and p-values as an outside library."""
    k = round(part * n)
    theirs = outside.binomtest(k, n, p, alternative=side)
    assert exact.binomial_test(k, n, p, side) == pytest.approx(theirs.pvalue, rel=1e-6, abs=1e-12)
    interval = outside.binomtest(k, n).proportion_ci(confidence, "exact")
    assert exact.binomial_interval(k, n, confidence) == pytest.approx(
        (interval.low, interval.high), abs=1e-10
    )
    upper = outside.binomtest(k, n, alternative="less").proportion_ci(confidence, "exact").high
    assert exact.binomial_upper(k, n, confidence) == pytest.approx(upper, abs=1e-10)


@pytest.mark.parametrize(("k", "n", "p"), [(2, 10, 0.3), (5, 8, 0.9), (0, 5, 0.5), (1, 30, 0.02)])
def test_intervals_hold_as_often_as_they_say(k: int, n: int, p: float) -> None:
    """For any true probability the chance that the 90 % interval holds is at least 90 %, summed exactly."""
    held = sum(
        outside.binom.pmf(i, n, p)
        for i in range(n + 1)
        if exact.binomial_interval(i, n, 0.90)[0] <= p <= exact.binomial_interval(i, n, 0.90)[1]
    )
    assert held >= 0.90 - 1e-12
    assert exact.binomial_interval(k, n)[0] <= k / n <= exact.binomial_interval(k, n)[1]


@pytest.mark.parametrize(("failed", "trials"), [(3, 10), (8, 10), (5, 5), (2, 30)])
def test_trials_until_it_can_be_told(failed: int, trials: int) -> None:
    """With so many clean trials the p-value passes 5 %, with one less it does not (scipy)."""
    need = exact.clean_trials_needed(failed, trials)
    assert need is not None
    p = [outside.fisher_exact([[failed, trials - failed], [0, m]], alternative="greater").pvalue
         for m in (need - 1, need)]  # fmt: skip
    assert p[0] > 0.05 >= p[1]


def test_trials_without_failure() -> None:
    """29 clean trials show less than 10 % at 90 to 95 %: .9**29 < .05 < .9**28; the "59" of 5 %, the "299"
    of 1 %.
    """
    assert exact.trials_needed(0.10) == 29
    assert exact.trials_needed(0.05) == 59
    assert exact.trials_needed(0.01) == 299
    assert exact.clean_trials_needed(0, 10) is None


def test_nonsense_is_refused() -> None:
    """More hits than trials, no trials, no probability: errors."""
    for f in (
        lambda: exact.binomial_interval(3, 2),
        lambda: exact.binomial_upper(0, 0),
        lambda: exact.binomial_test(1, 2, 1.5),
        lambda: exact.fisher(((-1, 1), (1, 1))),
        lambda: exact.trials_needed(0.0),
    ):
        with pytest.raises(ValueError, match="not"):
            f()
