"""What the bank holds does not grow with the session, the log of findings and the marks aside."""

from __future__ import annotations

import gc
import tracemalloc

import numpy as np
import pytest

from benchtui.chart.chart import Chart
from benchtui.model.readings import Floats
from benchtui.watch.bank import Bank

from .cutting import Session, pieces
from .shapes import flat, switched, warm_up
from .streams import Shape, Timeline, ac, dc, ns

TREE = Chart(
    "a set", mains=230.0,
    points=(ac("mains", 230.0), dc("B+1", 285.0, limit=350.0), dc("B+2", 240.0, fed_from="B+1")),
)  # fmt: skip


def blinking(shape: Shape, seed: int) -> Shape:
    """Falls away for a second or two, a few times a minute, for ever."""
    rng = np.random.default_rng([10, seed])
    edges = np.cumsum(rng.uniform(0.5, 12.0, 16000)) + 100.0

    def course(t: Floats) -> Floats:
        return np.where(np.searchsorted(edges, t) % 2 == 1, 0.6, 1.0) * shape(t)

    return course


def session(restless: bool, hours: int) -> Session:
    time = Timeline(TREE, 3600.0 * hours)
    time.meter("mains", switched(flat(230.0), 5.0), rate=2.0)
    for n, name in enumerate(("B+1", "B+2")):
        shape = warm_up(285.0 - 45.0 * n, 5.0)
        time.meter(name, blinking(shape, n) if restless else shape, rate=2.0)
    return time.session()


def held(bank: Bank) -> int:
    """Entries in what the bank keeps beside the log: lines, clusters, timers, moves, tracks."""
    placer = bank.placer
    many = len(placer.desk._timers) + len(placer.moves.gathered.clusters) + len(placer.moves.gathered._open)
    return many + sum(len(t.segment.course.lines) + len(t.grains) for t in placer.desk.tracks.values())


@pytest.mark.parametrize("hours", [2, pytest.param(12, marks=pytest.mark.long)])
@pytest.mark.parametrize("restless", [False, True])
def test_what_the_bank_holds_does_not_grow_with_the_hours(restless: bool, hours: int) -> None:
    """At any time at most four megabytes a channel, beside six kilobytes a finding."""
    whole = session(restless, hours)
    bank = whole.bank()
    gc.collect()
    tracemalloc.start()
    try:
        for piece in pieces(whole.block, range(ns(600.0), whole.block.upto_ns, ns(600.0))):
            bank.feed(piece)
            gc.collect()
            findings = len(bank.folding.all())
            assert tracemalloc.get_traced_memory()[0] <= 3 * 4_000_000 + 6_000 * findings
            assert held(bank) <= 3 * 2_300
    finally:
        tracemalloc.stop()
