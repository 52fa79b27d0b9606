"""Do faults follow marks: by hand, by simulation under chance, and where chance is no uniform one."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats as outside
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.stats.follows import follows, onsets

times = st.lists(st.integers(0, 1000).map(float), max_size=25)


def test_by_hand() -> None:
    """Three of four faults in 12 of 100 seconds: the binomial tail; and near each mark, by counting."""
    found = follows([11.0, 21.0, 31.5, 80.0], [10.0, 20.0, 30.0, 50.0], 3.0, 0.0, 100.0)
    assert (found.faults, found.following, found.marks, found.answered) == (4, 3, 4, 3)
    assert found.share == pytest.approx(0.12)
    assert found.p == pytest.approx(outside.binom.sf(2, 4, 0.12))
    assert found.p_local == pytest.approx(3 / 13 * 3 / 10 * 3 / 10), "3 s of 13, of 10, of 10"


def test_overlapping_windows_count_once() -> None:
    """Two taps half a second apart are no two chances for the same fault."""
    found = follows([10.8], [10.0, 10.5], 3.0, 0.0, 100.0)
    assert found.share == pytest.approx(0.035)
    assert (found.following, found.answered) == (1, 1)


@settings(max_examples=100, deadline=None)
@given(times, times, st.integers(1, 50), st.sampled_from([60.0, 0.001, 1e9]), st.integers(-500, 500))
def test_other_units_and_another_start(
    faults: list[float], marks: list[float], window: int, unit: float, later: int
) -> None:
    """Minutes for seconds and a later clock change nothing."""
    plain = follows(faults, marks, float(window) + 0.5, 0.0, 1000.5)
    moved = follows(
        [(f + later) * unit for f in faults], [(m + later) * unit for m in marks],
        (window + 0.5) * unit, later * unit, (later + 1000.5) * unit,
    )  # fmt: skip
    assert moved.following == plain.following
    assert (moved.p, moved.p_local) == pytest.approx((plain.p, plain.p_local), rel=1e-6)
    assert 0.0 < plain.p <= 1.0
    assert 0.0 < plain.p_local <= 1.0


def chance(rng: np.random.Generator, *, early: bool) -> tuple[float, float]:
    """P-values of 12 faults and 15 marks that know nothing of each other; `early`: both mostly in the first
    tenth.
    """

    def some(n: int) -> np.ndarray:
        return 1000.0 * (rng.beta(0.6, 4.0, size=n) if early else rng.uniform(size=n))

    found = follows(some(12), some(15), 5.0, 0.0, 1000.0)
    return found.p, found.p_local


def test_chance_is_called_chance() -> None:
    """Where faults come at any moment alike, p <= .05 in at most 5 % of 2,000 cases (and its error), both
    ways.
    """
    rng = np.random.default_rng(17)
    p = np.array([chance(rng, early=False) for _ in range(2000)])
    assert np.mean(p <= 0.05, axis=0).min() > 0.005
    assert np.mean(p <= 0.05, axis=0).max() <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 2000)


def test_faults_and_marks_in_warm_up_fool_only_one() -> None:
    """Where both crowd in warm-up, the plain p cries wolf and the local one does not."""
    rng = np.random.default_rng(18)
    p = np.array([chance(rng, early=True) for _ in range(1000)])
    plain, local = np.mean(p <= 0.05, axis=0)
    assert plain > 0.15
    assert local <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 1000)


def test_marks_that_answer_faults_are_no_cause() -> None:
    """Taps two seconds after each crackle: neither p-value is small."""
    faults = np.arange(20.0, 900.0, 60.0)
    found = follows(faults, faults + 2.0, 5.0, 0.0, 1000.0)
    assert found.following == 0
    assert (found.p, found.p_local) == pytest.approx((1.0, 1.0))


def test_a_real_cause_is_seen() -> None:
    """Eight of ten taps answered within 2 s, two faults elsewhere: both p-values under one in a thousand."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        taps = np.sort(rng.choice(np.arange(20.0, 980.0, 30.0), 10, replace=False))
        faults = [*(taps[:8] + rng.uniform(0.0, 2.0, size=8)), 5.0, 990.0]
        found = follows(faults, taps, 2.0, 0.0, 1000.0)
        assert found.answered == 8
        assert max(found.p, found.p_local) < 1e-3


def test_p_is_what_a_shuffle_gives() -> None:
    """The plain p-value is that of faults dropped anywhere, within four standard errors of 20,000 drops."""
    rng = np.random.default_rng(6)
    marks = [100.0, 130.0, 400.0, 402.0, 700.0]
    faults = [101.0, 403.0, 550.0, 90.0]
    found = follows(faults, marks, 6.0, 0.0, 800.0)
    drops = rng.uniform(0.0, 800.0, size=(20000, 4))
    hits = np.zeros(drops.shape, dtype=bool)
    for mark in marks:
        hits |= (drops >= mark) & (drops < mark + 6.0)
    share = np.mean(hits.sum(axis=1) >= found.following)
    assert found.p == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 20000))


def test_a_burst_is_one_fault() -> None:
    """Faults within the gap of the one before belong to its burst, however long it is."""
    assert onsets([7.0, 1.0, 1.5, 2.4, 3.3, 9.0], 1.0) == [1.0, 7.0, 9.0]
    assert onsets([], 1.0) == []


def test_nothing_to_judge() -> None:
    """No faults or no marks is p 1; what lies outside the watch does not count."""
    assert follows([], [1.0], 1.0, 0.0, 10.0).p == 1.0
    none = follows([5.0], [], 1.0, 0.0, 10.0)
    assert (none.p, none.p_local, none.share) == (1.0, 1.0, 0.0)
    assert follows([-1.0, 11.0], [-1.0, 12.0], 1.0, 0.0, 10.0).marks == 0
    with pytest.raises(ValueError, match="watch"):
        follows([1.0], [1.0], 1.0, 5.0, 5.0)
