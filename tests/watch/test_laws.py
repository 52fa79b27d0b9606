"""The laws of the bank, over streams that hypothesis makes: however the timeline is cut, the same is said."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from .cutting import Session, assert_laws, random_cuts
from .given import sessions

CUTS = st.tuples(st.randoms(use_true_random=False), st.sampled_from([1, 5, 40, 250]))
FEW = settings(max_examples=250, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
MANY = settings(FEW, max_examples=6000, derandomize=False)


@FEW
@given(sessions(), CUTS)
def test_what_is_said_depends_neither_on_cuts_nor_on_what_comes_later(
    session: Session, cuts: tuple[random.Random, int]
) -> None:
    """At each watermark of a random cutting, exactly the events of the whole up to then were given."""
    rng, many = cuts
    assert_laws(session, [random_cuts(session, rng, many)])


@pytest.mark.long
@MANY
@given(sessions(), CUTS)
def test_the_laws_hold_over_thousands_of_streams(session: Session, cuts: tuple[random.Random, int]) -> None:
    """The same, for as many streams as there is time for."""
    rng, many = cuts
    assert_laws(session, [random_cuts(session, rng, many)])
