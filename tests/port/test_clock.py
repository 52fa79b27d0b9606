"""The session's clock."""

from __future__ import annotations

import sys
import time

import pytest

from benchtui.port.clock import Clock


def test_time_begins_at_nought_and_never_falls() -> None:
    """Nanoseconds since the clock was made."""
    clock = Clock()
    times = [clock.now_ns() for _ in range(1000)]
    assert times == sorted(times)
    assert times[0] >= 0


def test_it_runs_faster_where_asked() -> None:
    """The session's time, not the wall's; what is waited for is in the wall's."""
    raw = iter([1000, 1000 + 2_000_000_000, 1000 + 2_000_000_000])
    clock = Clock(speed=60, source=lambda: next(raw))
    assert clock.now_ns() == 120_000_000_000
    assert clock.seconds_until(180_000_000_000) == 1.0


def test_a_speed_must_be_positive() -> None:
    """Time does not stand still or go back."""
    with pytest.raises(ValueError, match="above 0"):
        Clock(speed=0)


@pytest.mark.skipif(sys.platform != "linux", reason="CLOCK_BOOTTIME is Linux's")
def test_on_linux_it_counts_suspend() -> None:
    """It is the clock that runs through suspend, not the one that stands still."""
    clock = Clock()
    before = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    first = clock.now_ns()
    assert (
        abs((clock.now_ns() - first) - (time.clock_gettime_ns(time.CLOCK_BOOTTIME) - before)) < 1_000_000_000
    )
