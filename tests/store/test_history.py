"""The strip charts' memory: the same least and greatest values as from all readings, and no gap joined."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchtui.model.block import Block
from benchtui.model.notes import Lead
from benchtui.model.readings import Channel, Flag, Readings
from benchtui.model.units import Unit
from benchtui.store.blocks import cut
from benchtui.store.history import History

S = 1_000_000_000
CHANNELS = (Channel("a", "a"), Channel("b", "b"), Channel("pilot", "eye", eye=True))


def fed(readings: Readings, notes: tuple[Lead, ...], upto_ns: int, rows: int = 500) -> History:
    """A history that has seen this timeline, block by block."""
    history = History(CHANNELS, {"B+1": Unit.V, "pilot": Unit.STATE})
    for block in cut(readings, notes, upto_ns, rows):
        history.add(block)
    return history


def every(step_ns: int, count: int, start_ns: int = 0) -> np.ndarray:
    return start_ns + step_ns * np.arange(count, dtype=np.int64)


def plain(t_ns: np.ndarray, value: np.ndarray, channel: int = 0) -> Readings:
    return Readings.of(t_ns, channel, int(Unit.V), value, 0.1)


@settings(deadline=None, max_examples=60)
@given(
    st.integers(0, 2**32 - 1), st.integers(1, 4000), st.integers(1, 120), st.floats(0, 1), st.floats(0.001, 1)
)
def test_recent_columns_hold_exactly_the_extremes_of_their_readings(
    seed: int, count: int, columns: int, start: float, width: float
) -> None:
    """For any window over the last minutes, whatever the cut into blocks."""
    made = np.random.default_rng(seed)
    t_ns = np.cumsum(made.integers(1, S // 10, count))
    value = made.normal(285, 3, count)
    end = int(t_ns[-1])
    history = fed(plain(t_ns, value), (Lead(0, 0, "B+1"),), end, rows=int(made.integers(1, 700)))
    start_ns, end_ns = int(start * end), int(start * end + width * min(end, 100 * S)) + columns
    columns = min(columns, max(1, end_ns - start_ns))
    course = history.course("B+1", start_ns, end_ns, columns)
    edges = start_ns + (end_ns - start_ns) * np.arange(columns + 1) // columns
    if edges[1] - edges[0] >= 2 * S:
        return
    for column in range(columns):
        inside = value[(t_ns >= edges[column]) & (t_ns < edges[column + 1])]
        if len(inside):
            assert (course.low[column], course.high[column]) == (inside.min(), inside.max())
        else:
            assert np.isnan(course.low[column])
            assert np.isnan(course.high[column])


def test_hours_later_a_single_low_reading_still_shows() -> None:
    """One reading in four hours at 4 a second is in the column of its time, as low as it was."""
    count = 4 * 3600 * 4
    value = np.full(count, 285.0)
    value[20_001] = 3.5
    history = fed(plain(every(S // 4, count), value), (Lead(0, 0, "B+1"),), count * S // 4, rows=65_536)
    course = history.course("B+1", 0, count * S // 4, 100)
    assert int(np.nanargmin(course.low)) == 20_001 * 100 // count
    assert np.nanmin(course.low) == 3.5
    assert np.nanmax(course.high) == 285.0
    assert not course.gap.any()


def test_a_silence_is_a_gap_and_sparse_readings_are_none() -> None:
    """A meter that reads every 2 s leaves empty columns, not gaps; 30 s of silence is a gap."""
    t_ns = np.concatenate([every(2 * S, 30), every(2 * S, 30, 90 * S)])
    history = fed(plain(t_ns, np.full(60, 285.0)), (Lead(0, 0, "B+1"),), 150 * S)
    course = history.course("B+1", 0, 150 * S, 150)
    empty = np.isnan(course.low)
    assert empty[1]
    assert course.gap[60:89].all()
    assert not course.gap[:57].any()
    assert not course.gap[91:].any()


def test_an_overload_and_a_moved_lead_are_gaps() -> None:
    """A line is never drawn across readings without a value, nor across the time on another point."""
    t_ns = every(S // 2, 120)
    flags = np.where((t_ns >= 20 * S) & (t_ns < 25 * S), int(Flag.OVERLOAD), 0)
    value = np.where(flags, np.nan, 285.0)
    notes = (Lead(0, 0, "B+1"), Lead(40 * S, 0, "B+2"), Lead(45 * S, 0, "B+1"))
    history = fed(Readings.of(t_ns, 0, int(Unit.V), value, 0.1, flags), notes, 60 * S)
    course = history.course("B+1", 0, 60 * S, 60)
    assert np.flatnonzero(course.gap).tolist() == [20, 21, 22, 23, 24, 40, 41, 42, 43, 44]
    other = history.course("B+2", 0, 60 * S, 60)
    assert np.flatnonzero(~np.isnan(other.low)).tolist() == [40, 41, 42, 43, 44]
    assert not other.gap.any()


def test_a_meter_that_fell_silent_shows_a_gap_up_to_now() -> None:
    """The right end of the chart says that nothing comes, though no later reading ends the silence."""
    history = fed(plain(every(S // 2, 20), np.full(20, 285.0)), (Lead(0, 0, "B+1"),), 60 * S)
    course = history.course("B+1", 0, 60 * S, 60)
    assert course.gap[10:].all()
    assert not course.gap[:9].any()


def test_readings_of_another_quantity_are_no_readings_of_the_point() -> None:
    """Ohms on a point of volts are not drawn as volts."""
    t_ns = every(S // 2, 40)
    unit = np.where(t_ns < 10 * S, int(Unit.V), int(Unit.OHM))
    history = fed(Readings.of(t_ns, 0, unit, np.full(40, 285.0), 0.1), (Lead(0, 0, "B+1"),), 20 * S)
    course = history.course("B+1", 0, 20 * S, 20)
    assert np.isnan(course.low[10:]).all()
    assert course.gap[10:].all()
    assert course.unit is Unit.V


def test_an_eye_that_looks_seldom_makes_no_gap() -> None:
    """Nobody is asked to press a key every second."""
    seen = Readings.of([0, 600 * S], 2, int(Unit.STATE), [1.0, 0.0])
    history = fed(seen, (Lead(0, 2, "pilot"),), 700 * S)
    course = history.course("pilot", 0, 700 * S, 70)
    assert course.low[0] == 1.0
    assert course.low[60] == 0.0
    assert not course.gap.any()


@pytest.mark.parametrize("columns", [1, 7, 500])
def test_a_point_that_nothing_is_known_of_is_empty(columns: int) -> None:
    """No readings and no gaps, of the length that was asked for."""
    course = fed(Readings.empty(), (), 10 * S).course("nowhere", 0, 10 * S, columns)
    assert np.isnan(course.low).all()
    assert len(course.low) == len(course.high) == len(course.gap) == columns
    assert not course.gap.any()


def test_two_meters_on_one_point_are_one_course() -> None:
    """Their readings interleave in time, also when they come in one block."""
    t_ns = every(S // 10, 200)
    both = Readings.joined(
        [plain(t_ns, np.full(200, 285.0)), plain(t_ns + 1, np.full(200, 286.0), 1)]
    ).in_order()
    history = fed(both, (Lead(0, 0, "B+1"), Lead(0, 1, "B+1")), 20 * S, rows=10_000)
    course = history.course("B+1", 0, 20 * S, 20)
    assert (course.low == 285.0).all()
    assert (course.high == 286.0).all()


def test_a_long_bench_day_stays_small() -> None:
    """Twenty hours at ten readings a second leave the last minutes whole and some buckets of the rest."""
    history = History(CHANNELS)
    history.add(Block(notes=(Lead(0, 0, "B+1"),)))
    for hour in range(20):
        t_ns = every(S // 10, 36_000, hour * 3600 * S + 1)
        history.add(Block(plain(t_ns, np.full(36_000, float(hour))), (), (hour + 1) * 3600 * S))
    track = history._tracks["B+1"]
    held = len(track._t._array) + sum(len(level.starts._array) for level in track._levels)
    assert held < 250_000
    course = history.course("B+1", 0, 20 * 3600 * S, 20)
    assert course.low.tolist() == [float(hour) for hour in range(20)]
