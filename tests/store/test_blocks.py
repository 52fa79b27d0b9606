"""Packing and cutting of timelines."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.model.notes import Mark
from benchtui.model.readings import Readings
from benchtui.store.blocks import PLAIN, ROW_BYTES, check, cut, gathered, pack, unpack, until, with_notes

from .made import readings, same_readings, steady, timelines


@given(readings(most=60))
def test_what_is_packed_is_unpacked_to_the_last_bit(made: Readings) -> None:
    """Times of any size, NaN, -0.0 and every flag survive."""
    assert same_readings(unpack(PLAIN, len(made), pack(made)), made)


def test_a_packed_reading_is_little_endian_and_28_bytes_long() -> None:
    """The layout is a promise to other programs: columns in order, little-endian."""
    one = Readings.of([0x0102030405060708], 0x0A0B, 1, [1.0], 0.5, 4)
    assert ROW_BYTES == 28
    assert pack(one).hex() == "08070605040302010b0a01000000000000f03f000000000000e03f04"


def test_a_blob_that_was_cut_or_is_of_another_kind_is_refused() -> None:
    """Damage is an error, which the session tells with its file; never readings that nobody took."""
    with pytest.raises(ValueError, match="should hold 84 bytes"):
        unpack(PLAIN, 3, pack(steady(3))[:-1])
    with pytest.raises(ValueError, match="kind 'later'"):
        unpack("later", 3, pack(steady(3)))


@pytest.mark.parametrize(
    ("made", "after_ns", "upto_ns"),
    [
        (Readings.of([5, 4], 0, 1, [1.0, 1.0]), -1, 9),
        (Readings.of([5], 0, 1, [1.0]), 5, 9),
        (Readings.of([5], 0, 1, [1.0]), -1, 4),
        (Readings.of([5], 3, 1, [1.0]), -1, 9),
        (Readings.of([5], -1, 1, [1.0]), -1, 9),
        (Readings.of([5], 0, 99, [1.0]), -1, 9),
    ],
    ids=["falling", "before the last block", "after the end", "no such channel", "below 0", "no such unit"],
)
def test_a_block_that_breaks_the_promises_of_the_timeline_is_refused(
    made: Readings, after_ns: int, upto_ns: int
) -> None:
    """What comes out of a file is checked before a watcher sees it."""
    with pytest.raises(ValueError, match="reading"):
        check(made, 3, after_ns, upto_ns)


@given(timelines(), st.integers(1, 40))
def test_any_cut_of_a_timeline_holds_the_same_readings_and_notes(blocks: list, rows: int) -> None:
    """Joined and cut anew, nothing is lost, doubled or moved, and every block keeps its watermark."""
    whole = Readings.joined([block.readings for block in blocks])
    noted = tuple(note for block in blocks for note in block.notes)
    upto_ns = blocks[-1].upto_ns
    pieces = list(cut(whole, noted, upto_ns, rows))
    assert same_readings(Readings.joined([piece.readings for piece in pieces]), whole)
    assert tuple(note for piece in pieces for note in piece.notes) == noted
    assert pieces[-1].upto_ns == upto_ns
    after = -1
    for piece in pieces:
        assert all(after < t <= piece.upto_ns for t in piece.readings.t_ns)
        assert all(after < note.t_ns <= piece.upto_ns for note in piece.notes)
        after = piece.upto_ns


@given(timelines(), st.integers(1, 100))
def test_gathering_loses_nothing(blocks: list, rows: int) -> None:
    """Small blocks joined into large ones are the same timeline."""
    large = list(gathered(blocks, rows))
    assert same_readings(
        Readings.joined([b.readings for b in large]), Readings.joined([b.readings for b in blocks])
    )
    assert [n for b in large for n in b.notes] == [n for b in blocks for n in b.notes]
    assert large[-1].upto_ns == blocks[-1].upto_ns


@given(timelines(), st.integers(0, 20_000_000_000))
def test_until_knows_nothing_later(blocks: list, end_ns: int) -> None:
    """Readings and notes up to that time, all of them, and no watermark beyond it."""
    known = list(until(blocks, end_ns))
    times = [int(t) for block in blocks for t in block.readings.t_ns]
    assert [int(t) for block in known for t in block.readings.t_ns] == [t for t in times if t <= end_ns]
    notes = [note for block in blocks for note in block.notes]
    assert [note for block in known for note in block.notes] == [n for n in notes if n.t_ns <= end_ns]
    assert known[-1].upto_ns == min(end_ns, blocks[-1].upto_ns)


@given(timelines(), st.lists(st.integers(0, 30_000_000_000), max_size=8))
def test_marks_that_are_added_later_stand_at_their_times(blocks: list, times: list[int]) -> None:
    """Each added mark is in the block that covers its time, after the notes that were there."""
    added = tuple(Mark(t_ns, "note", str(number)) for number, t_ns in enumerate(times))
    joined = list(with_notes(blocks, added))
    notes = [note for block in joined for note in block.notes]
    assert sorted(map(repr, notes)) == sorted(
        map(repr, [*added, *(note for block in blocks for note in block.notes)])
    )
    assert [note.t_ns for note in notes] == sorted(note.t_ns for note in notes)
    after = -1
    for block in joined:
        assert all(after < note.t_ns <= block.upto_ns for note in block.notes if note in added)
        after = block.upto_ns
