"""Times and ages as text: whole seconds, never told too short."""

from __future__ import annotations

import math

from .value import TINY


def clock(seconds: float) -> str:
    """`0:24`, `4:10`, `1:02:03`; whole seconds that have passed."""
    whole = max(int(seconds + TINY), 0)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


def until(seconds: float) -> str:
    """Time to go, rounded up to 5 s, so that it is never told too short."""
    return clock(5 * math.ceil(max(seconds, 0.0) / 5 - TINY))


def soon(seconds: float) -> str:
    """`in 0:40`, or `about now` once the time foreseen is here."""
    return "about now" if seconds <= 0 else f"in {until(seconds)}"


def left(seconds: float) -> str:
    """Time to go to the second, rounded up: for a countdown to a later bound."""
    return clock(math.ceil(max(seconds, 0.0) - TINY))


def is_old(age_s: float | None, period_s: float | None) -> bool:
    """True above 2 s or three of the meter's periods, whichever is more."""
    return age_s is not None and age_s > max(2.0, 3 * (period_s or 0.0))


def age(seconds: float) -> str:
    """`9 s`, `4 min`, `3 h`."""
    if seconds < 120:
        return f"{int(seconds)} s"
    return f"{int(seconds / 60)} min" if seconds < 7200 else f"{int(seconds / 3600)} h"
