"""What is foreseen hangs on the readings until then, and on nothing else."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.chart import Chart
from benchtui.watch.bank import Bank
from benchtui.watch.foresee.foresight import Answer

from ..cutting import Session, pieces
from ..shapes import bleeds, flat, switched, warm_up
from ..streams import Timeline, ac, dc, ns

CHART = Chart(
    "a set", mains=230.0, rectifier="solid",
    points=(ac("mains", 230.0), dc("B+1", 285.0), dc("B+2", 240.0, fed_from="B+1"), dc("cathode", 9.4)),
)  # fmt: skip
ON_S, OFF_S, AGAIN_S, END_S = 5.0, 110.0, 170.0, 240.0


def session(rng: random.Random) -> Session:
    """Two runs of a set, read at rates of all sorts; now and then without its mains or a point."""
    time = Timeline(CHART, END_S)
    marked = rng.random() < 0.7
    for at, what in ((ON_S, "on"), (OFF_S, "off"), (AGAIN_S, "on")):
        if marked:
            time.mark(at, what)
    for point in CHART.points:
        if point.name == "mains" and marked and rng.random() < 0.4:
            continue
        nominal = (point.nominal or 0.0) * rng.uniform(0.8, 1.1)
        first, second = warm_up(nominal, ON_S), warm_up(nominal, AGAIN_S)
        falls = bleeds(first, OFF_S, rng.uniform(3.0, 30.0))
        if point.name == "mains":
            falls, second = switched(flat(nominal), ON_S, OFF_S), flat(nominal)
        channel = time.meter(point.name, None)
        rate = rng.choice([0.5, 1.0, 2.0, 5.0, 12.0])
        time.reads(channel, falls, 0.05, AGAIN_S, rate=rate, unit=point.unit)
        time.reads(channel, second, AGAIN_S, END_S, rate=rate, unit=point.unit)
    return time.session()


def told(bank: Bank) -> dict[str, tuple[Answer, Answer]]:
    """Everything that is foreseen now."""
    foresight = bank.placer.foresight
    return {
        name: (foresight.predicted(track), foresight.bleed(track, guess=True))
        for name, track in bank.placer.desk.tracks.items()
    }


def holds(rng: random.Random, moments: list[float]) -> None:
    """A bank asked all along, in any pieces, and one that is asked once say the same to the last digit."""
    whole = session(rng)
    wanted = [ns(at) for at in sorted(moments)]
    cuts = [*wanted, *(ns(rng.uniform(0.0, END_S)) for _ in range(60))]
    busy, answers = whole.bank(), {}
    for piece in pieces(whole.block, cuts):
        busy.feed(piece)
        if piece.upto_ns in wanted or rng.random() < 0.8:
            answers[piece.upto_ns] = told(busy)
    for upto_ns in wanted:
        calm = whole.bank()
        calm.feed(next(pieces(whole.block, [upto_ns])))
        assert told(calm) == answers[upto_ns]


MOMENTS = st.lists(st.floats(6.0, END_S), min_size=1, max_size=4)


@settings(max_examples=10)
@given(st.randoms(use_true_random=False), MOMENTS)
def test_what_is_foreseen_does_not_depend_on_when_somebody_asked(
    rng: random.Random, moments: list[float]
) -> None:
    """Nor on how the readings came in blocks; an earlier run is remembered the same."""
    holds(rng, moments)


@pytest.mark.long
@settings(max_examples=200)
@given(st.randoms(use_true_random=False), MOMENTS)
def test_nor_in_two_hundred_sessions(rng: random.Random, moments: list[float]) -> None:
    """The same, for longer."""
    holds(rng, moments)
