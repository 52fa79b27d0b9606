"""A whole timeline, cut into blocks in any way, and the laws that hold for every way of cutting it."""

from __future__ import annotations

import json
import random
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.findings import Event, Folding
from benchtui.model.readings import Channel
from benchtui.watch.bank import Bank


@dataclass(frozen=True, slots=True, eq=False)
class Session:
    """All that the bank is given."""

    chart: Chart
    channels: tuple[Channel, ...]
    settings: Settings
    block: Block

    def bank(self) -> Bank:
        return Bank(self.chart, self.channels, self.settings)


def pieces(block: Block, cuts: Iterable[int]) -> Iterator[Block]:
    """The block cut at these watermarks (ns); all that is at a watermark comes before the cut."""
    readings, notes = block.readings, block.notes
    times = [n.t_ns for n in notes]
    row = note = 0
    for cut in [*sorted({c for c in cuts if 0 <= c < block.upto_ns}), block.upto_ns]:
        next_row = int(np.searchsorted(readings.t_ns, cut, side="right"))
        next_note = bisect_right(times, cut)
        yield Block(readings.take(slice(row, next_row)), notes[note:next_note], cut)
        row, note = next_row, next_note


def told(event: Event) -> str:
    """An event to the last digit."""
    patch = json.dumps(dict(event.patch), sort_keys=True)
    return f"{event.seq} {event.at_ns} {event.finding} {event.act} {patch}"


def random_cuts(session: Session, rng: random.Random, many: int) -> list[int]:
    """Watermarks at random, a third of them at a reading or a note, or one nanosecond beside it."""
    upto = session.block.upto_ns
    marks = [*session.block.readings.t_ns.tolist(), *(n.t_ns for n in session.block.notes)] or [0]
    chosen = []
    for _ in range(many):
        if rng.random() < 0.33:
            chosen.append(rng.choice(marks) + rng.choice((-1, 0, 0, 1)))
        else:
            chosen.append(rng.randrange(upto + 1))
    return chosen


def assert_laws(session: Session, cuttings: Sequence[Sequence[int]]) -> list[Event]:
    """Cut law and prefix law, at every watermark of every cutting; gives the events of the whole."""
    whole_bank = session.bank()
    whole = whole_bank.feed(session.block)
    wanted = [told(e) for e in whole]
    at = [e.at_ns for e in whole]
    for cuts in cuttings:
        bank = session.bank()
        said = 0
        for piece in pieces(session.block, cuts):
            known = bisect_right(at, piece.upto_ns)
            got = [told(e) for e in bank.feed(piece)]
            assert got == wanted[said:known], f"cuts {sorted(cuts)[:40]}, at {piece.upto_ns / 1e9} s"
            said = known
    assert_log(whole, whole_bank.folding)
    return whole


def assert_log(events: Sequence[Event], folding: Folding) -> None:
    """What every log of events is: numbered without holes, in order of time, and folded into the listing."""
    assert [e.seq for e in events] == list(range(len(events)))
    assert all(a.at_ns <= b.at_ns for a, b in pairwise(events))
    again = Folding()
    again.apply(events)
    assert again.all() == folding.all()
    assert again.listed() == folding.listed()
