"""The laws of the bank, over streams that hypothesis makes: however the timeline is cut, the same is said."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtui.chart.chart import Chart

from .cutting import Session, assert_laws, random_cuts
from .given import sessions
from .streams import Timeline, ac, ns

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


def test_what_a_lead_ends_as_it_leaves_is_told_in_order_of_time() -> None:
    """A heater creeps upward past its band; its lead leaves while both findings are open."""
    time = Timeline(Chart("a bench", mains=230.0, points=(ac("heater", 6.3),)), 25.0)
    channel = time.meter("heater", lambda t: 6.3 + 0.0945 * t, rate=1.0, step=0.001, start_s=1.35)
    time.lead(25.0, channel, None)
    ended = [event for event in assert_laws(time.session(), [[ns(17.0) - 1]]) if event.act == "close"]
    assert len(ended) == 2
