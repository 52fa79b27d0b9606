"""A replay gives the recording's timeline, all of it, in order, at any speed."""

from __future__ import annotations

import random
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.chart.bench import Bench
from benchtui.chart.chart import Chart
from benchtui.chart.settings import Settings
from benchtui.model.block import Block
from benchtui.model.notes import Mark
from benchtui.model.readings import Readings
from benchtui.model.units import Unit
from benchtui.store.recording import Recording
from benchtui.store.replaying import MOST_ROWS, Replaying

from .made import CHANNELS, same_readings, steady, timelines


class Hands:
    """A clock that goes only when it is told to."""

    def __init__(self) -> None:
        self.ns = 1_000

    def __call__(self) -> int:
        return self.ns


def recording(blocks: list[Block]) -> Recording:
    upto_ns = blocks[-1].upto_ns
    return Recording(
        Path("made"),
        "session",
        Chart("set"),
        Bench(),
        Settings(),
        CHANNELS,
        None,
        upto_ns,
        lambda: iter(blocks),
    )


@settings(deadline=None)
@given(timelines(), st.integers(0, 2**32 - 1), st.sampled_from([0.5, 1.0, 7.0, 1e6]))
def test_all_of_it_comes_once_and_in_order(blocks: list[Block], seed: int, speed: float) -> None:
    """Drained at any moments, every block under its watermark, nothing before its time."""
    chosen = random.Random(seed)
    clock = Hands()
    source = Replaying(recording(blocks), clock, speed)
    given_: list[Block] = []
    while not source.done:
        given_.append(source.drain())
        assert given_[-1].upto_ns <= max(source.position_ns, 0)
        clock.ns += int(chosen.expovariate(1 / 2e9) / speed) + 1
    assert same_readings(
        Readings.joined([b.readings for b in given_]), Readings.joined([b.readings for b in blocks])
    )
    assert [n for b in given_ for n in b.notes] == [n for b in blocks for n in b.notes]
    assert given_[-1].upto_ns == blocks[-1].upto_ns
    after = -1
    for block in given_:
        assert all(after < t <= block.upto_ns for t in block.readings.t_ns)
        after = block.upto_ns


def test_a_pause_stops_time_and_a_change_of_speed_goes_on_from_there() -> None:
    """The position never jumps."""
    clock = Hands()
    source = Replaying(recording([Block(steady(100), (), 10**10)]), clock, 1.0)
    clock.ns += 10**9
    source.pause(True)
    clock.ns += 10**12
    assert source.position_ns == 10**9
    source.speed = 4.0
    assert source.position_ns == 10**9
    source.pause(False)
    clock.ns += 10**9
    assert source.position_ns == 5 * 10**9
    assert source.drain().upto_ns == 5 * 10**9


def test_at_the_highest_speed_one_drain_gives_a_bounded_part() -> None:
    """A screen stays alive: an hour of readings comes in parts."""
    clock = Hands()
    whole = steady(3 * MOST_ROWS, every_ns=1_000_000)
    source = Replaying(recording([Block(whole, (), 10**12)]), clock, 1e6)
    clock.ns += 10**9
    parts = []
    while not source.done:
        parts.append(source.drain().readings)
    assert max(len(part) for part in parts) <= MOST_ROWS
    assert same_readings(Readings.joined(parts), whole)


def test_nothing_can_be_added_to_a_replay() -> None:
    """What was recorded is judged as it was."""
    source = Replaying(recording([Block(upto_ns=10)]), Hands())
    assert source.put_note(Mark(0, "tap")) is None
    assert source.put_reading(2, Unit.STATE, 1.0) is None
