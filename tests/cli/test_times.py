"""Times as they are typed on the command line."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchtui.cli.judge_table import clock
from benchtui.cli.times import time_ns
from benchtui.model.errors import BenchError


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("12.5", 12.5),
        ("0", 0),
        ("3:01.5", 181.5),
        ("0:05", 5),
        ("90:00", 5400),
        ("1:02:03", 3723),
        (" 600 ", 600),
    ],
)
def test_seconds_minutes_and_hours_are_read(text: str, seconds: float) -> None:
    """As the program itself prints them."""
    assert time_ns(text, "--until", "a time") == round(seconds * 1e9)


@given(st.integers(0, 360_000_0))
def test_what_is_printed_can_be_typed(tenths: int) -> None:
    """The clock of the table is read back to its last digit."""
    assert time_ns(clock(tenths / 10), "--until", "a time") == tenths * 10**8


@pytest.mark.parametrize(
    "text", ["soon", "", "-1", "1:5", "1:60", "1:75:00", ":30", "1:2:3:4", "1:00.1234567891", "１:00"]
)
def test_what_is_no_time_is_told(text: str) -> None:
    """With the option and how to write it."""
    with pytest.raises(BenchError, match=r"--until .*write a time"):
        time_ns(text, "--until", "a time")
