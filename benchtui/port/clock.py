"""The session's clock: nanoseconds since it began, running through suspend where the system can."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime


def _best_source() -> Callable[[], int]:
    """A monotonic clock that goes on while the machine sleeps, or the nearest there is.

    Linux: CLOCK_BOOTTIME. macOS: CLOCK_MONOTONIC, which counts sleep there, unlike `time.monotonic`.
    Windows: the performance counter, which counts sleep and is finer than the 16 ms of the tick count.
    """
    if sys.platform == "linux":
        return lambda: time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return lambda: time.clock_gettime_ns(time.CLOCK_MONOTONIC)
    if sys.platform == "win32":
        return time.perf_counter_ns
    return time.monotonic_ns


class Clock:
    """Nanoseconds since the session began. Thread-safe; never falls."""

    def __init__(self, speed: float = 1.0, source: Callable[[], int] | None = None) -> None:
        """`speed` runs the session's time so many times faster than the wall's; `source` gives raw ns."""
        if not speed > 0:
            raise ValueError(f"a clock's speed must be above 0, not {speed}")
        self.speed = speed
        self._source = source or _best_source()
        self._start = self._source()
        self.started = self.wall()

    def now_ns(self) -> int:
        """Nanoseconds of session time since the clock was made."""
        elapsed = self._source() - self._start
        return elapsed if self.speed == 1.0 else int(elapsed * self.speed)

    def seconds_until(self, t_ns: int) -> float:
        """Real seconds until session time `t_ns`; 0 where that is past."""
        return max(0.0, (t_ns - self.now_ns()) / 1e9 / self.speed)

    def wall(self) -> datetime:
        """The time of day, UTC; may jump."""
        return datetime.now(UTC)
