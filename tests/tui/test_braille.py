"""The trace: what was read, joined where it may be, never across a gap."""

from __future__ import annotations

import unicodedata

import numpy as np

from benchtui.model.course import Course
from benchtui.model.units import Unit
from benchtui.tui.draw.braille import trace


def course(values: list[float], gap: list[int] | None = None) -> Course:
    """One value a dot column; `gap` lists the columns of gaps."""
    column = np.array(values)
    hole = np.zeros(len(values), dtype=bool)
    hole[gap or []] = True
    return Course(0, 1, column, column.copy(), hole, Unit.V)


def drawn(values: list[float], rows: int = 1, gap: list[int] | None = None) -> tuple[list[str], list[bool]]:
    """Dots are counted from the top; NaN is no reading."""
    of = course(values, gap)
    made = trace(of, of.high, of.low, rows)
    return ["".join(chr(0x2800 + c) for c in row) for row in made.codes.tolist()], made.gaps.tolist()


def test_a_dot_is_where_the_unicode_standard_has_it() -> None:
    """Names of the Unicode character database (`BRAILLE PATTERN DOTS-...`), which number dots by place:
    1, 2, 3 down the left, 4, 5, 6 down the right, 7 and 8 at the foot. A trace is two dots thick."""
    names = {
        (0.0, 0.0): "DOTS-1245",
        (1.0, 1.0): "DOTS-2356",
        (2.0, 2.0): "DOTS-3678",
    }
    for values, name in names.items():
        (text,), _ = drawn(list(values))
        assert unicodedata.name(text) == f"BRAILLE PATTERN {name}"


def test_a_steep_rise_is_joined() -> None:
    """From the foot to the top of two cells there is no hole in the line."""
    rows, _ = drawn([7.0, 7.0, 0.0, 0.0], rows=2)
    assert all(any(ch != "\u2800" for ch in column) for column in zip(*rows, strict=True))
    assert rows[1][1] != "\u2800"


def test_columns_without_readings_are_bridged() -> None:
    """Between two readings of a slow meter the line goes on."""
    rows, gaps = drawn([1.0, np.nan, np.nan, np.nan, np.nan, 1.0])
    assert rows[0] == chr(0x2800 + 0b110110) * 3
    assert gaps == [False, False, False]


def test_a_gap_is_hatched_and_never_joined_across() -> None:
    """Cells of a gap hold no dot."""
    rows, gaps = drawn([1.0, 1.0, np.nan, np.nan, 1.0, 1.0], gap=[2, 3])
    assert gaps == [False, True, False]
    assert rows[0][1] == "\u2800"


def test_a_gap_shorter_than_a_cell_is_hatched_all_the_same() -> None:
    """However long the stretch that is shown, no gap is hidden."""
    _, gaps = drawn([1.0, 1.0, 1.0, np.nan, 1.0, 1.0], gap=[3])
    assert gaps == [False, True, False]


def test_nothing_is_drawn_before_the_first_and_after_the_last_reading() -> None:
    """The future is empty."""
    rows, gaps = drawn([np.nan, np.nan, 1.0, 1.0, np.nan, np.nan])
    assert rows[0][0] == rows[0][2] == "\u2800"
    assert not any(gaps)


def test_a_drop_within_one_column_is_as_deep_as_its_least_value() -> None:
    """Least and greatest of a column are both drawn."""
    high, low = np.array([0.0, 0.0, 0.0, 0.0]), np.array([0.0, 0.0, 7.0, 0.0])
    of = Course(0, 1, low, high, np.zeros(4, dtype=bool), Unit.V)
    made = trace(of, high, low, 2)
    assert made.codes[1, 1] == 0b1000111 & 0xFF
    assert made.codes[1, 0] == 0
