"""The watermark law: what has been handed out is complete, and in order, whatever the threads do."""

from __future__ import annotations

import random
import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.driver.contract import Out
from benchtui.model.notes import Lead, Mark, Trouble
from benchtui.model.readings import Readings
from benchtui.model.units import Unit
from benchtui.port.intake import Abandoned, Intake


def _out(at: int, channel: int, value: float = 1.0) -> Out:
    return Out(Readings.of([at], channel, int(Unit.V), [value]))


class Hand:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.ns = 0

    def __call__(self) -> int:
        return self.ns


def test_a_pending_stamp_holds_the_watermark_before_it() -> None:
    """What is being decoded may still bring readings of its instant."""
    now = Hand()
    intake = Intake(now)
    slow, quick = intake.slot(), intake.slot()
    now.ns = 100
    pending = slow.stamp()
    now.ns = 200
    at = quick.stamp()
    quick.clear(_out(at, 1))
    block = intake.drain()
    assert (block.upto_ns, len(block.readings)) == (pending - 1, 0)
    slow.clear(_out(pending, 0))
    block = intake.drain()
    assert block.readings.t_ns.tolist() == [100, 200]
    assert block.upto_ns == 200


def test_a_silent_meter_holds_nothing_back() -> None:
    """A slot that is not pending has no say."""
    now = Hand()
    intake = Intake(now)
    intake.slot()
    now.ns = 5
    assert intake.drain().upto_ns == 5


def test_nothing_comes_at_or_before_a_watermark() -> None:
    """Also where the clock is coarse and stands still between a drain and a stamp."""
    now = Hand()
    now.ns = 7
    intake = Intake(now)
    slot = intake.slot()
    first = intake.drain().upto_ns
    stamps = [slot.stamp()]
    slot.clear(_out(stamps[0], 0))
    stamps.append(intake.put_note(Mark(0, "tap")).t_ns)
    stamps.append(intake.put_reading(1, Unit.STATE, 1.0))
    assert first < stamps[0] < stamps[1] < stamps[2]
    assert intake.drain().upto_ns == stamps[2]


def test_notes_of_the_start_come_first_and_once() -> None:
    """The leads as they are clipped on stand at 0."""
    lead = Lead(0, 0, "B+1")
    intake = Intake(Hand(), [lead])
    intake.put_note(Mark(99, "on"))
    block = intake.drain()
    assert [type(n) for n in block.notes] == [Lead, Mark]
    assert intake.drain().notes == ()


def test_a_drain_that_cannot_advance_gives_nothing() -> None:
    """The watermark stays, and the block is empty."""
    intake = Intake(Hand())
    slot = intake.slot()
    slot.stamp()
    first, second = intake.drain(), intake.drain()
    assert first.upto_ns == second.upto_ns == 0
    assert len(second.readings) == 0


@given(
    st.lists(
        st.tuples(st.sampled_from(["stamp", "clear", "note", "drain", "time"]), st.integers(0, 2)),
        max_size=80,
    )
)
def test_any_order_of_calls_keeps_the_law(calls: list[tuple[str, int]]) -> None:
    """Blocks joined are in order, watermarks never fall, and each reading and note comes exactly once."""
    now = Hand()
    intake = Intake(now)
    slots = [intake.slot() for _ in range(3)]
    put: list[int] = []
    blocks = []
    for call, n in calls:
        slot = slots[n]
        if call == "time":
            now.ns += n
        elif call == "stamp" and slot.pending is None:
            slot.stamp()
        elif call == "clear" and slot.pending is not None:
            put.append(slot.pending)
            slot.clear(_out(slot.pending, n), Out(troubles=(Trouble(slot.pending, "m", "garbled"),)))
        elif call == "note":
            put.append(intake.put_note(Mark(0, "tap")).t_ns)
        elif call == "drain":
            blocks.append(intake.drain())
    for slot in slots:
        if slot.pending is not None:
            put.append(slot.pending)
            slot.clear(_out(slot.pending, 0), Out(troubles=(Trouble(slot.pending, "m", "garbled"),)))
    now.ns += 1
    blocks.append(intake.close())
    upto = -1
    seen: list[int] = []
    for block in blocks:
        times = [*block.readings.t_ns.tolist(), *(n.t_ns for n in block.notes)]
        assert block.readings.t_ns.tolist() == sorted(block.readings.t_ns.tolist())
        assert all(upto < t <= block.upto_ns for t in times)
        assert block.upto_ns >= upto
        upto = max(upto, block.upto_ns)
        seen += [n.t_ns for n in block.notes]
    assert seen == sorted(put)


def test_the_law_holds_with_threads() -> None:
    """Eight links as fast as they can, a drain in between: every reading once, none behind a watermark."""
    intake = Intake(_counter(), most_rows=2000)
    each, links = 1500, 8

    def link(channel: int) -> None:
        slot, rng = intake.slot(), random.Random(channel)
        for n in range(each):
            at = slot.stamp()
            for _ in range(rng.randrange(3)):
                _ = [n] * 10
            slot.clear(_out(at, channel, float(n)))

    threads = [threading.Thread(target=link, args=(c,)) for c in range(links)]
    for thread in threads:
        thread.start()
    blocks = []
    while any(t.is_alive() for t in threads):
        blocks.append(intake.drain())
    blocks.append(intake.close())
    upto = -1
    for block in blocks:
        assert (block.readings.t_ns > upto).all()
        assert (block.readings.t_ns <= block.upto_ns).all()
        upto = block.upto_ns
    whole = Readings.joined([b.readings for b in blocks])
    assert (np.diff(whole.t_ns) > 0).all()
    for channel in range(links):
        assert whole.value[whole.channel == channel].tolist() == [float(n) for n in range(each)]


def _counter() -> object:
    ticks = iter(range(10**9))
    return lambda: next(ticks) // 50


def test_a_full_intake_lets_the_links_wait_and_loses_nothing() -> None:
    """Nobody drains: the link stands still before it reads on, until somebody does."""
    intake = Intake(Hand(), most_rows=3)
    slot = intake.slot()
    done = threading.Event()

    def link() -> None:
        for _ in range(10):
            slot.clear(_out(slot.stamp(), 0))
        done.set()

    thread = threading.Thread(target=link)
    thread.start()
    rows = 0
    while not (done.is_set() and rows == 10):
        block = intake.drain()
        assert len(block.readings) <= 4
        rows += len(block.readings)
    thread.join()


def test_a_driver_that_does_not_come_back_holds_up_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """After 5 s and many drains its meter is out, with a word; what it brings later is not taken."""
    seconds = Hand()
    monkeypatch.setattr("benchtui.port.intake.time.monotonic", seconds)
    now = Hand()
    intake = Intake(now)
    slot = intake.slot("A")
    stuck = slot.stamp()
    now.ns = 10**10
    for seconds.ns in range(30):
        block = intake.drain()
    assert block.upto_ns >= 10**10
    slot.clear(_out(stuck, 0))
    assert len(intake.drain().readings) == 0
    with pytest.raises(Abandoned):
        slot.stamp()


def test_a_program_that_was_stopped_abandons_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-Z in the middle of a decoding: one drain after an hour is no reason."""
    seconds = Hand()
    monkeypatch.setattr("benchtui.port.intake.time.monotonic", seconds)
    intake = Intake(Hand())
    slot = intake.slot("A")
    at = slot.stamp()
    seconds.ns = 3600
    intake.drain()
    slot.clear(_out(at, 0))
    assert len(intake.drain().readings) == 1
