"""Whatever comes down the wires and stands in the chart: no exception, no NaN, and the laws hold."""

from __future__ import annotations

import json
import random
import warnings

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchtui.report.lines import event_line, finding_line, summary_line
from benchtui.watch.bank import Bank
from benchtui.watch.now import board
from tests.report.saying import assert_sayable

from .cutting import Session, assert_laws, random_cuts
from .hostile import hostile_sessions

HARD = settings(max_examples=300, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
HARDER = settings(HARD, max_examples=10_000, derandomize=False)


def printed(bank: Bank) -> list[str]:
    """Everything that other programs get, as strict JSON; each sentence may be shown to a person."""
    for finding in bank.folding.all():
        assert_sayable(finding, bank.chart)
    lines = [finding_line(f, bank.chart) for f in bank.folding.all()]
    return [json.dumps(line, allow_nan=False) for line in [*lines, summary_line(bank)]]


def survives(session: Session, rng: random.Random, many: int) -> None:
    """Judges it whole and in pieces; a numpy warning would be text in the middle of the screen."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        events = assert_laws(session, [random_cuts(session, rng, many)])
        for event in events:
            json.dumps(dict(event.patch), allow_nan=False)
            json.dumps(event_line(event), allow_nan=False)
        bank = session.bank()
        bank.feed(session.block)
        assert printed(bank)
        board(bank)


@HARD
@given(hostile_sessions(), st.randoms(use_true_random=False), st.sampled_from([1, 20]))
def test_nothing_that_a_wire_can_bring_stops_the_watchers(
    session: Session, rng: random.Random, many: int
) -> None:
    """No exception, no warning on the terminal, strict JSON, and the laws hold to the last digit."""
    survives(session, rng, many)


@pytest.mark.long
@pytest.mark.xfail(reason="L8, L23: foresight at a band of no width, at a warning level of 0 V")
@HARDER
@given(hostile_sessions(), st.randoms(use_true_random=False), st.sampled_from([1, 20]))
def test_nothing_that_thousands_of_wires_can_bring_stops_the_watchers(
    session: Session, rng: random.Random, many: int
) -> None:
    """The same, for as many as there is time for."""
    survives(session, rng, many)
